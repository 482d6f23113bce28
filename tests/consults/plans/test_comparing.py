"""Two versions of a plan, line by line and word by word."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from consults.plans.comparing import Change, PlanLine, compare_lines, word_pieces
from consults.plans.services import action_add, action_edit, plan_issue, plan_revise, plan_tell
from garden.access import Role
from tests.consults.plans.making import make_issued
from tests.factories import client_of, make_staff

WORDS = st.lists(st.sampled_from(["water", "the", "pot", "daily", "less"]), max_size=8).map(" ".join)
LINES = st.lists(
    st.builds(
        PlanLine,
        code=st.sampled_from(["", "a", "b", "c"]),
        when=st.sampled_from(["today", "later"]),
        text=WORDS.filter(bool),
        quantity=WORDS,
    ),
    max_size=6,
).filter(lambda lines: len([x for x in lines if x.code]) == len({x.code for x in lines if x.code}))


@given(WORDS, WORDS)
def test_the_pieces_make_up_the_new_text_and_the_old_one(old: str, new: str) -> None:
    pieces = word_pieces(old, new)
    assert " ".join(piece.text for piece in pieces if piece.kind != "removed") == new
    assert " ".join(piece.text for piece in pieces if piece.kind != "added") == old


@given(LINES, LINES)
def test_every_line_of_both_versions_stands_once(old: list[PlanLine], new: list[PlanLine]) -> None:
    changes = compare_lines(old, new)
    assert [change.new for change in changes if change.new] == new
    assert sorted(map(repr, (c.old for c in changes if c.old))) == sorted(map(repr, old))
    for change in changes:
        kinds = {"added": (False, True), "removed": (True, False)}
        assert (change.old is not None, change.new is not None) == kinds.get(change.kind, (True, True))
        assert (change.kind == "same") == (change.old == change.new or _same_words(change))
        if change.old and change.new:
            assert change.old.code == change.new.code


def _same_words(change: Change) -> bool:
    return all(piece.kind == "same" for pieces in change.parts.values() for piece in pieces)


@given(LINES)
def test_a_version_beside_itself_has_no_change(lines: list[PlanLine]) -> None:
    assert {change.kind for change in compare_lines(lines, lines)} <= {"same"}


def test_a_line_of_our_own_is_known_again_by_most_of_its_words() -> None:
    old = [PlanLine("", "today", "Ring us tonight before eight."), PlanLine("", "today", "Wash the tray.")]
    new = [PlanLine("", "today", "Ring us tonight before nine."), PlanLine("", "later", "Buy a lamp.")]
    assert [change.kind for change in compare_lines(old, new)] == ["changed", "added", "removed"]


# --- the page -------------------------------------------------------------------------------------


def next_version() -> Any:
    first = make_issued()
    draft = plan_revise(plan=first, by=make_staff())
    lines = list(draft.actions.filter(included=True))
    action_edit(action=lines[0], included=True, when=lines[0].when, text=lines[0].text + " Twice.",
                quantity="two cups")  # fmt: skip
    action_edit(action=lines[1], included=False, when=lines[1].when, text=lines[1].text,
                quantity=lines[1].quantity)  # fmt: skip
    action_add(plan=draft, when="today", text="Ring us tonight.")
    plan_tell(plan=draft, greeting="Chin up.", look_again_on=draft.look_again_on)
    return first, draft, lines


@pytest.mark.django_db
def test_the_page_shows_what_was_added_removed_and_changed_in_words_and_marks() -> None:
    _first, draft, lines = next_version()
    page = client_of(Role.CONSULTANT).get(reverse("plan-compare", args=[draft.pk])).content.decode()
    plain = re.sub(r"\s+", " ", page)
    assert "From version 1 to version 2" in plain
    assert re.search(r"<ins>.*?Twice\..*?</ins>", plain)
    assert re.search(r"<ins>.*?two cups.*?</ins>", plain)
    assert re.search(r"<ins>.*?Chin up\..*?</ins>", plain)
    assert "+ added" in plain and "− removed" in plain and "≠ changed" in plain
    assert "[added:" in plain and "[removed:" in plain, "said to a reader that sees no marks"
    assert lines[1].text.split()[0] in plain


@pytest.mark.django_db
def test_the_plan_and_its_draft_lead_to_the_comparison_and_the_first_version_has_none() -> None:
    first, draft, _lines = next_version()
    client = client_of(Role.CONSULTANT)
    address = reverse("plan-compare", args=[draft.pk])
    assert address in client.get(reverse("plan-edit", args=[draft.pk])).content.decode()
    issued = plan_issue(plan=draft, by=make_staff(), send_email=False)
    assert address in client.get(reverse("plan", args=[issued.pk])).content.decode()
    assert client.get(address).status_code == 200
    nothing = client.get(reverse("plan-compare", args=[first.pk]))
    assert nothing.headers["Location"] == reverse("plan", args=[first.pk])


@pytest.mark.django_db
def test_another_earlier_version_can_be_chosen_and_nonsense_gives_the_one_before() -> None:
    _first, draft, _lines = next_version()
    second = plan_issue(plan=draft, by=make_staff(), send_email=False)
    third = plan_revise(plan=second, by=make_staff())
    client, address = client_of(Role.CONSULTANT), reverse("plan-compare", args=[third.pk])
    assert "Both versions say the same" in client.get(address).content.decode()
    assert "From version 1 to version 3" in client.get(address + "?with=1").content.decode()
    assert "From version 2 to version 3" in client.get(address + "?with=zz").content.decode()


@pytest.mark.django_db
def test_a_draft_is_compared_only_by_who_may_draft() -> None:
    _first, draft, _lines = next_version()
    address = reverse("plan-compare", args=[draft.pk])
    assert client_of(Role.COUNTER).get(address).status_code == 403
    assert Client().get(address).status_code == 302
    issued = plan_issue(plan=draft, by=make_staff(), send_email=False)
    assert client_of(Role.COUNTER).get(reverse("plan-compare", args=[issued.pk])).status_code == 200
    assert client_of(Role.COUNTER).post(address).status_code == 405
