"""The forms of whole entries of the rules."""

from typing import Any

from crispy_forms.layout import Div, Layout
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.rules import words
from consults.rules.describe import edge_of, reading_names
from consults.rules.fields import CODE, Fold, NumberField, SourceField, WordsField
from consults.rules.piece_forms import CHOOSE, EntryForm, choices, put_text
from consults.rules.selectors import PRIOR_WORDS
from consults.rules.tables import Entry
from consults.ruleset.schema import PRIORS
from garden.reference.loader import text


class CauseForm(EntryForm):
    """What a cause says of itself. What it shows and what to do about it are lists of their own."""

    texts = ("name", "definition", "wrong_cost", "laboratory")

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    group = forms.ChoiceField(label=gettext_lazy("Group"), choices=choices(words.GROUPS, CHOOSE))
    definition = WordsField(label=gettext_lazy("What it is"), help_text=gettext_lazy("In one sentence."))
    prior = forms.ChoiceField(label=gettext_lazy("How common"), widget=forms.RadioSelect)
    urgency = forms.TypedChoiceField(
        label=gettext_lazy("How urgent"), coerce=int, choices=choices(words.URGENCY, CHOOSE)
    )
    contagious = forms.BooleanField(label=gettext_lazy("It spreads to other plants"), required=False)
    wrong_cost = WordsField(
        label=gettext_lazy("If we act on it and are wrong"),
        help_text=gettext_lazy("What the grower loses when this was not the cause."),
    )
    better_text = WordsField(
        label=gettext_lazy("What better looks like"),
        help_text=gettext_lazy("What the grower sees when it helps."),
    )
    better_days = forms.IntegerField(label=gettext_lazy("Better after, days"), min_value=1, max_value=365)
    look_again_days = forms.IntegerField(
        label=gettext_lazy("Look again after, days"), min_value=1, max_value=365
    )
    laboratory = WordsField(
        label=gettext_lazy("When to send something to a laboratory"),
        required=False,
        help_text=gettext_lazy("What to send, and when. Empty where a laboratory tells nothing."),
    )

    def prepare(self) -> None:
        super().prepare()
        prior = [(word, words.prior_explained(word)) for word in PRIORS if word in PRIOR_WORDS]
        self.fields["prior"].choices = prior  # type: ignore[attr-defined]

    def layout(self) -> Layout:
        code = () if self.old else ("code",)
        return Layout(
            "seen",
            Fold(_("What it is"), "name", *code, "group", "definition", is_open=True),
            Fold(_("How common, how urgent"), "prior", "urgency", "contagious", is_open=not self.old),
            Fold(
                _("What follows"),
                "wrong_cost",
                "better_text",
                Div("better_days", "look_again_days", css_class="field-row"),
                "laboratory",
                is_open=not self.old,
            ),
        )

    def filled(self, old: Entry) -> dict[str, Any]:
        better = old["better"]
        return {**super().filled(old), "better_text": text(better["text"]), "better_days": better["days"]}

    def piece(self) -> Entry:
        entry = super().piece()
        known = self.old["better"] if self.old else None
        spoken, days = entry.pop("better_text"), entry.pop("better_days")
        return {**entry, "better": {"text": put_text(known, "text", spoken), "days": days}}


