"""What lies behind the ranking of a case, in words: what tells rivals apart, what would change what to do."""

from dataclasses import dataclass

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from consults.cases.checks import POSITIVE, SEEN, Step
from consults.cases.insight import Insight, LookAlike, Separator, Turn, look_deeper
from consults.cases.meters import NONE_TRUE, REPORTED
from consults.cases.rows import casefile_from_rows
from consults.cases.selectors import cause_name
from consults.models import Case
from consults.rules.selectors import ruleset_current
from consults.ruleset.conditions import ONSET
from consults.ruleset.loader import Ruleset
from garden.reference.loader import load_reference
from garden.reference.schema import text

CHECKS, TURNS, UNLOOKED, SIGNS, CAUSES = 5, 4, 4, 4, 3  # how many of each are shown


@dataclass(frozen=True)
class SaidCheck:
    """A check of any kind: what to do, its minutes, and why it stands first when it protects others."""

    what: str
    minutes: float
    protects: str
    finding: str  # code to link to on the page; empty for what is no finding


@dataclass(frozen=True)
class SaidTurn:
    """An answer that would change what is done."""

    condition: str
    consequence: str


@dataclass(frozen=True)
class SaidSign:
    """A sign that tells two causes apart. `first`: it speaks for the first of the two."""

    code: str
    name: str
    first: bool
    state: str


@dataclass(frozen=True)
class SaidPair:
    """Two causes taken for one another, and what tells them apart."""

    first: str
    rival: str
    for_first: list[SaidSign]
    for_rival: list[SaidSign]


@dataclass(frozen=True)
class SaidUnlooked:
    """A cause in question, and what it usually shows that nobody looked for: (code, name)."""

    cause: str
    signs: list[tuple[str, str]]


@dataclass(frozen=True)
class Deeper:
    checks: list[SaidCheck]
    settled: bool
    turns: list[SaidTurn]
    pairs: list[SaidPair]
    unlooked: list[SaidUnlooked]


def deeper(case: Case) -> Deeper:
    """Return what lies behind the ranking, in the language of the page."""
    ruleset = ruleset_current()
    insight = look_deeper(casefile_from_rows(case), ruleset, load_reference())
    says = _Says(ruleset)
    return Deeper(
        checks=[says.check(step) for step in insight.advice.steps if step.bits > 0][:CHECKS],
        settled=insight.advice.settled,
        turns=[says.turn(turn) for turn in insight.turns[:TURNS]],
        pairs=[says.pair(pair) for pair in insight.look_alikes],
        unlooked=says.unlooked(insight),
    )


class _Says:
    def __init__(self, ruleset: Ruleset) -> None:
        self.ruleset, self.language = ruleset, get_language() or "en"

    def check(self, step: Step) -> SaidCheck:
        protects = self.cause(step.protects) if step.protects else ""
        finding = step.code if step.kind == "finding" else ""
        return SaidCheck(self.what(step.kind, step.code), step.minutes, protects, finding)

    def what(self, kind: str, code: str) -> str:
        if kind == "finding":
            return _("Look: %(sign)s") % {"sign": self.sign(code)}
        if kind == "practice":
            return _("Ask: %(habit)s") % {"habit": text(self.ruleset.practices[code].name, self.language)}
        if kind == "laboratory":
            return _("Laboratory: %(cause)s") % {"cause": self.cause(code)}
        if code == ONSET:
            return _("Ask: how many days ago did it begin")
        return _("Measure: %(reading)s") % {"reading": self.reading(code)}

    def turn(self, turn: Turn) -> SaidTurn:
        if turn.changes_first:
            consequence = _("%(cause)s would come first") % {"cause": self.cause(turn.first_after)}
        elif turn.added:
            consequence = _("the plan would ask for more")
        else:
            consequence = _("the plan would ask for less")
        return SaidTurn(self.condition(turn), consequence)

    def condition(self, turn: Turn) -> str:
        if turn.kind == "finding":
            seen, what = turn.answer == SEEN, self.sign(turn.code)
            return (_("seen: %(what)s") if seen else _("looked and not there: %(what)s")) % {"what": what}
        if turn.kind == "practice":
            what = text(self.ruleset.practices[turn.code].name, self.language)
            return (_("told: %(what)s") if turn.answer == REPORTED else _("not so: %(what)s")) % {
                "what": what
            }
        if turn.kind == "laboratory":
            found = turn.answer == POSITIVE
            said = _("the laboratory finds %(what)s") if found else _("the laboratory rules out %(what)s")
            return said % {"what": self.cause(turn.code)}
        if turn.answer == NONE_TRUE:
            return _("%(reading)s within its band") % {"reading": self.reading(turn.code)}
        rules = [self.ruleset.conditions[code].name for code in turn.answer.split("+")]
        return ", ".join(text(name, self.language) for name in rules)

    def pair(self, pair: LookAlike) -> SaidPair:
        signs = [self.separator(each) for each in pair.separators]
        return SaidPair(
            self.cause(pair.first),
            self.cause(pair.rival),
            [sign for sign in signs if sign.first][:SIGNS],
            [sign for sign in signs if not sign.first][:SIGNS],
        )

    def separator(self, each: Separator) -> SaidSign:
        states = {"seen": _("seen"), "not-seen": _("not there"), "not-looked": ""}
        return SaidSign(each.code, self.sign(each.code), each.points_to_first, states[each.state])

    def unlooked(self, insight: Insight) -> list[SaidUnlooked]:
        """Of the first cause and its rivals; of all in question when nothing is taken for anything else."""
        rivals = [code for pair in insight.look_alikes for code in (pair.first, pair.rival)]
        causes = list(dict.fromkeys(rivals)) or list(insight.unlooked)
        return [
            SaidUnlooked(self.cause(cause), [(f.code, self.sign(f.code)) for f in found[:UNLOOKED]])
            for cause in causes[:CAUSES]
            if (found := insight.unlooked.get(cause, ()))
        ]

    def cause(self, code: str) -> str:
        return cause_name(self.ruleset, code, self.language)

    def sign(self, code: str) -> str:
        return text(self.ruleset.findings[code].plain, self.language)

    def reading(self, code: str) -> str:
        reading = load_reference().readings.get(code)
        return text(reading.name, self.language) if reading else _("days since it began")
