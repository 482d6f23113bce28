"""What every page may ask: the shop's name and what the signed-in person may do."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from consults.shop.selectors import shop_get
from garden.access import Right, can


class _May:
    """`{% if may.issue_plans %}` in a template."""

    def __init__(self, user: Any) -> None:
        self._user = user

    def __getattr__(self, name: str) -> bool:
        return can(self._user, Right[name.upper()])


def shop(request: HttpRequest) -> dict[str, Any]:
    shop_row = getattr(request, "shop", None) or SimpleLazyObject(shop_get)
    return {"shop": shop_row, "may": _May(getattr(request, "user", None))}
