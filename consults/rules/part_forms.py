"""The forms of one line of a cause: a finding it shows, a reading, a practice, a context, an action."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from consults.rules import words
from consults.rules.describe import CONTEXTS
from consults.rules.fields import CODE, FactorField, Fold, SourceField, WordsField, entries_offered
from consults.rules.piece_forms import CHOOSE, PieceForm, choices
from consults.rules.tables import PARTS, Entry
from consults.ruleset.schema import STRENGTHS
from garden.reference.loader import bundled_reference, text


class LinkForm(PieceForm):
    """A link to an entry of a table. What it links to is chosen once."""

    part = ""
    table = ""

    def __init__(self, *args: Any, cause: Entry, **kwargs: Any) -> None:
        self.cause = cause
        super().__init__(*args, **kwargs)

    def prepare(self) -> None:
        super().prepare()
        name = PARTS[self.part]
        if self.old is not None:
            del self.fields[name]
            return
        linked = {line[name] for line in self.cause[self.part]}
        self.fields[name].choices = entries_offered(self.tables, self.table, without=linked)  # type: ignore[attr-defined]


class FindingLinkForm(LinkForm):
    part, table = "findings", "findings"

    finding = forms.ChoiceField(label=gettext_lazy("Finding"))
    strength = forms.ChoiceField(label=gettext_lazy("How often it shows"), widget=forms.RadioSelect)
    source = SourceField()

    def prepare(self) -> None:
        super().prepare()
        strength = [(word, words.strength_explained(word)) for word in STRENGTHS]
        self.fields["strength"].choices = strength  # type: ignore[attr-defined]


class ReadingLinkForm(LinkForm):
    part, table = "readings", "conditions"

    condition = forms.ChoiceField(label=gettext_lazy("Reading condition"))
    if_true = FactorField(label=gettext_lazy("If it is so"))
    if_false = FactorField(label=gettext_lazy("If it is measured and not so"), help_text="", initial=1.0)
    source = SourceField()

    def layout(self) -> Layout:
        first = () if self.old else ("condition",)
        return Layout("seen", *first, "if_true", "if_false", "source")


class PracticeLinkForm(LinkForm):
    part, table = "practices", "practices"

    practice = forms.ChoiceField(label=gettext_lazy("Practice"))
    if_true = FactorField(label=gettext_lazy("If the grower does so"))
    source = SourceField()


class ContextForm(PieceForm):
    """Where a cause is more or less common. Lists that are ticked must all match."""

    LABELS = {
        "crops": gettext_lazy("Crops"),
        "profiles": gettext_lazy("Kinds of crop"),
        "stages": gettext_lazy("Stages of growth"),
        "systems": gettext_lazy("Growing systems"),
        "media": gettext_lazy("Media"),
    }

    factor = FactorField(label=gettext_lazy("There its odds are"))
    source = SourceField()

    def __init__(self, *args: Any, cause: Entry, **kwargs: Any) -> None:
        self.cause = cause
        super().__init__(*args, **kwargs)

    def prepare(self) -> None:
        super().prepare()
        for kind, label in self.LABELS.items():
            known, chosen = getattr(bundled_reference(), kind), (self.old or {}).get(kind, ())
            named = {code: text(entry.name) for code, entry in known.items()}
            named |= {code: code for code in chosen if code not in known}
            self.fields[f"in_{kind}"] = forms.MultipleChoiceField(
                label="",
                choices=choices(named),
                required=False,
                initial=list(chosen),
                widget=forms.CheckboxSelectMultiple(attrs={"aria-label": label}),
            )

    def layout(self) -> Layout:
        folds = []
        for kind, label in self.LABELS.items():
            chosen = (self.old or {}).get(kind, ())
            names = [name for code, name in self.fields[f"in_{kind}"].choices if code in chosen]  # type: ignore[attr-defined]
            folds.append(Fold(label, f"in_{kind}", is_open=bool(chosen), note=", ".join(names) or _("any")))
        return Layout("seen", *folds, "factor", "source")

    def clean(self) -> dict[str, Any]:
        found = self.cleaned_data
        if not any(found.get(f"in_{kind}") for kind in CONTEXTS):
            self.add_error(None, _("Tick at least one crop, stage, system or medium."))
        return found

    def piece(self) -> Entry:
        entry = super().piece()
        return {name.removeprefix("in_"): value for name, value in entry.items()}


class ActionForm(PieceForm):
    """Something to do. Where it applies and what it computes are kept as they are."""

    texts = ("text", "why", "stop_when")

    text = WordsField(label=gettext_lazy("What to do"), rows=3)
    why = WordsField(label=gettext_lazy("Why"))
    when = forms.ChoiceField(label=gettext_lazy("When"), choices=choices(words.TIMES, CHOOSE))
    stop_when = WordsField(
        label=gettext_lazy("When to stop"),
        required=False,
        help_text=gettext_lazy("What would show that it does harm or does not help."),
    )
    cautions = forms.MultipleChoiceField(
        label="",
        required=False,
        widget=forms.CheckboxSelectMultiple(attrs={"aria-label": gettext_lazy("Cautions")}),
    )
    buys = forms.BooleanField(label=gettext_lazy("The grower needs to buy something"), required=False)
    final = forms.BooleanField(
        label=gettext_lazy("It cannot be undone"),
        required=False,
        help_text=gettext_lazy("Such as throwing plants away."),
    )

    def __init__(self, *args: Any, cause: Entry, **kwargs: Any) -> None:
        self.cause = cause
        super().__init__(*args, **kwargs)

    def prepare(self) -> None:
        super().prepare()
        named = {entry["code"]: text(entry["text"]) for entry in self.tables["cautions"]}
        self.fields["cautions"].choices = choices(named)  # type: ignore[attr-defined]
        if self.old is None:
            self.fields["code"] = forms.RegexField(
                CODE,
                label=_("Code"),
                max_length=60,
                help_text=_("A few words joined by hyphens, such as “let-pot-dry”."),
                error_messages={"invalid": _("Use small letters, digits and single hyphens.")},
            )

    def layout(self) -> Layout:
        first = () if self.old else ("code",)
        count = len((self.old or {}).get("cautions", ()))
        note = ngettext("%(n)d chosen", "%(n)d chosen", count) % {"n": count}
        cautions = Fold(_("Cautions"), "cautions", note=note)
        return Layout("seen", *first, "text", "why", "when", "stop_when", cautions, "buys", "final")

    def filled(self, old: Entry) -> dict[str, Any]:
        words_ = {name: text(old[name]) if old[name] else "" for name in self.texts}
        return {**super().filled(old), **words_, "final": not old.get("reversible", True)}

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        for cause in self.tables["causes"]:
            if any(action["code"] == code for action in cause["actions"]):
                message = _("“%(name)s” has an action of this code. The same code means the same action.")
                raise forms.ValidationError(message % {"name": text(cause["name"])})
        return code

    def piece(self) -> Entry:
        entry = super().piece()
        for name in self.texts:
            known = (self.old or {}).get(name) or {}
            entry[name] = {**known, "en": entry[name]} if entry[name] else None
        entry["reversible"] = not entry.pop("final")
        return entry


PART_FORMS: dict[str, type[LinkForm | ContextForm | ActionForm]] = {
    "findings": FindingLinkForm,
    "readings": ReadingLinkForm,
    "practices": PracticeLinkForm,
    "prior_factors": ContextForm,
    "actions": ActionForm,
}
