"""Gathers what the summary of a case and the hand-out of a question say, as plain data in one language."""

import datetime
from collections.abc import Mapping
from typing import Any

from django.utils import timezone, translation
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from consults.cases.describe import crop_name, readings_table, spoken_date
from consults.cases.facts import gather
from consults.cases.ranking import rank_case
from consults.cases.rows import casefile_from_rows
from consults.cases.selectors import cause_name, garden_facts
from consults.cases.sentences import SaidCause, Speaker
from consults.choices import Seen
from consults.models import Case, FollowUp, Plan, Question
from consults.plans.snapshot import caution_texts
from consults.rules.selectors import ruleset_current
from consults.ruleset.loader import Ruleset
from consults.shop.selectors import shop_get
from garden.models import Staff
from garden.reference.loader import load_reference
from garden.reference.schema import text
from garden.wording import Wording
from reports.documents.handout import spoken_of
from reports.documents.hazards import HAZARDS

_CAUSES, _OTHERS, _CHECKS = 6, 6, 4
_LEAST = 0.05  # probability from which a cause is named at all


def shop_data() -> dict[str, str]:
    shop = shop_get()
    return {
        name: getattr(shop, name) for name in ("name", "address", "phone", "email", "opening_hours", "paper")
    }


def _day(moment: datetime.datetime | None) -> str:
    return spoken_date(timezone.localdate(moment)) if moment else ""


def _name(person: Any) -> str:
    return str(person) if person else ""


# --- the hand-out -----------------------------------------------------------------------------------
def handout_data(question: Question) -> dict[str, Any]:
    """A question and its answer, in the language of who asked it, else in the active one.

    The cautions are those of the rules in force for whatever dangerous thing the answer speaks of.
    """
    language = question.grower.language if question.grower else get_language() or "en"
    with translation.override(language):
        words = {code: str(listed) for code, listed in HAZARDS.items()}
        codes = spoken_of([question.answer], words)
        return {
            "language": language,
            "shop": shop_data(),
            "number": question.pk,
            "words": question.words,
            "answer": question.answer,
            "date": _day(question.answered_at or question.asked_at),
            "cautions": caution_texts(codes, ruleset_current().cautions, language),
        }


# --- the summary ------------------------------------------------------------------------------------
def summary_data(case: Case, *, by: Staff | None, on: datetime.date) -> dict[str, Any]:
    """All that is known of a case (as `case_get` gives it), reckoned with the rules in force.

    `by` and `on` are who prints it and when.
    """
    with translation.override(case.grower.language):
        return _Summary(case).content() | {"made": {"by": _name(by), "on": spoken_date(on)}}


