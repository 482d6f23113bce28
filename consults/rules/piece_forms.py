"""What every form of a piece of the rules has in common."""

from collections.abc import Callable, Mapping
from typing import Any

from crispy_forms.layout import Layout
from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from pydantic import ValidationError

from consults.rules.fields import CODE, SourceField
from consults.rules.tables import NEW, Entry, Tables, fingerprint, key_of
from garden.forms import desk_helper
from garden.reference.loader import text

# First of a list from which somebody must choose: what stands first is not said by merely not looking.
CHOOSE = gettext_lazy("Choose …")


def choices(named: Mapping[Any, Any], empty: Any = None) -> list[tuple[str, Any]]:
    """A vocabulary to choose from, with an empty choice first when one is named."""
    pairs: list[tuple[str, Any]] = [(str(code), name) for code, name in named.items()]
    return pairs if empty is None else [("", empty), *pairs]


def put_text(old: Entry | None, field: str, value: str) -> dict[str, str] | None:
    """A text with its English version changed; other languages stay. None when nothing is said."""
    known = (old or {}).get(field) or {}
    return {**known, "en": value} if value else None


class PieceForm(forms.Form):
    """A form of one piece. `old` is the piece as it stands (None: a new one), `tables` the whole draft.

    `seen` carries the fingerprint of what the form was opened with, so that a save over somebody else's
    change is noticed.
    """

    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, tables: Tables, old: Entry | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tables, self.old = tables, old
        self.fields["seen"].initial = fingerprint(old)
        if old is not None:
            self.initial.update(self.filled(old))
        self.prepare()
        self.helper = desk_helper(self.layout(), tag=False)

    def prepare(self) -> None:
        """Set choices that hang on the rules."""
        for field in self.fields.values():
            if isinstance(field, SourceField):
                field.offer(self.tables)

    def layout(self) -> Layout:
        """The fields in their order."""
        return Layout(*self.fields)

    def filled(self, old: Entry) -> dict[str, Any]:
        """The fields as the piece has them."""
        return {name: old.get(name) for name in self.fields if name != "seen"}

    def piece(self) -> Entry:
        """The piece that the valid form says."""
        return {**(self.old or {}), **{n: v for n, v in self.cleaned_data.items() if n != "seen"}}

    @property
    def seen_mark(self) -> str:
        """The fingerprint sent with the form."""
        return str(self.cleaned_data.get("seen", NEW))

    def show_problems(self, error: ValidationError) -> None:
        """Put what the schema has against the piece beside its fields."""
        for detail in error.errors(include_url=False):
            places = [str(step) for step in detail["loc"]]
            field = next(
                (name for name in ("_".join(places), *reversed(places)) if name in self.fields), None
            )
            message = str(detail["ctx"]["error"]) if detail["type"] == "value_error" else detail["msg"]
            self.add_error(field, message if field else f"{'.'.join(places)}: {message}")


class EntryForm(PieceForm):
    """A form of a whole entry. A new one gets a code, which then stays."""

    code_name = "code"
    texts: tuple[str, ...] = ()

    def __init__(self, *args: Any, refuse: Callable[[str], str | None] | None = None, **kwargs: Any) -> None:
        self.refuse = refuse
        super().__init__(*args, **kwargs)

    def prepare(self) -> None:
        super().prepare()
        if self.old is None:
            self.fields[self.code_name] = forms.RegexField(
                CODE,
                label=_("Code"),
                max_length=60,
                required=False,
                help_text=_(
                    "Small letters and digits joined by hyphens. It never changes once published. "
                    "Left empty it is made from the name."
                ),
                error_messages={"invalid": _("Use small letters, digits and single hyphens.")},
            )

    def filled(self, old: Entry) -> dict[str, Any]:
        values = super().filled(old)
        return {**values, **{name: text(old[name]) if old.get(name) else "" for name in self.texts}}

    def clean(self) -> dict[str, Any]:
        found = self.cleaned_data
        if self.old is None and self.code_name not in self.errors:
            code = found.get(self.code_name) or slugify(self.spoken_name()).replace("_", "-")[:60].strip("-")
            found[self.code_name] = code
            problem = self.refuse(code) if self.refuse and code else None
            if not code and self.spoken_name().strip():
                problem = _("Write a code: the name makes none.")
            if problem:
                self.add_error(self.code_name, problem)
        return found

    def spoken_name(self) -> str:
        """What a code is made from."""
        return str(self.cleaned_data.get("name") or "")

    def piece(self) -> Entry:
        entry = super().piece()
        entry |= {name: put_text(self.old, name, entry[name]) for name in self.texts}
        if self.old is not None:
            entry[self.code_name] = key_of(self.old)
        return entry
