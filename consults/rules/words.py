"""The vocabulary of the rules in people's words, each with what it means in numbers."""

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.rules.selectors import GROUPS, PRIOR_WORDS, STATUS_WORDS, STRENGTH_WORDS
from consults.ruleset.schema import PRIORS, STRENGTHS, PriorWord, StrengthWord
from garden.reference.schema import NO_SOURCE

__all__ = ["GROUPS", "STATUS_WORDS", "STRENGTH_WORDS"]

TABLES: dict[str, Promise] = {
    "causes": gettext_lazy("Causes"),
    "findings": gettext_lazy("Findings"),
    "practices": gettext_lazy("Practices"),
    "conditions": gettext_lazy("Reading conditions"),
    "sources": gettext_lazy("Sources"),
}
ONE_OF: dict[str, Promise] = {
    "causes": gettext_lazy("Cause"),
    "findings": gettext_lazy("Finding"),
    "practices": gettext_lazy("Practice"),
    "conditions": gettext_lazy("Reading condition"),
    "cautions": gettext_lazy("Caution"),
    "sources": gettext_lazy("Source"),
}
PART_NAMES: dict[str, Promise] = {
    "findings": gettext_lazy("What it shows"),
    "readings": gettext_lazy("Readings that speak for or against it"),
    "practices": gettext_lazy("Habits that lead to it"),
    "prior_factors": gettext_lazy("Where it is more or less common"),
    "actions": gettext_lazy("What to do about it"),
}
ONE_LINE: dict[str, Promise] = {
    "findings": gettext_lazy("Finding"),
    "readings": gettext_lazy("Reading"),
    "practices": gettext_lazy("Practice"),
    "prior_factors": gettext_lazy("Context"),
    "actions": gettext_lazy("Action"),
}
URGENCY: dict[int, Promise] = {
    0: gettext_lazy("nothing needs to be done"),
    1: gettext_lazy("can wait some days"),
    2: gettext_lazy("within a day or two"),
    3: gettext_lazy("needs action today"),
}
PLANT_PARTS: dict[str, Promise] = {
    "leaf": gettext_lazy("leaf"),
    "stem": gettext_lazy("stem"),
    "root": gettext_lazy("root"),
    "flower": gettext_lazy("flower"),
    "fruit": gettext_lazy("fruit"),
    "whole": gettext_lazy("whole plant"),
    "medium": gettext_lazy("medium and surface"),
    "seedling": gettext_lazy("seedling"),
    "cutting": gettext_lazy("cutting"),
    "room": gettext_lazy("pattern in the room"),
    "solution": gettext_lazy("solution"),
}
LEAF_AGES: dict[str, Promise] = {
    "old": gettext_lazy("old, lower leaves"),
    "mid": gettext_lazy("leaves in the middle"),
    "young": gettext_lazy("young, top leaves"),
    "any": gettext_lazy("leaves of any age"),
}
CHECKS: dict[str, Promise] = {
    "glance": gettext_lazy("by looking"),
    "hand-lens": gettext_lazy("with a hand lens"),
    "lift-pot": gettext_lazy("by lifting the pot"),
    "roots": gettext_lazy("by looking at the roots"),
    "meter": gettext_lazy("with a meter"),
    "laboratory": gettext_lazy("by a laboratory"),
}
TIMES: dict[str, Promise] = {
    "today": gettext_lazy("today"),
    "this-week": gettext_lazy("this week"),
    "later": gettext_lazy("later"),
}
EDGES: dict[str, Promise] = {
    "above.high": gettext_lazy("above the comfortable band"),
    "above.wide_high": gettext_lazy("above what the crop tolerates"),
    "below.low": gettext_lazy("below the comfortable band"),
    "below.wide_low": gettext_lazy("below what the crop tolerates"),
    "above_value": gettext_lazy("above a number"),
    "below_value": gettext_lazy("below a number"),
    "above.low": gettext_lazy("above the lower end of the comfortable band"),
    "above.wide_low": gettext_lazy("above the lowest value tolerated"),
    "below.high": gettext_lazy("below the upper end of the comfortable band"),
    "below.wide_high": gettext_lazy("below the highest value tolerated"),
}


def strength_explained(word: StrengthWord) -> str:
    """ "often: about 7 in 10 plants with this cause show it"."""
    return _("%(word)s: about %(n)d in 10 plants with this cause show it") % {
        "word": STRENGTH_WORDS[word],
        "n": max(1, round(STRENGTHS[word] * 10)),
    }


def prior_explained(word: PriorWord) -> str:
    """ "common: about 80 in 1,000 cases, before anything is known"."""
    return _("%(word)s: about %(n)d in 1,000 cases, before anything is known of them") % {
        "word": PRIOR_WORDS[word],
        "n": round(PRIORS[word] * 1000),
    }


def factor_said(factor: float) -> str:
    """What an odds factor does, in words: "4 times as likely", "half as likely", "no difference"."""
    if factor == 1:
        return _("makes no difference")
    if factor > 1:
        return _("odds times %(factor)s") % {"factor": f"{factor:g}"}
    return _("odds divided by %(factor)s") % {"factor": f"{1 / factor:.2g}"}


def source_said(code: str, sources: dict[str, str]) -> str:
    """A source as it is cited in a line; the code of one that is not there."""
    return _("common practice, no source") if code == NO_SOURCE else sources.get(code, code)
