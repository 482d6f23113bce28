"""Who may do what: one table for the whole house.

`check_right` raises with a reason, `can` answers yes or no; views call the first, templates ask the second.
"""

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, cast

from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import HttpRequest, HttpResponseBase
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from garden.models import Staff


class Role(models.TextChoices):
    COUNTER = "counter", _("Counter")
    CONSULTANT = "consultant", _("Consultant")
    MANAGER = "manager", _("Manager")


class Right(models.TextChoices):
    LOG_QUESTIONS = "log-questions", _("log questions")
    EDIT_GROWERS = "edit-growers", _("enter and change growers and gardens")
    EDIT_CASES = "edit-cases", _("enter findings, readings and photos in a case")
    DRAFT_PLANS = "draft-plans", _("prepare a plan")
    ISSUE_PLANS = "issue-plans", _("issue and send a plan")
    CONFIRM_CAUSES = "confirm-causes", _("confirm the cause of a case")
    EDIT_RULES = "edit-rules", _("change the rules of diagnosis")
    EDIT_PROFILES = "edit-profiles", _("change the shop's own crop profiles")
    EDIT_PRICES = "edit-prices", _("change prices")
    EDIT_STAFF = "edit-staff", _("add staff and change their roles")
    EDIT_SETTINGS = "edit-settings", _("change the shop's settings")
    EDIT_SHELF = "edit-shelf", _("change what stands on the shop's shelf")
    EDIT_WORDING = "edit-wording", _("change the shop's own words in plans")
    KEEP_RECORDS = "keep-records", _("hand out or erase what is held about a grower")


_COUNTER = frozenset({Right.LOG_QUESTIONS, Right.EDIT_GROWERS, Right.EDIT_CASES})
_CONSULTANT = _COUNTER | {Right.DRAFT_PLANS, Right.ISSUE_PLANS, Right.CONFIRM_CAUSES}

RIGHTS: dict[Role, frozenset[Right]] = {
    Role.COUNTER: _COUNTER,
    Role.CONSULTANT: _CONSULTANT,
    Role.MANAGER: frozenset(Right),
}


def can(user: Any, right: Right) -> bool:
    """True when this person's role carries the right. Nobody signed in has none."""
    role = getattr(user, "role", None)
    return bool(getattr(user, "is_active", False)) and role in RIGHTS and right in RIGHTS[Role(role)]


def check_right(user: Any, right: Right) -> None:
    """Raise PermissionDenied with a sentence for the person when the right is missing."""
    if not can(user, right):
        raise PermissionDenied(
            _("Your role does not let you %(what)s. Ask a colleague who may, or the manager.")
            % {"what": right.label}
        )


def right_required(
    right: Right,
) -> Callable[[Callable[..., HttpResponseBase]], Callable[..., HttpResponseBase]]:
    """Guard a view by a right of the table above."""

    def guard(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            check_right(request.user, right)
            return view(request, *args, **kwargs)

        guarded.right = right  # type: ignore[attr-defined]
        return guarded

    return guard


def staff_of(request: HttpRequest) -> "Staff":
    """The signed-in person. Views are behind the login, so there always is one."""
    return cast("Staff", request.user)
