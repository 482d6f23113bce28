"""Everything a plan document says, as plain data, in the grower's language and units.

Documents are made from this and nothing else, so an issued plan cannot change when the garden does.
"""

import datetime
from collections.abc import Iterable, Mapping
from typing import Any

from django.utils import timezone, translation

from consults.cases.casefile import CaseFile
from consults.cases.describe import crop_name, garden_line, readings_table, spoken_date
from consults.cases.facts import Facts, gather
from consults.cases.ranking import Ranking, rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.sentences import SaidCause, Speaker
from consults.choices import Seen, When
from consults.models import Plan, PlanAction
from consults.plans.buying import Buyer, tell_shopping
from consults.plans.mixing import CAUTIONS, mixing_of
from consults.plans.telling import tell_action, tell_calendar
from consults.plans.words import SENTENCE, own_words
from consults.rules.selectors import ruleset_by_version, ruleset_current
from consults.ruleset.loader import Ruleset
from consults.ruleset.schema import Caution
from consults.shop.selectors import shop_get
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording

OTHERS_SHOWN = 3
_WHEN = [when.value for when in When]
CHECKS_SHOWN = 2


def build_snapshot(plan: Plan) -> dict[str, Any]:
    """The snapshot of a plan as it stands now. Uses the rules its ranking was made with."""
    with translation.override(plan.case.grower.language):
        return _Snapshot(plan).content()


