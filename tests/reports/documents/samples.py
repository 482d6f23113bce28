"""Plan snapshots for the tests. Shops, people and gardens are invented."""

import copy
import io
from typing import Any

from PIL import Image, ImageDraw

_EDGES = ("low", "high", "wide_low", "wide_high")

ACID = (
    "Acid for lowering pH burns skin and eyes: wear gloves and glasses, pour acid into water, "
    "never water into acid."
)
PLUG = "Switch the lamp off at the plug before you move it, and keep water away from plugs."

TYPICAL: dict[str, Any] = {
    "plan_snapshot": 1,
    "language": "en",
    "shop": {
        "name": "Fernhollow Growing Supply",
        "address": "14 Canal Row\nLower Eddingham",
        "phone": "01632 960 145",
        "email": "desk@fernhollow.example",
        "opening_hours": "Tuesday to Saturday, 10 to 6",
        "paper": "A4",
    },
    "grower": {"name": "Ana Lindqvist"},
    "case": {
        "number": 128,
        "opened_on": "12 March 2026",
        "crop": "Pepper",
        "stage": "Vegetative growth",
        "system": "Pots watered by hand",
        "medium": "Peat and perlite",
        "garden": "Tent 1.5 × 0.9 × 1.9 m, one white LED lamp at 0.4 m for 16 hours, tap water",
        "story": "They stopped growing a week ago and look sad even though I water every single day. "
        "The lower leaves go pale and the pot is heavy.",
        "onset_days": 9,
    },
    "plan": {
        "version": 2,
        "date": "14 March 2026",
        "by": "Mia Okafor",
        "greeting": "Dear Ana, thank you for bringing the leaves in. Peppers get over this well.",
        "look_again_on": "17 March 2026",
        "draft": False,
        "supersedes": 1,
    },
    "seen": [
        {"code": "wilting-medium-moist", "text": "The plant hangs although the pot is wet"},
        {"code": "yellowing-lower", "text": "The lower leaves turn evenly pale"},
        {"code": "slow-growth", "text": "New leaves come slowly and stay small"},
        {"code": "algae", "text": "The surface of the pot is green"},
    ],
    "not_seen": [
        {"code": "webbing", "text": "No fine webs under the leaves"},
        {"code": "leaf-spots", "text": "No spots on the leaves"},
    ],
    "practices": [{"code": "waters-daily", "text": "You water every day, whether the pot is light or not"}],
    "readings": [],
    "causes": [
        {
            "code": "overwatering", "name": "Overwatering",
            "word": "likely", "chance": "7 in 10", "in_ten": 7, "probability": 0.71,
            "definition": "The roots stand in wet medium for so long that they cannot breathe.",
            "for": ["The plant hangs although the pot is wet.", "You water every day.",
                    "The surface of the pot is green."],
            "against": ["The dissolved oxygen you measured is not very low."],
            "wrong_cost": "if the pots were dry after all, waiting a day more would make them hang further. "
            "Lift a pot first: a light one gets water.",
            "laboratory": "",
        },
        {
            "code": "high-root-zone-ph", "name": "Root-zone pH too high",
            "word": "possible", "chance": "4 in 10", "in_ten": 4, "probability": 0.38,
            "definition": "Above its band the plant cannot take up iron, though it is there.",
            "for": ["Root-zone pH is 7.4, above the 5.5 to 6.3 peppers like."], "against": [],
            "wrong_cost": "a lower pH than needed costs little for a week.",
            "laboratory": "A leaf analysis of young leaves tells iron from manganese.",
        },
    ],
    "other_causes": [
        {"name": "Nitrogen deficiency", "word": "unlikely", "chance": "1 in 10", "in_ten": 1},
        {"name": "Root rot", "word": "unlikely", "chance": "less than 1 in 10", "in_ten": 0},
    ],
    "enough_to_tell": True,
    "fit": "fits",
    "next_checks": [
        {"name": "Look at the roots", "how": "Tip one plant out of its pot. Healthy roots are white and "
         "smell of earth; brown, soft ones that smell foul mean the roots are dying.", "minutes": 5.0},
    ],
    "actions": [
        {"when": "today", "text": "Stop watering until the pot feels light.",
         "quantity": "every 4 days, 1.2 litres for each pot",
         "why": "Roots need air as much as water; a drying pot draws air in.",
         "stop_when": "The plants hang and the pots are light: water at once and call us.", "buys": False,
         "cautions": []},
        {"when": "today", "text": "Lower the pH of the next feed.",
         "quantity": "pH 5.8, measured after mixing",
         "why": "The root zone follows the feed within a week or two.",
         "stop_when": "Runoff falls below pH 5.2.", "buys": True,
         "cautions": [ACID]},
        {"when": "today", "text": "Empty the saucers under the pots.", "quantity": "",
         "why": "Standing water climbs back into the pot.", "stop_when": "", "buys": False,
         "cautions": []},
        {"when": "this-week", "text": "Raise the lamp.", "quantity": "to 0.55 metres above the leaves",
         "why": "A plant with tired roots cannot use so much light.", "stop_when": "", "buys": False,
         "cautions": [PLUG]},
        {"when": "later", "text": "Repot into a mix with more perlite.",
         "quantity": "1 part perlite to 2 parts peat",
         "why": "It holds more air after watering.", "stop_when": "", "buys": True,
         "cautions": []},
    ],
    "workings": [
        {"title": "How often to water", "shown": "every 4 days",
         "lines": ["Pot 7.5 L × available water 0.24 = 1.8 L; two thirds of it may go first: 1.2 L.",
                   "Use about 0.3 L a day at a vapour pressure deficit of 1.1 kPa: 1.2 / 0.3 = 4 days."],
         "source": "common practice, no source", "estimate": True},
        {"title": "Vapour pressure deficit", "shown": "1.96 kPa",
         "lines": ["Saturation at 27 °C: 3.57 kPa; at 45 % humidity 1.61 kPa is there; the rest is missing."],
         "source": "FAO Irrigation and Drainage Paper 56, equation 11 (from memory)", "estimate": False},
    ],
    "cautions": [ACID, PLUG],
    "better": [
        {"text": "New leaves stand up in the morning and the pots lose weight from day to day.", "days": 7,
         "by": "21 March 2026"},
    ],
    "photos": [],
    "ruleset": "0a1b2c3d4e5f",
}  # fmt: skip


