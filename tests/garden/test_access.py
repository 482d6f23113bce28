"""Which role has which right, written out."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.test import RequestFactory

from garden.access import RIGHTS, Right, Role, can, check_right, right_required
from garden.models import Staff

#                         counter  consultant  manager
TABLE = {
    "log-questions":     (True,    True,       True),
    "edit-growers":      (True,    True,       True),
    "edit-cases":        (True,    True,       True),
    "draft-plans":       (False,   True,       True),
    "issue-plans":       (False,   True,       True),
    "confirm-causes":    (False,   True,       True),
    "edit-rules":        (False,   False,      True),
    "edit-profiles":     (False,   False,      True),
    "edit-prices":       (False,   False,      True),
    "edit-staff":        (False,   False,      True),
    "edit-settings":     (False,   False,      True),
    "edit-shelf":        (False,   False,      True),
    "edit-wording":      (False,   False,      True),
    "keep-records":      (False,   False,      True),
}  # fmt: skip
ROLES = ("counter", "consultant", "manager")


def test_each_role_has_exactly_the_rights_of_the_table() -> None:
    found = {
        right.value: tuple(can(Staff(role=role, username=role), right) for role in ROLES) for right in Right
    }
    assert found == TABLE


def test_the_table_names_every_role_and_every_right_once() -> None:
    assert tuple(role.value for role in Role) == ROLES
    assert set(RIGHTS) == set(Role)
    assert [right.value for right in Right] == list(TABLE)


@pytest.mark.parametrize("right", Right)
def test_nobody_signed_in_and_nobody_who_left_has_any_right(right: Right) -> None:
    assert not can(AnonymousUser(), right)
    assert not can(None, right)
    assert not can(Staff(role=Role.MANAGER, is_active=False), right)
    assert not can(Staff(role="owner"), right)


@pytest.mark.parametrize("right", Right)
def test_a_missing_right_is_refused_with_a_sentence_naming_it(right: Right) -> None:
    with pytest.raises(PermissionDenied, match=f"does not let you {right.label}. Ask a colleague"):
        check_right(AnonymousUser(), right)
    check_right(Staff(role=Role.MANAGER), right)


def test_a_guarded_view_runs_only_for_who_has_the_right() -> None:
    @right_required(Right.EDIT_RULES)
    def view(request: object) -> HttpResponse:
        return HttpResponse("in")

    request = RequestFactory().get("/")
    request.user = Staff(role=Role.MANAGER)
    assert view(request).content == b"in"
    request.user = Staff(role=Role.CONSULTANT)
    with pytest.raises(PermissionDenied):
        view(request)
