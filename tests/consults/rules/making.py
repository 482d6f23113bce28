"""A draft to test with, and ways to change it."""

import json

from django.urls import reverse

from consults.models.rules import RulesDraft
from consults.rules.drafts import draft_change, draft_start
from consults.rules.tables import find, load
from tests.factories import make_staff


def make_draft(by=None, change=None):
    """The shop's draft, changed by `change(tables)` when one is given."""
    by = by or make_staff("manager")
    draft_start(by=by)
    if change is not None:
        draft_change(by=by, change=change)
    return RulesDraft.objects.get()


def drafted(table, code):
    """An entry of the draft as it is now."""
    return find(load(RulesDraft.objects.get().content), table, code)


def form_of(client, name, *args):
    """The fields of a form as a browser would send them back untouched."""
    form = client.get(reverse(name, args=args)).context["form"]
    sent = {}
    for bound in form:
        value = bound.value()
        if value is None or value is False:
            continue
        sent[bound.html_name] = "on" if value is True else value
    return sent


def raise_prior(code, word):
    """A change that makes one cause as common as `word`."""

    def change(tables):
        find(tables, "causes", code)["prior"] = word

    return change


def break_link(tables):
    """A change the loader has something against: a link to a finding nobody knows."""
    find(tables, "causes", "overwatering")["findings"][0]["finding"] = "no-such-sign"


def json_of(tables):
    return json.dumps(tables)