class FindingForm(EntryForm):
    texts = ("name", "definition", "plain", "distribution")

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    plain = forms.CharField(
        label=gettext_lazy("In plain words"),
        max_length=200,
        help_text=gettext_lazy("As it stands on the checklist: “it droops although the pot is wet”."),
    )
    definition = WordsField(
        label=gettext_lazy("How to look"), help_text=gettext_lazy("What to look at, and what counts as yes.")
    )
    synonyms = WordsField(
        label=gettext_lazy("What growers say"),
        rows=4,
        required=False,
        help_text=gettext_lazy("One phrase on each line. A story that says it proposes this finding."),
    )
    part = forms.ChoiceField(
        label=gettext_lazy("Part of the plant"), choices=choices(words.PLANT_PARTS, CHOOSE)
    )
    leaf_age = forms.ChoiceField(label=gettext_lazy("Which leaves"), required=False)
    distribution = forms.CharField(label=gettext_lazy("Where on the plant, on which plants"), max_length=200)
    group = forms.RegexField(
        CODE,
        label=gettext_lazy("Goes together with"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Findings that look alike share one word here, such as “wilt”."),
        error_messages={"invalid": gettext_lazy("Use small letters, digits and single hyphens.")},
    )
    check_kind = forms.ChoiceField(
        label=gettext_lazy("How it is checked"), choices=choices(words.CHECKS, CHOOSE)
    )
    minutes = NumberField(label=gettext_lazy("Minutes to check"), min_value=0.1, max_value=20160)
    leak = NumberField(
        label=gettext_lazy("Seen without any listed cause"),
        min_value=0.005,
        max_value=0.1,
        help_text=gettext_lazy(
            "0.03: 3 in 100 plants show it for reasons not on the list. From 0.005 to 0.1."
        ),
    )
    source = SourceField()

    def prepare(self) -> None:
        super().prepare()
        self.fields["leaf_age"].choices = choices(words.LEAF_AGES, _("not about leaves"))  # type: ignore[attr-defined]

    def layout(self) -> Layout:
        code = () if self.old else ("code",)
        return Layout(
            "seen",
            Fold(_("What it is"), "name", *code, "plain", "definition", is_open=True),
            Fold(_("What growers say"), "synonyms", is_open=not self.old),
            Fold(_("Where it is seen"), "part", "leaf_age", "distribution", "group", is_open=not self.old),
            Fold(
                _("How it is checked"),
                Div("check_kind", "minutes", css_class="field-row"),
                "leak",
                is_open=not self.old,
            ),
            Fold(_("Where it is described"), "source", is_open=not self.old),
        )

    def filled(self, old: Entry) -> dict[str, Any]:
        return {**super().filled(old), "synonyms": "\n".join(old["synonyms"]), "check_kind": old["check"]}

    def piece(self) -> Entry:
        entry = super().piece()
        spoken = [" ".join(line.split()) for line in entry["synonyms"].splitlines()]
        entry["synonyms"] = list(dict.fromkeys(line for line in spoken if line))
        entry["check"] = entry.pop("check_kind")
        return {**entry, "leaf_age": entry["leaf_age"] or None, "group": entry["group"] or None}


class PracticeForm(EntryForm):
    texts = ("name", "definition")

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    definition = WordsField(label=gettext_lazy("When to tick it"))
    source = SourceField()

    def layout(self) -> Layout:
        return Layout("seen", "name", *(() if self.old else ("code",)), "definition", "source")


class ConditionForm(EntryForm):
    texts = ("name",)

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    reading = forms.ChoiceField(label=gettext_lazy("Reading"))
    edge = forms.ChoiceField(label=gettext_lazy("True when it is"))
    by = NumberField(
        label=gettext_lazy("by more than"),
        min_value=0,
        required=False,
        help_text=gettext_lazy(
            "In the unit of the reading. Only for an end of the crop's band; usually empty."
        ),
    )
    value = NumberField(
        label=gettext_lazy("the number"),
        required=False,
        help_text=gettext_lazy("Only for “above a number” and “below a number”."),
    )
    source = SourceField()
    note = WordsField(label=gettext_lazy("Note"), required=False)

    def prepare(self) -> None:
        super().prepare()
        self.fields["reading"].choices = choices(reading_names(), CHOOSE)  # type: ignore[attr-defined]
        self.fields["edge"].choices = choices(words.EDGES, CHOOSE)  # type: ignore[attr-defined]

    def layout(self) -> Layout:
        return Layout(
            "seen",
            "name",
            *(() if self.old else ("code",)),
            "reading",
            "edge",
            Div("by", "value", css_class="field-row"),
            "source",
            "note",
        )

    def filled(self, old: Entry) -> dict[str, Any]:
        number = old["above_value"] if old["above_value"] is not None else old["below_value"]
        return {**super().filled(old), "edge": edge_of(old), "by": old["by"] or None, "value": number}

    def clean(self) -> dict[str, Any]:
        found = super().clean()
        edge, number = found.get("edge", ""), found.get("value")
        if edge.endswith("_value"):
            if number is None and "value" not in self.errors:
                self.add_error("value", _("Write the number it is compared with."))
            if found.get("by"):
                self.add_error("by", _("A bare number needs none: write the number itself instead."))
        elif edge and number is not None:
            self.add_error("value", _("The crop's band gives the number. Leave this empty."))
        return found

    def piece(self) -> Entry:
        entry = super().piece()
        edge, number = entry.pop("edge"), entry.pop("value")
        side, _dot, end = edge.partition(".")
        entry |= dict.fromkeys(("above", "below", "above_value", "below_value"))
        entry[side] = end or number
        return {**entry, "by": entry["by"] or 0.0, "note": entry["note"] or None}


class SourceForm(EntryForm):
    code_name = "id"

    title = forms.CharField(label=gettext_lazy("Title"), min_length=3, max_length=300)
    authors = forms.CharField(label=gettext_lazy("Authors"), min_length=2, max_length=300)
    year = forms.IntegerField(label=gettext_lazy("Year"), min_value=1800, max_value=2100, required=False)
    publisher = forms.CharField(label=gettext_lazy("Publisher"), min_length=2, max_length=300)
    link = forms.CharField(label=gettext_lazy("Where it is found"), max_length=300, required=False)
    status = forms.ChoiceField(
        label=gettext_lazy("How far it was read"),
        choices=choices(words.STATUS_WORDS, CHOOSE),
        help_text=gettext_lazy("From memory means: recalled, not looked up."),
    )

    def layout(self) -> Layout:
        code = () if self.old else ("id",)
        return Layout(
            "seen",
            "authors",
            "title",
            *code,
            Div("year", "publisher", css_class="field-row"),
            "link",
            "status",
        )

    def spoken_name(self) -> str:
        first = str(self.cleaned_data.get("authors") or "").split(",")[0].split(" ")[-1]
        return f"{first} {' '.join(str(self.cleaned_data.get('title') or '').split()[:3])}"

    def piece(self) -> Entry:
        entry = super().piece()
        return {**entry, "link": entry["link"] or None}


ENTRY_FORMS: dict[str, type[EntryForm]] = {
    "causes": CauseForm,
    "findings": FindingForm,
    "practices": PracticeForm,
    "conditions": ConditionForm,
    "sources": SourceForm,
}