def _reading(
    code: str, name: str, shown: str, unit: str, edges: tuple[float, ...], verdict: str
) -> dict[str, Any]:
    return {
        "code": code, "name": name, "shown": shown, "unit": unit, "value": float(shown),
        **(dict(zip(_EDGES, edges, strict=True)) if edges else dict.fromkeys(_EDGES)),
        "band_shown": f"{edges[0]:g} to {edges[1]:g}" if edges else "",
        "verdict": verdict, "origin": "measured",
    }  # fmt: skip


TYPICAL["readings"] = [
    _reading("root_zone_ph", "Root-zone pH", "7.4", "pH", (5.5, 6.3, 5.1, 6.9), "above"),
    _reading("feed_ec_ms_cm", "Feed EC", "1.8", "mS/cm", (1.2, 2.0, 0.8, 2.6), "inside"),
    _reading("air_temp_c", "Air temperature by day", "27", "°C", (21, 28, 17, 32), "inside"),
    _reading("rh_percent", "Relative humidity by day", "45", "%", (55, 75, 40, 85), "below"),
    _reading("water_sodium_mg_l", "Sodium in the water", "12", "mg/L", (), "no-band"),
    {
        **_reading(
            "vpd_kpa",
            "Vapour pressure deficit of the air (VPD)",
            "1.96",
            "kPa",
            (0.6, 1.3, 0.3, 1.8),
            "above",
        ),
        "origin": "computed",
    },
]


