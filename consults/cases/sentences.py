"""Numbers and codes of a ranking turned into words for people."""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from consults.cases.facts import Facts
from consults.cases.ranking import Ranked, Ranking
from consults.diagnosis.explain import Reason
from consults.diagnosis.fit import Word, word
from consults.ruleset.conditions import ONSET
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Condition
from garden.reference.schema import text
from garden.wording import Wording

WORDS: dict[Word, Promise] = {
    "almost-certain": gettext_lazy("almost certain"),
    "likely": gettext_lazy("likely"),
    "possible": gettext_lazy("possible"),
    "less-likely": gettext_lazy("less likely"),
    "unlikely": gettext_lazy("unlikely"),
}


@dataclass(frozen=True)
class SaidReason:
    sentence: str
    bits: float
    kind: str
    code: str


@dataclass(frozen=True)
class SaidCause:
    """A cause as people read it: a word, a number in ten and the reasons."""

    code: str
    name: str
    definition: str
    word: str
    chance: str
    in_ten: int
    probability: float
    supports: tuple[SaidReason, ...]
    against: tuple[SaidReason, ...]
    wrong_cost: str
    urgency: int
    contagious: bool
    laboratory: str


def in_ten(probability: float) -> int:
    """A probability as so many in ten, never 0 or 10: nothing here is certain."""
    return min(9, max(1, round(probability * 10)))


def chance(probability: float) -> str:
    """A probability as a spoken number: "7 in 10", "less than 1 in 10", "more than 9 in 10"."""
    if probability < 0.05:
        return _("less than 1 in 10")
    if probability > 0.95:
        return _("more than 9 in 10")
    return _("%(n)s in 10") % {"n": in_ten(probability)}


@dataclass(frozen=True)
class Speaker:
    """Says a ranking of one case under one version of the rules, in one language and unit system."""

    ruleset: Ruleset
    facts: Facts
    ranking: Ranking
    wording: Wording
    language: str

    def all_causes(self) -> list[SaidCause]:
        """All causes in words, likeliest first."""
        return [self.cause(ranked) for ranked in self.ranking.causes]

    def cause(self, ranked: Ranked) -> SaidCause:
        """One cause in words."""
        cause = self.ruleset.causes.get(ranked.code)
        return SaidCause(
            code=ranked.code,
            name=text(cause.name, self.language) if cause else none_name(),
            definition=text(cause.definition, self.language)
            if cause
            else _("Nothing on our list explains the plant."),
            word=str(WORDS[word(ranked.probability)]),
            chance=chance(ranked.probability),
            in_ten=in_ten(ranked.probability),
            probability=ranked.probability,
            supports=self._said(ranked.supports),
            against=self._said(self._truly_against(ranked.against)),
            wrong_cost=text(cause.wrong_cost, self.language) if cause else "",
            urgency=cause.urgency if cause else 0,
            contagious=cause.contagious if cause else False,
            laboratory=text(cause.laboratory, self.language) if cause and cause.laboratory else "",
        )

    def reason(self, reason: Reason) -> str:
        """One piece of evidence as a short phrase."""
        if reason.kind == "finding":
            plain = text(self.ruleset.findings[reason.code].plain, self.language)
            seen = reason.code in self.facts.case.present
            return plain if seen else _("not there: %(finding)s") % {"finding": plain}
        if reason.kind == "reading":
            return self._condition(reason.code)
        return text(self.ruleset.practices[reason.code].name, self.language)

    def _truly_against(self, reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
        """Without signs that are there: those only count against a cause because another explains them."""
        present = self.facts.case.present
        return tuple(r for r in reasons if r.kind != "finding" or r.code not in present)

    def _condition(self, code: str) -> str:
        condition = self.ruleset.conditions[code]
        if condition.reading == ONSET:
            return self._since_when(condition, self.ranking.conditions[code])
        definition = self.facts.reference.readings[condition.reading]
        now, band = self.facts.values[condition.reading], self.facts.band(condition.reading)
        _value, shown, unit = self.wording.reading(now, definition.unit, definition.decimals)
        if self.ranking.conditions[code]:
            phrase = _("%(condition)s: %(value)s")
        elif band is not None and band.low <= now <= band.high:
            phrase = _("%(reading)s is within its band: %(value)s")
        else:
            phrase = _("not so: %(condition)s (%(value)s)")
        return phrase % {
            "condition": text(condition.name, self.language),
            "reading": text(definition.name, self.language),
            "value": shown if unit == "pH" else f"{shown} {unit}",
        }

    def _since_when(self, condition: Condition, holds: bool) -> str:
        """How long ago it began, as the grower told it; a condition that fails is said to fail."""
        days = self.facts.case.onset_days or 0
        ago = ngettext("%(n)s day ago", "%(n)s days ago", days) % {"n": self.wording.number(days, 0)}
        phrase = _("%(condition)s: %(value)s") if holds else _("not so: %(condition)s (%(value)s)")
        return phrase % {"condition": text(condition.name, self.language), "value": ago}

    def _said(self, reasons: tuple[Reason, ...]) -> tuple[SaidReason, ...]:
        """Reasons in words, strongest first; of several about one reading only the strongest."""
        said: dict[str, SaidReason] = {}
        for r in reasons:
            about = self.ruleset.conditions[r.code].reading if r.kind == "reading" else f"{r.kind} {r.code}"
            said.setdefault(about, SaidReason(self.reason(r), r.bits, r.kind, r.code))
        return tuple(said.values())


def none_name() -> str:
    """What to call "no listed cause"."""
    return _("None of these")
