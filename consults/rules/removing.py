"""Taking an entry out of the draft, and bringing it back: what a published code goes on as."""

import json
from typing import Any

from crispy_forms.layout import Layout, Submit
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from consults.errors import DeskError
from consults.models import RulesetVersion
from consults.rules import words
from consults.rules.describe import name_of
from consults.rules.fields import entries_offered
from consults.rules.selectors import ruleset_current
from consults.rules.tables import Entry, Tables, body, find, fingerprint, load, normal, standing_on
from garden.forms import desk_helper


class RemoveForm(forms.Form):
    """Asks once. A cause that was ever published may go on as an alias of another one."""

    seen = forms.CharField(widget=forms.HiddenInput)
    successor = forms.ChoiceField(
        label=gettext_lazy("What takes its place"),
        required=False,
        help_text=gettext_lazy(
            "Old cases that were found to be this cause then count as cases of the one chosen here. Its code "
            "stays with that cause as a second name."
        ),
    )

    def __init__(
        self, *args: Any, tables: Tables, table: str, entry: Entry, published: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if table == "causes" and published:
            others = entries_offered(tables, "causes", without={entry["code"]})[1:]
            none = ("", _("Nothing: it is no longer ranked"))
            self.fields["successor"].choices = [none, *others]  # type: ignore[attr-defined]
        else:
            del self.fields["successor"]
        self.fields["seen"].initial = fingerprint(body(entry) if table == "causes" else entry)
        self.helper = desk_helper(Layout(*self.fields), button="", tag=False)
        self.helper.add_input(Submit("save", _("Remove from the draft"), css_class="btn-tag"))


def remove_refused(tables: Tables, table: str, code: str) -> list[tuple[str, str]]:
    """The entries that stand on this one, as (where, name); empty when it may go."""
    found = []
    for place in standing_on(tables, table, code):
        entry = find(tables, place.table, place.code)
        if entry is not None:
            found.append((place, f"{words.ONE_OF[place.table]}: {name_of(place.table, entry)}"))
    return list(dict.fromkeys((_url(place.table, place.code), name) for place, name in found))


def _url(table: str, code: str) -> str:
    from django.urls import reverse

    return reverse("rules-entry", args=[table, code]) if table in words.TABLES else ""


def entry_restore(tables: Tables, table: str, code: str) -> None:
    """Put an entry back as the rules in force have it, else as the newest published version has it.

    Its code stops being a second name of another cause. Raises DeskError.
    """
    if find(tables, table, code) is not None:
        raise DeskError(_("It is in the draft already."))
    entry = _last_published(table, code)
    if entry is None:
        raise DeskError(_("No published rules have this entry."))
    tables[table].append(normal(table, entry))
    for cause in tables["causes"] if table == "causes" else ():
        cause["aliases"] = [alias for alias in cause["aliases"] if alias != code]


def _last_published(table: str, code: str) -> Entry | None:
    found = find(load(ruleset_current().to_json()), table, code)
    if found is not None:
        return found
    rows = RulesetVersion.objects.filter(published_at__isnull=False).order_by("-published_at", "-pk")
    for content in rows.values_list("content", flat=True).iterator(chunk_size=1):
        for old in json.loads(content).get(table, []):
            if old.get("code", old.get("id")) == code:
                return dict(old)
    return None