class _Summary:
    def __init__(self, case: Case) -> None:
        self.case, self.language = case, case.grower.language
        self.wording, self.reference = Wording(case.grower.units), load_reference()
        self.ruleset: Ruleset = ruleset_current()
        self.casefile = casefile_from_rows(case)
        self.facts = gather(self.casefile, self.reference)
        self.ranking = rank_case(self.casefile, self.ruleset, self.reference)

    def content(self) -> dict[str, Any]:
        table = readings_table(self.facts, self.wording, self.language)
        speaker = Speaker(self.ruleset, self.facts, self.ranking, self.wording, self.language)
        said = speaker.all_causes()
        return {
            "language": self.language,
            "shop": shop_data(),
            "grower": {"name": self.case.grower.name},
            "case": self._case(),
            "who": self._who(),
            "facts": garden_facts(self.case, table),
            "checks": self._checks(),
            "practices": [
                text(self.ruleset.practices[code].name, self.language)
                for code in self.casefile.practices
                if code in self.ruleset.practices
            ],
            "open_checks": self._open_checks(),
            "readings": table,
            "taken": list(dict.fromkeys(_day(reading.taken_at) for reading in self.case.readings.all())),
            "causes": [_cause(cause) for cause in said[:_CAUSES]],
            "other_causes": [
                {"name": c.name, "word": c.word, "chance": c.chance, "in_ten": c.in_ten}
                for c in said[_CAUSES : _CAUSES + _OTHERS]
                if c.probability >= _LEAST
            ],
            "enough_to_tell": self.ranking.enough,
            "fit": self.ranking.fit.verdict,
            "answers": self._answers(),
            "plans": [self._plan(plan) for plan in self._plans()],
            "looks": self._looks(),
            "confirmed": self._confirmed(),
            "photos": [
                {"id": link.photo.pk, "caption": link.photo.caption} for link in self.case.photos.all()
            ],
            "ruleset": self.ruleset.version,
        }

    def _case(self) -> dict[str, Any]:
        case = self.case
        return {
            "number": case.pk,
            "status": str(case.get_status_display()),
            "crop": crop_name(self.casefile, self.language),
            "opened_on": _day(case.opened_at),
            "story": case.story,
            "onset_days": case.onset_days,
            "notes": case.notes,
        }

    def _who(self) -> list[tuple[str, str]]:
        case, grower = self.case, self.case.grower
        lines = [
            (_("Grower"), grower.name),
            (_("Phone"), grower.phone),
            (_("Email"), grower.email),
            (_("Opened"), ", ".join(part for part in (_day(case.opened_at), _name(case.opened_by)) if part)),
            (_("Began with the question"), case.question.words[:300] if case.question else ""),
        ]
        return [(name, value) for name, value in lines if value]

    def _checks(self) -> list[dict[str, Any]]:
        """What was looked at, in the order it was written down, by whom."""
        first: dict[str, Any] = {}
        records = self.case.findings.model.history.filter(case_id=self.case.pk)
        for record in records.select_related("history_user").order_by("history_date", "history_id"):
            if record.history_type == "-":
                first.pop(record.code, None)
            else:
                first[record.code] = record
        found = [f for f in self.case.findings.all() if f.code in self.ruleset.findings]
        order = list(first)
        found.sort(key=lambda f: order.index(f.code) if f.code in first else len(order))
        return [
            {
                "text": text(self.ruleset.findings[f.code].plain, self.language),
                "present": f.state == Seen.PRESENT,
                "on": _day(first[f.code].history_date) if f.code in first else "",
                "by": _name(first[f.code].history_user) if f.code in first else "",
            }
            for f in found
        ]

    def _open_checks(self) -> list[str]:
        checks = self.ranking.checks[:_CHECKS]
        return [text(self.ruleset.findings[check.code].plain, self.language) for check in checks]

    def _answers(self) -> list[dict[str, str]]:
        return [
            {
                "question": answer.question,
                "headline": answer.answer["headline"],
                "on": _day(answer.kept_at),
                "by": _name(answer.kept_by),
            }
            for answer in self.case.bench_answers.select_related("kept_by")
        ]

    def _plans(self) -> list[Plan]:
        plans = self.case.plans.select_related("issued_by", "created_by").prefetch_related("actions")
        return list(plans.order_by("version"))

    def _plan(self, plan: Plan) -> dict[str, Any]:
        fixed = plan.snapshot or {}
        kept = [action for action in plan.actions.all() if action.included]
        return {
            "version": plan.version,
            "on": _day(plan.issued_at),
            "by": _name(plan.issued_by or plan.created_by),
            "causes": [cause["name"] for cause in fixed.get("causes", [])]
            or [cause_name(self.ruleset, code, self.language) for code in plan.causes],
            "actions": [_action(action) for action in fixed["actions"]]
            if fixed
            else [_action(vars(action)) for action in kept],
            "hash": plan.snapshot_sha256[:16],
        }

    def _looks(self) -> list[dict[str, str]]:
        looks = FollowUp.objects.filter(plan__case=self.case).select_related("done_by")
        return [
            {
                "due_on": spoken_date(look.due_on),
                "done_on": _day(look.done_at),
                "by": _name(look.done_by),
                "progress": str(look.get_progress_display()) if look.progress else "",
                "note": look.note,
            }
            for look in looks.order_by("due_on", "pk")
        ]

    def _confirmed(self) -> dict[str, str] | None:
        case = self.case
        if not case.confirmed_cause:
            return None
        return {
            "cause": cause_name(self.ruleset, case.confirmed_cause, self.language),
            "how": str(case.get_confirmed_how_display()),
            "on": _day(case.confirmed_at),
            "by": _name(case.confirmed_by),
        }


def _action(action: Mapping[str, Any]) -> dict[str, str]:
    return {"text": action["text"], "quantity": action["quantity"]}


def _cause(cause: SaidCause) -> dict[str, Any]:
    return {
        "name": cause.name,
        "word": cause.word,
        "chance": cause.chance,
        "in_ten": cause.in_ten,
        "probability": round(cause.probability, 4),
        "for": [reason.sentence for reason in cause.supports],
        "against": [reason.sentence for reason in cause.against],
    }