class _Snapshot:
    def __init__(self, plan: Plan) -> None:
        self.plan, self.case, self.shop = plan, plan.case, shop_get()
        self.language = self.case.grower.language
        self.start = timezone.localdate(plan.issued_at) if plan.issued_at else timezone.localdate()
        self.wording = Wording(self.case.grower.units)
        self.reference = load_reference()
        self.ruleset: Ruleset = (
            ruleset_by_version(plan.ranking.ruleset.version) if plan.ranking else ruleset_current()
        )
        self.casefile: CaseFile = casefile_from_rows(self.case)
        self.facts: Facts = gather(self.casefile, self.reference)
        self.ranking: Ranking = rank_case(self.casefile, self.ruleset, self.reference)
        self.speaker = Speaker(self.ruleset, self.facts, self.ranking, self.wording, self.language)
        self.own_words = own_words(plan.causes, self.language)
        self.said = {cause.code: cause for cause in self.speaker.all_causes()}

    def content(self) -> dict[str, Any]:
        kept = sorted(self.plan.actions.filter(included=True), key=lambda action: _WHEN.index(action.when))
        chosen = [code for code in self.plan.causes if code in self.said]
        chosen.sort(key=lambda code: -self.said[code].probability)
        texts = {action.code: action.text for action in kept if action.code}
        return {
            "plan_snapshot": 1,
            "language": self.language,
            "shop": self._shop(),
            "grower": {"name": self.case.grower.name},
            "case": self._case(),
            "plan": self._plan(),
            "seen": self._findings(Seen.PRESENT),
            "not_seen": self._findings(Seen.ABSENT),
            "practices": [
                {"code": code, "text": text(self.ruleset.practices[code].name, self.language)}
                for code in self.casefile.practices
                if code in self.ruleset.practices
            ],
            "readings": readings_table(self.facts, self.wording, self.language),
            "causes": [self._cause(self.said[code]) for code in chosen],
            "other_causes": self._others(chosen),
            "enough_to_tell": self.ranking.enough,
            "fit": self.ranking.fit.verdict,
            "next_checks": self._checks(),
            "actions": [self._action(action, texts) for action in kept],
            "calendar": self._calendar(kept, chosen),
            "shopping": tell_shopping(self._buyer(kept)),
            "workings": _workings(kept),
            "cautions": self._cautions(kept),
            "better": self._better(chosen, kept),
            "photos": [
                {
                    "id": link.photo.pk,
                    "caption": link.photo.caption,
                    "width": link.photo.width,
                    "height": link.photo.height,
                }
                for link in self.case.photos.select_related("photo")
            ],
            "mixing": self._mixing(),
            "ruleset": self.ruleset.version,
        }

    def _mixing(self) -> dict[str, Any]:
        answers = self.case.bench_answers.all()
        return {
            **mixing_of(self.facts, answers, self.wording, self.language),
            "cautions": caution_texts(CAUTIONS, self.ruleset.cautions, self.language),
        }

    def _shop(self) -> dict[str, str]:
        return {
            name: getattr(self.shop, name)
            for name in ("name", "address", "phone", "email", "opening_hours", "paper")
        }

    def _case(self) -> dict[str, Any]:
        planting = self.casefile.planting
        reference = self.reference
        return {
            "number": self.case.pk,
            "opened_on": spoken_date(timezone.localdate(self.case.opened_at)),
            "crop": crop_name(self.casefile, self.language),
            "stage": text(reference.stages[planting.stage].name, self.language) if planting.stage else "",
            "system": text(reference.systems[planting.system].name, self.language) if planting.system else "",
            "medium": text(reference.media[planting.medium].name, self.language) if planting.medium else "",
            "garden": garden_line(self.casefile, self.wording, self.language),
            "story": self.case.story,
            "onset_days": self.case.onset_days,
        }

    def _plan(self) -> dict[str, Any]:
        plan = self.plan
        day = timezone.localdate(plan.issued_at) if plan.issued_at else timezone.localdate()
        by = plan.issued_by or plan.created_by
        return {
            "version": plan.version,
            "date": spoken_date(day),
            "by": str(by) if by else "",
            "greeting": plan.greeting,
            "look_again_on": spoken_date(plan.look_again_on) if plan.look_again_on else "",
            "draft": plan.issued_at is None,
            "supersedes": plan.version - 1 if plan.version > 1 else None,
        }

    def _findings(self, state: Seen) -> list[dict[str, str]]:
        codes = self.casefile.present if state == Seen.PRESENT else self.casefile.absent
        known = [code for code in codes if code in self.ruleset.findings]
        return [{"code": c, "text": text(self.ruleset.findings[c].plain, self.language)} for c in known]

    def _cause(self, said: SaidCause) -> dict[str, Any]:
        own = self.own_words.get((said.code, SENTENCE), "")
        return {
            "code": said.code,
            "name": said.name,
            "definition": own or said.definition,
            "shop_words": bool(own),
            "word": said.word,
            "chance": said.chance,
            "in_ten": said.in_ten,
            "probability": round(said.probability, 4),
            "for": [reason.sentence for reason in said.supports[:5]],
            "against": [reason.sentence for reason in said.against[:3]],
            "wrong_cost": said.wrong_cost,
            "laboratory": said.laboratory,
        }

    def _others(self, chosen: list[str]) -> list[dict[str, Any]]:
        others = [
            cause
            for cause in self.said.values()
            if cause.code not in chosen
            and cause.code in self.ruleset.causes
            and cause.probability >= 0.05
            and any(reason.kind == "finding" for reason in cause.supports)
        ]
        return [
            {"name": c.name, "word": c.word, "chance": c.chance, "in_ten": c.in_ten}
            for c in others[:OTHERS_SHOWN]
        ]

    def _checks(self) -> list[dict[str, Any]]:
        findings = [self.ruleset.findings[check.code] for check in self.ranking.checks[:CHECKS_SHOWN]]
        return [
            {
                "name": text(finding.plain, self.language),
                "how": text(finding.definition, self.language),
                "minutes": finding.minutes,
            }
            for finding in findings
        ]

    def _action(self, action: PlanAction, texts: Mapping[str, str]) -> dict[str, Any]:
        return {
            "when": action.when,
            "text": action.text,
            "quantity": action.quantity,
            "quantity_code": action.quantity_code,
            "why": action.why,
            "stop_when": action.stop_when,
            "buys": action.buys,
            "cautions": self._cautions([action]),
            **tell_action(action, self.ruleset.causes, self.start, self.language, texts),
        }

    def _buyer(self, kept: list[PlanAction]) -> Buyer:
        return Buyer(kept, self.facts, self.ruleset, self.wording, self.shop, self.language)

    def _calendar(self, kept: list[PlanAction], chosen: list[str]) -> dict[str, Any]:
        better = [(row["days"], row["text"]) for row in self._better(chosen, kept)]
        look_on = self.plan.look_again_on
        return tell_calendar(kept, self.ruleset.causes, self.start, look_on, better, self.language)

    def _cautions(self, kept: list[PlanAction]) -> list[str]:
        codes = dict.fromkeys(code for action in kept for code in action.cautions)
        return caution_texts(codes, self.ruleset.cautions, self.language)

    def _better(self, chosen: list[str], kept: list[PlanAction]) -> list[dict[str, Any]]:
        acted_on = [code for code in chosen if _still_acted_on(code, kept)]
        causes = [self.ruleset.causes[code] for code in acted_on if code in self.ruleset.causes]
        causes.sort(key=lambda cause: cause.better.days)
        return [
            {
                "text": text(cause.better.text, self.language),
                "days": cause.better.days,
                "by": spoken_date(self.start + datetime.timedelta(days=cause.better.days)),
            }
            for cause in causes
        ]


def caution_texts(cautions: Iterable[str], known: Mapping[str, Caution], language: str) -> list[str]:
    """Cautions in words: codes of the rules, or whole sentences as the bench gives them."""
    return [
        text(known[caution].text, language) if caution in known else caution
        for caution in cautions
        if caution in known or " " in caution
    ]


def _still_acted_on(code: str, kept: list[PlanAction]) -> bool:
    """Whether the plan still does something about a cause: else it promises nothing for it."""
    return any(code in action.causes for action in kept) or not any(action.causes for action in kept)


def _workings(kept: list[PlanAction]) -> list[dict[str, Any]]:
    """The working of each quantity that the plan still quotes as it was worked out."""
    rows: dict[str, dict[str, Any]] = {}
    for action in kept:
        working = action.working
        if working.get("shown") and working["shown"] == action.quantity:
            rows.setdefault(
                action.quantity_code,
                {key: working[key] for key in ("title", "shown", "lines", "source", "estimate")},
            )
    return list(rows.values())