MIXING: dict[str, Any] = {
    "aims": [
        {"code": "feed_ec_ms_cm", "name": "Feed EC", "low": "1.20", "high": "2.00", "unit": "mS/cm"},
        {"code": "feed_ph", "name": "Feed pH", "low": "5.5", "high": "6.3", "unit": ""},
        {"code": "root_zone_temp_c", "name": "Root-zone warmth", "low": "18", "high": "22", "unit": "°C"},
    ],
    "round": "10 litres",
    "tank": "40 litres",
    "recirculating": False,
    "doses": [
        {"name": "Grow A", "round": "20 mL", "tank": "80 mL"},
        {"name": "Grow B", "round": "20 mL", "tank": "80 mL"},
    ],
    "doses_from": "bench",
    "doses_on": "14 March 2026",
    "thinned": False,
    "answers": [
        {
            "question": "How much acid?",
            "headline": "3.2 mL of phosphoric acid, 85 % for 40 litres, in small steps",
            "facts": [],
            "cautions": ["Pour acid into water, never water into acid.", "Never let acid meet bleach."],
        },
    ],
    "cautions": [ACID, "Measure fertiliser by its label, never by eye."],
}  # fmt: skip


def with_card() -> dict[str, Any]:
    """A plan whose snapshot says how the feed is mixed."""
    made = typical()
    made["mixing"] = copy.deepcopy(MIXING)
    codes = ("watering-interval", "ph-target", "", "lamp-height", "")
    for action, code in zip(made["actions"], codes, strict=True):
        action["quantity_code"] = code
    return made


def typical() -> dict[str, Any]:
    return copy.deepcopy(TYPICAL)


def unsure() -> dict[str, Any]:
    made = typical()
    made.update(
        enough_to_tell=False, fit="unusual", actions=[], causes=[], cautions=[], better=[], workings=[]
    )
    return made


_SIGNS = [
    ("The pots get lighter from day to day.", "18 March 2026", "The plants hang and the pots are light."),
    ("Runoff reads below pH 6.5.", "21 March 2026", "Runoff falls below pH 5.2."),
    ("No water stands under the pots.", "15 March 2026", "If it gets worse, stop and call us."),
    ("New leaves stay flat.", "24 March 2026", "If new leaves turn pale, lower it again and call us."),
    ("The new mix feels light after three days.", "", "If it gets worse, stop and call us."),
]
_DO_AGAIN = "Lift a pot; water only when it feels light."
_MEASURE = "Measure the pH of the runoff."
_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_SHELF = {
    "name": "Perlite, coarse",
    "pack": "10\xa0L",
    "price": "12.50\xa0EUR",
    "in_stock": True,
    "note": "Aisle 2",
}


def _days_item(kind: str, said: str, line: int | None = None) -> dict[str, Any]:
    return {"kind": kind, "text": said, "amount": "", "line": line}


def _day(number: int, actions: list[dict[str, Any]]) -> dict[str, Any]:
    begins = {"today": 1, "this-week": 4}
    items = [
        _days_item("do", action["text"], line)
        for line, action in enumerate(actions)
        if begins.get(action["when"]) == number
    ]
    items += [_days_item("again", _DO_AGAIN, 0)] if number > 1 else []
    items += [_days_item("again", _MEASURE, 1)] if number in (5, 9, 13) else []
    items += [_days_item("look", "We look again together, on 17 March 2026.")] if number == 4 else []
    items += [_days_item("sign", _SIGNS[0][0], 0)] if number == 5 else []
    items += [_days_item("better", "New leaves stand up in the morning.")] if number == 8 else []
    return {
        "day": number,
        "date": f"2026-03-{13 + number}",
        "weekday": _WEEKDAYS[(4 + number) % 7],
        "shown": f"{13 + number} March",
        "items": items,
    }


def _wanted(name: str, line: int, **more: Any) -> dict[str, Any]:
    return {
        "need": "x", "name": name, "for": [], "lines": [line], "must": True, "amount": "", "item": None,
        "packs": 0, "cost": "", "also": [], "instead": [], **more,
    }  # fmt: skip


