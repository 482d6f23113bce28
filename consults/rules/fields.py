"""What the forms of the rules are made of: a folding section, a number with a comma, a source to choose."""

from typing import Any

from crispy_forms.layout import Fieldset
from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.rules.describe import name_of
from consults.rules.tables import Tables, key_of
from consults.ruleset.schema import FACTOR_MAX, FACTOR_MIN
from garden.reference.schema import NO_SOURCE

MOST_WORDS = 2000
CODE = r"^[a-z0-9]+(-[a-z0-9]+)*$"


class Fold(Fieldset):  # type: ignore[misc]
    """A section that folds. It stands open when asked to, or when something in it is to be mended."""

    template = "rules/_fold.html"

    def __init__(
        self, legend: Any, *fields: Any, is_open: bool = False, note: Any = "", **kwargs: Any
    ) -> None:
        super().__init__(legend, *fields, **kwargs)
        self.is_open, self.note = is_open, note

    def render(self, form: Any, context: Any, template_pack: Any = None, **kwargs: Any) -> Any:
        names = [pointer.name for pointer in self.get_field_names()]
        self.shown_open = self.is_open or any(name in form.errors for name in names)
        return super().render(form, context, **kwargs)


class WordsField(forms.CharField):
    """A sentence or two."""

    def __init__(self, *, rows: int = 2, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", MOST_WORDS)
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **kwargs)


class NumberField(forms.FloatField):
    """A number; a comma is as good as a point."""

    widget = forms.TextInput

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.widget.attrs["inputmode"] = "decimal"

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # the stubs promise a whole
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return f"{value:g}" if isinstance(value, float) else value


class FactorField(NumberField):
    """Odds factor from 1/8 to 8."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", factor_help())
        super().__init__(min_value=FACTOR_MIN, max_value=FACTOR_MAX, **kwargs)


def factor_help() -> Any:
    """What an odds factor means."""
    return format_lazy(
        "{0} {1}",
        gettext_lazy("4: four times the odds. 1: says nothing. 0.25: a quarter of the odds."),
        gettext_lazy("From 0.125 to 8."),
    )


class SourceField(forms.ChoiceField):
    """A source of the rules, or the plain statement that there is none. Nothing is chosen beforehand."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", gettext_lazy("Source"))
        kwargs.setdefault(
            "help_text",
            gettext_lazy("Who published it. What nobody published is common practice, and says so."),
        )
        kwargs.setdefault(
            "error_messages",
            {"required": gettext_lazy("Choose a source, or say that it is common practice without one.")},
        )
        super().__init__(**kwargs)

    def offer(self, tables: Tables) -> None:
        """Offer the sources of these rules."""
        known = sorted(
            ((key_of(entry), _short(name_of("sources", entry))) for entry in tables["sources"]),
            key=lambda pair: pair[1].casefold(),
        )
        self.choices = [("", _("Choose …")), (NO_SOURCE, _("Common practice, no source")), *known]


def _short(name: str) -> str:
    return name if len(name) <= 90 else f"{name[:89]}…"


def entries_offered(tables: Tables, table: str, *, without: set[str] = frozenset()) -> list[tuple[str, str]]:  # type: ignore[assignment]
    """Codes and names of a table by name, to choose from."""
    pairs = [
        (key_of(entry), _short(name_of(table, entry)))
        for entry in tables[table]
        if key_of(entry) not in without
    ]
    return [("", _("Choose …")), *sorted(pairs, key=lambda pair: pair[1].casefold())]
