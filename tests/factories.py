"""Small makers of rows for tests: what is not said is invented and harmless."""

import io
import itertools
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from consults.choices import PlanStatus
from consults.models import Case, FollowUp, Plan, Question
from garden.access import Role
from garden.models import Garden, Grower, Photo, Planting, Space, Staff
from garden.photos.services import photo_add

_number = itertools.count(1)
PASSWORD = "only-for-tests-9"


def make_staff(role: str = Role.CONSULTANT, **values: Any) -> Staff:
    username = values.pop("username", f"{role}{next(_number)}")
    return Staff.objects.create_user(username, password=values.pop("password", PASSWORD), role=role, **values)


def make_grower(**values: Any) -> Grower:
    return Grower.objects.create(**{"name": f"Grower {next(_number)}", **values})


def make_garden(grower: Grower | None = None, **values: Any) -> Garden:
    """A garden with one space, and nothing in it."""
    garden = Garden.objects.create(grower=grower or make_grower(), **values)
    Space.objects.create(garden=garden, kind="tent", length_m=1.5, width_m=0.9, height_m=1.9)
    return garden


def make_planting(grower: Grower | None = None, **values: Any) -> Planting:
    """A planting of basil in pots, in a garden of its own."""
    space = values.pop("space", None) or make_garden(grower).spaces.get()
    defaults = {
        "crop": "basil",
        "stage": "vegetative",
        "bbch_principal": 3,
        "system": "hand-watered-pot",
        "medium": "peat-perlite",
        "container_l": 3.0,
        "plants": 6,
    }
    return Planting.objects.create(space=space, **{**defaults, **values})


def make_question(**values: Any) -> Question:
    return Question.objects.create(**{"words": "Why do the leaves turn yellow?", **values})


def make_case(planting: Planting | None = None, **values: Any) -> Case:
    planting = planting or make_planting()
    return Case.objects.create(grower=planting.space.garden.grower, planting=planting, **values)


def make_plan(case: Case | None = None, **values: Any) -> Plan:
    """A draft, unless another status is given together with what an issued plan needs."""
    return Plan.objects.create(
        **{"case": case or make_case(), "version": 1, "status": PlanStatus.DRAFT, **values}
    )


def make_follow_up(due_on: Any, plan: Plan | None = None) -> FollowUp:
    return FollowUp.objects.create(plan=plan or make_plan(), due_on=due_on)


def picture_bytes(kind: str = "JPEG", size: tuple[int, int] = (64, 48), **options: Any) -> bytes:
    """A small picture, left half green and right half red, as a file of some kind."""
    image = Image.new("RGB", size, (30, 140, 40))
    image.paste((200, 40, 30), (size[0] // 2, 0, size[0], size[1]))
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def make_upload(
    data: bytes | None = None, name: str = "leaf.jpg", kind: str = "image/jpeg"
) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, picture_bytes() if data is None else data, kind)


def make_photo(planting: Planting | None = None, **values: Any) -> Photo:
    size = (64 + 2 * next(_number), 48)  # every photo another one
    upload = make_upload(picture_bytes(size=size))
    return photo_add(planting=planting or make_planting(), upload=upload, by=None, **values)


def client_of(role: str = Role.CONSULTANT, **values: Any) -> Client:
    """A browser with somebody of this role signed in."""
    return signed_in(make_staff(role, **values))


def signed_in(person: Staff) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def queries_of(client: Client, url: str) -> int:
    """How many times the database is asked for this page."""
    with CaptureQueriesContext(connection) as asked:
        assert client.get(url).status_code == 200
    return len(asked)
