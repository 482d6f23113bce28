"""What staff say of a look: what each line did, what is seen now, the cause, what it came to, what next."""

import datetime
from collections.abc import Iterator
from typing import Any

from crispy_forms.bootstrap import InlineRadios
from crispy_forms.layout import Div, Fieldset, Layout, Submit
from django import forms
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from consults.choices import CameTo, Confirmed, Effect, Seen
from consults.diagnosis import NONE_OF_THESE
from consults.looks.asking import action_lines
from consults.looks.recording import Judged
from consults.models import Outcome, Plan
from consults.ruleset.loader import Ruleset
from garden.forms import desk_helper
from garden.reference.schema import text


class RecordForm(forms.Form):
    """One look judged. `again` was pressed: look again on `next_on`; else the look is closed."""

    def __init__(
        self,
        data: Any = None,
        *,
        plan: Plan,
        ruleset: Ruleset,
        confirms: bool,
        action: str = "",
        corrects: Outcome | None = None,
    ) -> None:
        super().__init__(data, initial=_initial(corrects))
        self.plan, self.ruleset, self.corrects = plan, ruleset, corrects
        self.language = get_language() or "en"
        self.lines = action_lines(plan)
        self.findings = _findings(plan)
        self._add_answers()
        if confirms:
            self._add_causes()
        self.fields["note"] = forms.CharField(
            label=_("Our note"), required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
        )
        if corrects is None:
            self.fields["next_on"] = forms.DateField(
                label=_("If we look again: on"),
                required=False,
                widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            )
        self.helper = desk_helper(Layout(*self._layout(confirms)), button="")
        self.helper.form_class, self.helper.form_action = "record", action
        if corrects is None:
            self.helper.add_input(Submit("close", _("Record and close the look"), css_class="btn-thread"))
            self.helper.add_input(Submit("again", _("Record and look again"), css_class="btn-plain"))
        else:
            self.helper.add_input(Submit("close", _("Record the correction"), css_class="btn-thread"))

    def _add_answers(self) -> None:
        for pk, line in self.lines:
            self.fields[f"effect-{pk}"] = _radio(line, [*Effect.choices, ("", _("cannot tell"))])
        for code, name in self.findings:
            self.fields[f"now-{code}"] = _radio(
                name[:1].upper() + name[1:],
                [(Seen.PRESENT.value, _("yes")), (Seen.ABSENT.value, _("no")), ("", _("not looked"))],
            )
        self.fields["came_to"] = _radio(_("How is it now?"), CameTo.choices, required=True)
        self.fields["came_to"].error_messages["required"] = _("Say how it is now.")

    def _add_causes(self) -> None:
        causes = self.ruleset.causes
        order = [*(code for code in self.plan.causes if code in causes)]
        order += [code for code in causes if code not in order]
        named = [(code, text(causes[code].name, self.language)) for code in order]
        self.fields["cause"] = forms.ChoiceField(
            label=_("It was"),
            required=False,
            choices=[("", _("not confirmed")), *named, (NONE_OF_THESE, _("None of these"))],
        )
        self.fields["also"] = forms.ChoiceField(
            label=_("And also"), required=False, choices=[("", _("nothing else")), *named]
        )
        self.fields["how"] = forms.ChoiceField(
            label=_("How we know"), required=False, choices=[("", "–"), *Confirmed.choices]
        )

    def _layout(self, confirms: bool) -> Iterator[Any]:
        if self.findings:
            names = [InlineRadios(f"now-{code}", wrapper_class="asked") for code, _name in self.findings]
            yield Fieldset(_("Is it still there?"), *names, css_class="asked-findings")
        names = [InlineRadios(f"effect-{pk}", wrapper_class="asked") for pk, _line in self.lines]
        yield Fieldset(_("What did each line of the plan do?"), *names)
        parts: list[Any] = [InlineRadios("came_to", wrapper_class="asked")]
        if confirms:
            parts.append(Div("cause", "also", "how", css_class="two-columns"))
        parts.append("note")
        if self.corrects is None:
            parts.append("next_on")
        yield Fieldset(_("What it came to"), *parts)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("cause") and not cleaned.get("how"):
            self.add_error("how", _("Say how the cause was confirmed."))
        if cleaned.get("also") and not cleaned.get("cause"):
            self.add_error("cause", _("Name the first cause here, the other one beside it."))
        if "again" in self.data and self.corrects is None:
            self._check_day(cleaned.get("next_on"))
        return cleaned

    def _check_day(self, day: datetime.date | None) -> None:
        if "next_on" in self.errors:
            return
        if day is None:
            self.add_error("next_on", _("Choose the day of the next look."))
        elif day <= timezone.localdate():
            self.add_error("next_on", _("Choose a day after today for the next look."))

    @property
    def next_on(self) -> datetime.date | None:
        day: datetime.date | None = self.cleaned_data.get("next_on") if "again" in self.data else None
        return day

    def judged(self) -> Judged:
        cleaned = self.cleaned_data
        causes = dict.fromkeys(cleaned[name] for name in ("cause", "also") if cleaned.get(name))
        return Judged(
            came_to=cleaned["came_to"],
            causes=list(causes),
            how=cleaned.get("how", ""),
            effects={str(pk): cleaned[f"effect-{pk}"] for pk, _line in self.lines},
            findings={code: cleaned[f"now-{code}"] for code, _name in self.findings},
            note=cleaned["note"],
        )


def _radio(label: str, choices: Any, *, required: bool = False) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=required, widget=forms.RadioSelect)


def _findings(plan: Plan) -> list[tuple[str, str]]:
    """What was seen when the plan was issued, all of it: code and plain words."""
    return [(entry["code"], entry["text"]) for entry in (plan.snapshot or {}).get("seen", [])]


def _initial(outcome: Outcome | None) -> dict[str, Any]:
    if outcome is None:
        return {}
    causes = [*outcome.confirmed_causes, "", ""]
    initial = {f"effect-{entry['action']}": entry["effect"] for entry in outcome.actions}
    initial |= {f"now-{code}": state for code, state in outcome.findings_after.items()}
    return initial | {
        "came_to": outcome.came_to,
        "cause": causes[0],
        "also": causes[1],
        "how": outcome.confirmed_how,
    }
