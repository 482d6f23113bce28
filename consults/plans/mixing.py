"""How the feed is mixed, for the card that hangs at the reservoir: aims, doses, and what the bench said."""

from collections.abc import Iterable
from typing import Any

from django.utils import timezone

from consults.cases.describe import spoken_date
from consults.cases.facts import Facts
from consults.models import BenchAnswer
from consults.plans.quantities.salts import water_ec
from garden.agronomy.units import to_base
from garden.bench.forms import ToolForm
from garden.bench.label_rows import read_rows
from garden.bench.said import small_volume, small_weight
from garden.bench.tool import Refused, Tool, Values, answer_json, word, work_out
from garden.bench.tools import all_tools
from garden.choices import Units
from garden.reference.schema import text
from garden.wording import Wording

_AIMS = ("feed_ec_ms_cm", "feed_ph", "root_zone_temp_c")
_DOSES = ("feed-recipe", "feed-label")  # questions whose answer is what to pour
_SAID = (
    "water-blend",
    "feed-tank",
    "water-acid",
)  # answers that are quoted as they were given, in this order
CAUTIONS = ("fertiliser-label", "acid", "electricity-water")
"""Cautions of the rules that go with every mixing."""


def mixing_of(
    facts: Facts, answers: Iterable[BenchAnswer], wording: Wording, language: str
) -> dict[str, Any]:
    """What the card says, as plain data. Of the answers kept in the case the newest of each kind counts."""
    newest = {answer.tool: answer for answer in sorted(answers, key=lambda answer: answer.pk)}
    tank_l = facts.case.planting.reservoir_l
    return {
        "aims": _aims(facts, wording, language),
        "round": wording.volume(_round_l(wording)),
        "tank": wording.volume(tank_l) if tank_l else "",
        "recirculating": facts.recirculating,
        **(_from_bench(newest, wording, tank_l) or _from_garden(facts, wording, tank_l)),
        "answers": [
            {
                "question": answer.question,
                "headline": answer.answer["headline"],
                "facts": answer.answer["facts"] if tool == "feed-tank" else [],
                "cautions": answer.answer["cautions"],
            }
            for tool in _SAID
            if (answer := newest.get(tool))
        ],
    }


def _round_l(wording: Wording) -> float:
    """The volume people dose by: 10 litres, or a US gallon."""
    return to_base(1.0, "US gal") if wording.system == "us" else 10.0


def _aims(facts: Facts, wording: Wording, language: str) -> list[dict[str, str]]:
    aims = []
    for code in _AIMS:
        band, definition = facts.band(code), facts.reference.readings[code]
        if band is None:
            continue
        low, high = (
            wording.reading(edge, definition.unit, definition.decimals) for edge in (band.low, band.high)
        )
        unit = "" if low[2] == "pH" else low[2]
        aims.append(
            {
                "code": code,
                "name": text(definition.name, language),
                "low": low[1],
                "high": high[1],
                "unit": unit,
            }
        )
    return aims


# --- doses ----------------------------------------------------------------------------------------
def _from_bench(
    newest: dict[str, BenchAnswer], wording: Wording, tank_l: float | None
) -> dict[str, Any] | None:
    """The doses of the newest answer that has some; None when there is none, or it cannot be said anew."""
    kept = [newest[tool] for tool in _DOSES if tool in newest]
    for answer in sorted(kept, key=lambda answer: -answer.pk):
        tool = all_tools()[answer.tool]
        values = _values_of(tool, answer, wording)
        doses = _doses(tool, values, wording, tank_l) if values else None
        if doses:
            day = spoken_date(timezone.localdate(answer.kept_at))
            return {"doses": doses, "doses_from": "bench", "doses_on": day, "thinned": False}
    return None


def _values_of(tool: Tool, answer: BenchAnswer, wording: Wording) -> Values | None:
    """What the answer was worked out from. The units typed in were not kept: those that give it again."""
    for system in Units.values:
        form = ToolForm(tool, sent=answer.inputs, known={}, system=system)
        if not form.is_valid():
            continue
        try:
            said = answer_json(work_out(tool, form.values(), wording))
        except Refused:
            continue
        if all(said[part] == answer.answer.get(part) for part in ("headline", "facts")):
            return form.values()
    return None


def _doses(tool: Tool, values: Values, wording: Wording, tank_l: float | None) -> list[dict[str, str]] | None:
    rows = read_rows(word(values, "products"), "products", doses=False)
    volumes = {"round": _round_l(wording), "tank": tank_l}

    def amounts(litres: float) -> list[str]:
        if tool.code == "feed-recipe":
            # Worked out anew: a scoop or a syringe has steps, so a tank is not so many times ten litres.
            return [said for _name, said in work_out(tool, {**values, "volume_l": litres}, wording).facts]
        small = {"mL": small_volume, "g": small_weight}
        return [small[row.product.unit](wording, (row.dose_per_l or 0.0) * litres) for row in rows]

    try:
        columns = {name: amounts(litres) if litres else [""] * len(rows) for name, litres in volumes.items()}
    except Refused:
        return None
    return [
        {"name": row.name, "round": columns["round"][at], "tank": columns["tank"][at]}
        for at, row in enumerate(rows)
    ]


def _from_garden(facts: Facts, wording: Wording, tank_l: float | None) -> dict[str, Any]:
    """What the grower adds now; less of it where the feed was measured too strong.

    The strength falls with the dose (EC taken as adding up, within about 2 %). A dose that is too low is the
    safe side: more is added by the meter.
    """
    share = _thinner(facts)

    def amount(ml_per_l: float | None, litres: float | None) -> str:
        return small_volume(wording, ml_per_l * share * litres) if ml_per_l and litres else ""

    doses = [
        {
            "name": feed.product,
            "round": amount(feed.ml_per_l, _round_l(wording)),
            "tank": amount(feed.ml_per_l, tank_l),
        }
        for feed in facts.case.garden.feed
    ]
    known = any(dose["round"] for dose in doses)
    return {
        "doses": doses,
        "doses_from": "garden" if known else "",
        "doses_on": "",
        "thinned": known and share < 1,
    }


def _thinner(facts: Facts) -> float:
    now, band, water = facts.value("feed_ec_ms_cm"), facts.band("feed_ec_ms_cm"), water_ec(facts)
    if now is None or band is None or now <= band.high or band.low <= water:
        return 1.0
    return (band.low + band.high - 2 * water) / (2 * (now - water))