def with_days(made: dict[str, Any] | None = None) -> dict[str, Any]:
    """A plan as it is issued now: its steps say how to know they worked, it has a calendar and a list."""
    made = made or typical()
    actions = made["actions"]
    for line, action in enumerate(actions):
        worked, by, stop = _SIGNS[line % 5]
        action |= {"worked": worked, "worked_by": by, "stop": stop, "waits_for": ""}
    actions[3]["waits_for"] = actions[1]["text"]
    made["calendar"] = {
        "start": "2026-03-14",
        "days": [_day(number, actions) for number in range(1, 15)],
        "after": [
            _days_item("do", action["text"], line)
            for line, action in enumerate(actions)
            if action["when"] == "later"
        ],
    }
    made["shopping"] = {
        "currency": "EUR",
        "lines": [
            _wanted("coarse perlite", 4, item=_SHELF, amount="8 litres", packs=1, cost="12.50\xa0EUR"),
            _wanted("pH-down acid", 1, instead=[
                {"text": "Use collected rain water.", "in_plan": False},
                {"text": actions[0]["text"], "in_plan": True},
            ]),
            _wanted("gloves and goggles", 1, must=False, instead=[
                {"text": "Leave the acid to us.", "in_plan": False},
            ]),
        ],
        "total": "12.50\xa0EUR", "unpriced": 1, "total_all": "12.50\xa0EUR", "unpriced_all": 2,
    }  # fmt: skip
    return made


def bare() -> dict[str, Any]:
    """Everything that may be empty is."""
    made: dict[str, Any] = {key: [] if isinstance(value, list) else value for key, value in typical().items()}
    for part in ("shop", "grower", "case", "plan"):
        made[part] = {key: "" if isinstance(value, str) else value for key, value in made[part].items()}
    made["shop"]["paper"] = "A4"
    made["case"]["onset_days"] = made["plan"]["supersedes"] = None
    return made


def many_actions(count: int = 40) -> dict[str, Any]:
    made = typical()
    first = made["actions"]
    made["actions"] = [
        {**first[index % 5], "text": f"Step {index + 1}: {first[index % 5]['text']}"}
        for index in range(count)
    ]
    return made


def before_cautions_stood_at_steps() -> dict[str, Any]:
    """A plan as issued earlier: its actions know no cautions, the plan as a whole does."""
    made = many_actions(12)
    for action in made["actions"]:
        del action["cautions"]
    return made


def photo(number: int) -> bytes:
    """A drawn leaf, wide for odd numbers and tall for even ones."""
    size = (1200, 900) if number % 2 else (900, 1200)
    picture = Image.new("RGB", size, (238, 232, 218))
    ImageDraw.Draw(picture).ellipse(
        (200, 200, size[0] - 200, size[1] - 200), fill=(70, 110 + number % 40, 60)
    )
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=80)
    return out.getvalue()


def with_photos(count: int) -> dict[str, Any]:
    made = typical()
    made["photos"] = [
        {
            "id": number,
            "caption": f"Leaf {number} from above" if number % 3 else "",
            "width": 1200,
            "height": 900,
        }
        for number in range(1, count + 1)
    ]
    return made


NASTY = '<script>alert(1)</script><img src="http://127.0.0.1:1/x"> & "quotes" \x00'


def hostile() -> dict[str, Any]:
    """Markup, right-to-left, East Asian letters, emoji and endless words in every place."""
    made = typical()
    made["shop"]["name"] = "<b>Fernhollow</b> & Söhne"
    made["grower"]["name"] = "ליאור نور 王小明 🌱 <i>"
    made["plan"]["by"] = "נועה <script>"
    made["plan"]["greeting"] = NASTY
    made["case"]["story"] = NASTY + " " + "endless" * 60
    made["case"]["crop"] = "</title><h1>Pepper"
    made["seen"].append({"code": "x", "text": "x" * 300})
    made["actions"][0]["text"] = "Unbroken" * 30
    made["actions"][1]["quantity"] = "9" * 120 + " litres"
    made["actions"][2]["why"] = "مرحبا بالعالم 日本語のテキスト " * 8
    made["readings"][0]["name"] = "<svg onload=x>" + "Name" * 40
    made["readings"][1]["unit"] = "unit" * 40
    made["causes"][0]["name"] = NASTY
    made["causes"][0]["word"] = "<u>likely</u>"
    made["workings"][0]["source"] = "source" * 80
    made["cautions"].append(NASTY)
    return made


# --- the hand-out and the summary ----------------------------------------------------------------------
def handout() -> dict[str, Any]:
    return {
        "language": "en",
        "shop": copy.deepcopy(TYPICAL["shop"]),
        "number": 41,
        "words": "How do I bring the pH of my tank down? It says 7.2 and the strip is green.",
        "answer": "Small steps, and only after the feed is in.\n\n"
        "1. Mix the feed and stir.\n2. Measure the pH.\n3. Add half of the acid you think it needs.\n"
        "4. Stir, wait ten minutes, measure again.\n\n"
        "You need:\n- a meter or drops\n- a syringe\n- gloves and glasses\n\n"
        "Caution: keep the bottle away from children.\n"
        "It climbs back within a day or two; that is the water, not a mistake of yours.",
        "date": "14 March 2026",
        "cautions": [ACID],
    }


