"""A small invented rule set as plain entries, to be bent by the tests. Its numbers mean nothing."""

import copy
import json

import yaml

SOURCE = "common practice, no source"


def _text(words):
    return {"en": words}


def _finding(code, **changes):
    entry = {
        "code": code,
        "name": _text(code),
        "part": "leaf",
        "leaf_age": "old",
        "distribution": _text("lower half"),
        "definition": _text("look closely"),
        "plain": _text("it looks odd"),
        "synonyms": ["odd leaves"],
        "leak": 0.03,
        "check": "glance",
        "minutes": 1,
        "source": SOURCE,
    }
    return {**entry, **changes}


def _action(code, **changes):
    entry = {
        "code": code,
        "when": "today",
        "text": _text("Wait until the pot is light."),
        "why": _text("Roots need air."),
        "cautions": ["wet-floor"],
        "stop_when": _text("Stop when it wilts."),
    }
    return {**entry, **changes}


def _cause(code, **changes):
    entry = {
        "code": code,
        "name": _text(code),
        "group": "watering",
        "definition": _text("too much"),
        "prior": "common",
        "findings": [{"finding": "limp", "strength": "often", "source": "book-one"}],
        "urgency": 2,
        "contagious": False,
        "laboratory": None,
        "wrong_cost": _text("A few dry days."),
        "better": {"text": _text("New leaves are green."), "days": 7},
        "look_again_days": 3,
        "actions": [_action(f"do-{code}")],
    }
    return {**entry, **changes}


_ENTRIES = {
    "findings": [_finding("limp"), _finding("pale"), _finding("unused")],
    "practices": [
        {"code": "waters-daily", "name": _text("Daily"), "definition": _text("every day"), "source": SOURCE}
    ],
    "conditions": [
        {
            "code": "ph-high",
            "name": _text("pH high"),
            "reading": "root_zone_ph",
            "above": "high",
            "by": 0.5,
            "source": SOURCE,
        }
    ],
    "cautions": [{"code": "wet-floor", "text": _text("Mind the floor."), "source": SOURCE}],
    "sources": [
        {
            "id": "book-one",
            "title": "An invented title",
            "authors": "A. Nobody",
            "publisher": "None",
            "status": "memory",
        }
    ],
    "causes": [
        _cause(
            "flood",
            readings=[{"condition": "ph-high", "if_true": 4, "if_false": 0.5, "source": SOURCE}],
            practices=[{"practice": "waters-daily", "if_true": 3, "source": SOURCE}],
            prior_factors=[{"systems": ["hand-watered-pot"], "factor": 1.5, "source": SOURCE}],
            aliases=["wet-feet"],
        ),
        _cause("drought", prior="rare", actions=[_action("water", opposes=["do-flood"])]),
    ],
}


def entries():
    """Return a fresh copy of all entries, by table."""
    return copy.deepcopy(_ENTRIES)


def _yaml(value):
    return yaml.safe_dump(json.loads(json.dumps(value)))  # a copy shares nothing, so no aliases are written


def write(folder, tables):
    """Write `tables` as the files of a rule set into `folder`, and return the folder."""
    (folder / "causes").mkdir(exist_ok=True)
    for name, values in tables.items():
        if name == "causes":
            for cause in values:
                (folder / "causes" / f"{cause['code']}.yaml").write_text(_yaml(cause))
        else:
            (folder / f"{name}.yaml").write_text(_yaml(values))
    return folder
