"""Finds growers and reads their gardens."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery
from django.utils.translation import get_language

from garden.models import Garden, Grower, Planting, Space
from garden.models.growers import phone_digits
from garden.reference.loader import load_reference, name_of_crop

PAGE = 25
# Two ways of writing one number share their last digits: "+43 664 555 0107" and "0664 5550107".
_TAIL = 8
_PHONE_LIKE = re.compile(r"[\d\s()+./\-–]+")


def looks_like_phone(typed: str) -> bool:
    """True for digits with what people put between them, such as "+1 (555) 010-7788"."""
    return bool(_PHONE_LIKE.fullmatch(typed.strip())) and len(phone_digits(typed)) >= 3


@dataclass(frozen=True)
class GrowerPage:
    """One page of growers and, when there is more, the row to go on from."""

    growers: list[Grower]
    after: Grower | None


def growers_page(*, query: str = "", after_name: str = "", after_pk: int | None = None) -> GrowerPage:
    """Growers by name, those that fit the query, from the given row on. One database query."""
    rows = _with_last_garden(growers_matching(query)).order_by("name", "pk")
    if after_pk is not None:
        rows = rows.filter(Q(name__gt=after_name) | Q(name=after_name, pk__gt=after_pk))
    found = list(rows[: PAGE + 1])
    for row in found:
        row.last_crop_name = crop_name(row.last_crop or "")  # type: ignore[attr-defined]
    return GrowerPage(found[:PAGE], found[PAGE - 1] if len(found) > PAGE else None)


def growers_matching(query: str) -> QuerySet[Grower]:
    """Growers whose name has all the words, or whose phone or email fits."""
    query = query.replace("\x00", "").strip()[:200]
    if not query:
        return Grower.objects.all()
    if looks_like_phone(query):
        return Grower.objects.filter(_phone_fits(phone_digits(query)))
    if "@" in query:
        return Grower.objects.filter(email__icontains=query)
    condition = Q()
    for word in query.split()[:8]:
        condition &= contains("name", word) | Q(email__icontains=word)
    return Grower.objects.filter(condition)


def growers_alike(*, phone: str, email: str, besides: int | None = None) -> list[Grower]:
    """Other growers with the same phone number, however written, or the same email address."""
    digits = phone_digits(phone)
    condition = Q(pk__in=[])
    if len(digits) >= _TAIL:
        condition |= Q(phone_digits__endswith=digits[-_TAIL:])
    elif digits:
        condition |= Q(phone_digits=digits)
    if email:
        condition |= Q(email__iexact=email)
    found = Grower.objects.filter(condition)
    return list((found if besides is None else found.exclude(pk=besides))[:5])


def grower_with_gardens(pk: int) -> Grower | None:
    """A grower with all that the page about them shows, in a fixed number of queries."""
    plantings = Prefetch("plantings", Planting.objects.order_by("-pk"))
    spaces = Prefetch("spaces", Space.objects.prefetch_related(plantings, "lamps"))
    gardens = Prefetch("gardens", Garden.objects.prefetch_related(spaces, "waters", "feeds").order_by("-pk"))
    return Grower.objects.select_related("email_consent_by").prefetch_related(gardens).filter(pk=pk).first()


def crop_name(crop: str) -> str:
    """The name of a crop for people: of a known code its name, of anything else what was typed."""
    return name_of_crop(crop, get_language() or "en")


def crop_code(typed: str) -> str:
    """The code of the crop whose code, name or Latin name was typed; else what was typed."""
    wanted = typed.strip().casefold()
    for code, crop in load_reference().crops.items():
        names: Iterable[str] = (code, *crop.name.values(), getattr(crop, "latin", None) or code)
        if wanted in {name.casefold() for name in names}:
            return code
    return typed.strip()


def _phone_fits(digits: str) -> Q:
    condition = Q(phone_digits__contains=digits.lstrip("0") or digits)
    if len(digits) >= _TAIL:
        condition |= Q(phone_digits__endswith=digits[-_TAIL:])
    return condition


def contains(field: str, word: str) -> Q:
    """Rows whose text field holds the word, in any case, on every database."""
    condition = Q(**{f"{field}__icontains": word})
    if not word.isascii():
        # SQLite folds the case of ASCII letters only.
        for form in (word.lower(), word.upper(), word.capitalize()):
            condition |= Q(**{f"{field}__contains": form})
    return condition


def _with_last_garden(growers: QuerySet[Grower]) -> QuerySet[Grower]:
    last_garden = Garden.objects.filter(grower=OuterRef("pk")).order_by("-pk")
    last_planting = Planting.objects.filter(space__garden__grower=OuterRef("pk")).order_by("-pk")
    return growers.annotate(
        last_garden_pk=Subquery(last_garden.values("pk")[:1]),
        last_garden_name=Subquery(last_garden.values("name")[:1]),
        last_crop=Subquery(last_planting.values("crop")[:1]),
    )