def long_handout() -> dict[str, Any]:
    """As long as the desk lets a question and its answer be."""
    words = "Why do the leaves of my plants turn yellow from below although I feed them? "
    sentence = "Look at the old leaves first and then at the young ones, and tell us which began. "
    return {
        **handout(),
        "words": (words * 60)[:4000],
        "answer": "\n\n".join([(sentence * 6).strip()] * 8)[:4000],
    }


SUMMARY: dict[str, Any] = {
    "language": "en",
    "shop": TYPICAL["shop"],
    "grower": {"name": "Ana Lindqvist"},
    "case": {
        "number": 128,
        "status": "closed",
        "crop": "Pepper",
        "opened_on": "12 March 2026",
        "story": TYPICAL["case"]["story"],
        "onset_days": 9,
        "notes": "Came in with two leaves. Pot weighed on our scale: 2.9 kg.",
    },
    "who": [
        ["Grower", "Ana Lindqvist"], ["Phone", "01632 960 777"], ["Opened", "12 March 2026, Mia Okafor"],
        ["Began with the question", "Why do they hang?"],
    ],
    "facts": [
        ["Crop", "Pepper, vegetative growth, pot watered by hand, peat and perlite"],
        ["Container", "7.5 litres"], ["Watering", "every day, 1 litre"],
    ],
    "checks": [
        {"text": "the plant hangs although the pot is wet", "present": True, "on": "12 March 2026",
         "by": "Mia Okafor"},
        {"text": "fine webs under the leaves", "present": False, "on": "12 March 2026", "by": "Mia Okafor"},
        {"text": "the surface of the pot is green", "present": True, "on": "13 March 2026", "by": ""},
    ],
    "practices": ["watered every day, whether the pot is light or not"],
    "open_checks": ["roots brown and soft"],
    "readings": TYPICAL["readings"],
    "taken": ["12 March 2026", "13 March 2026"],
    "causes": TYPICAL["causes"],
    "other_causes": TYPICAL["other_causes"],
    "enough_to_tell": True,
    "fit": "fits",
    "answers": [
        {"question": "How often should I water?", "headline": "every 4 days", "on": "13 March 2026",
         "by": "Mia Okafor"},
    ],
    "plans": [
        {"version": 1, "on": "12 March 2026", "by": "Mia Okafor", "causes": ["Overwatering"],
         "actions": [{"text": "Stop watering until the pot feels light.", "quantity": "every 4 days"}],
         "hash": "0123456789abcdef"},
        {"version": 2, "on": "", "by": "Mia Okafor", "causes": [],
         "actions": [{"text": "Raise the lamp.", "quantity": ""}], "hash": ""},
    ],
    "looks": [
        {"due_on": "17 March 2026", "done_on": "18 March 2026", "by": "Jo Hart", "progress": "better",
         "note": "New leaves stand up.\nPots lose weight."},
        {"due_on": "24 March 2026", "done_on": "", "by": "", "progress": "", "note": ""},
    ],
    "confirmed": {"cause": "Overwatering", "how": "seen", "on": "25 March 2026", "by": "Mia Okafor"},
    "photos": [],
    "ruleset": "0a1b2c3d4e5f",
    "made": {"by": "Jo Hart", "on": "26 March 2026"},
}  # fmt: skip


def summary(photos: int = 0) -> dict[str, Any]:
    made = copy.deepcopy(SUMMARY)
    made["photos"] = with_photos(photos)["photos"]
    return made


def bare_summary() -> dict[str, Any]:
    """A case that was only opened."""
    made: dict[str, Any] = {key: [] if isinstance(value, list) else value for key, value in SUMMARY.items()}
    for part in ("shop", "grower", "case", "made"):
        made[part] = {key: "" if isinstance(value, str) else value for key, value in made[part].items()}
    made["case"]["onset_days"] = made["confirmed"] = None
    return made
