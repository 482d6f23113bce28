"""Everything the shop holds about one grower, as one ZIP file: to read, and for a program to read.

`grower.json` has the form below; what is in it is documented in the README.txt beside it, for people, and in
`EXPORT_FIELDS`, which a test holds to what is written. A change of the form raises `FORMAT`.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import IO, Any

from django.core.files.storage import default_storage
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.utils.translation import ngettext

from consults.cases.rows import casefile_from_rows
from consults.models import Case, Plan
from consults.shop.selectors import shop_get
from garden.models import Grower, Staff
from reports.keeping.belongings import Belonging, belongings

FORMAT = 1
EXPORT_FIELDS = {
    "grower_export": _lazy("the version of this form, a whole number"),
    "made_at": _lazy("when this file was made, ISO 8601"),
    "shop": _lazy("who holds these data"),
    "records": _lazy("rows by kind, with all columns; a column ending in _id names a row of another kind"),
    "history": _lazy("earlier states of rows; history_type: + is entered, ~ changed, - removed"),
    "case_files": _lazy("each case as a case file, by the id of the case"),
    "staff": _lazy("names of those who entered something, by the ids that stand in the rows"),
    "files": _lazy("the files beside this one: path, SHA-256, bytes, kind and id of the row, hash as noted"),
    "missing": _lazy("files that a row names and that are not there any more"),
}
# Of each kind, the files to hand out, and where. Small copies of photos are not handed out.
_FOLDERS = {"image": "photos", "file": "documents"}
_CHUNK = 1 << 16


@dataclass
class Exported:
    """What went into the file: rows by kind, files, and files that should have and are gone."""

    records: dict[str, int] = field(default_factory=dict)
    files: int = 0
    missing: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _File:
    path: str
    stored: str
    kind: str
    row: int
    noted: str


def export_name(grower: Grower, now: datetime | None = None) -> str:
    return f"grower-{grower.pk}-{timezone.localdate(now):%Y-%m-%d}.zip"


def export_grower(*, grower: Grower, out: IO[bytes], now: datetime | None = None) -> Exported:
    """Write the ZIP file of a grower to `out`. Files are copied piece by piece."""
    now = now or timezone.now()
    shares = list(belongings(grower.pk))
    done = Exported()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        listed, sums = [], []
        for file in _files(shares):
            copied = _copy(archive, file)
            if copied is None:
                done.missing.append(file.path)
                continue
            listed.append({**copied, "kind": file.kind, "id": file.row, "noted_sha256": file.noted})
            sums.append(f"{copied['sha256']}  {file.path}\n")
        content = _content(grower, shares, now)
        content["files"], content["missing"] = listed, done.missing
        done.records = {kind: len(rows) for kind, rows in content["records"].items()}
        done.files = len(listed)
        raw = json.dumps(content, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1).encode()
        sums.append(f"{hashlib.sha256(raw).hexdigest()}  grower.json\n")
        archive.writestr("grower.json", raw)
        archive.writestr("SHA256SUMS.txt", "".join(sums))
        with translation.override(grower.language):
            archive.writestr("README.txt", _readme(grower, done, now))
    return done


# --- what is in it --------------------------------------------------------------------------------
def _content(grower: Grower, shares: list[Belonging], now: datetime) -> dict[str, Any]:
    shop = shop_get()
    records = {share.model._meta.object_name or "": _rows(share.rows) for share in shares}
    history = {
        share.model._meta.object_name or "": _rows(share.history)
        for share in shares
        if share.history is not None
    }
    return {
        "grower_export": FORMAT,
        "made_at": now.isoformat(),
        "shop": {"name": shop.name, "address": shop.address, "phone": shop.phone, "email": shop.email},
        "records": {kind: rows for kind, rows in records.items() if rows},
        "history": {kind: rows for kind, rows in history.items() if rows},
        "case_files": _case_files(grower),
        "staff": {str(person.pk): str(person) for person in Staff.objects.filter(pk__in=_staff_in(shares))},
    }


def _rows(rows: "models.QuerySet[Any]") -> list[dict[str, Any]]:
    names = [f.attname for f in rows.model._meta.concrete_fields if not isinstance(f, models.FileField)]
    return list(rows.order_by("pk").values(*names))


def _staff_in(shares: list[Belonging]) -> set[int]:
    found: set[int] = set()
    for share in shares:
        for rows in (share.rows, share.history):
            if rows is None:
                continue
            for key in rows.model._meta.concrete_fields:
                if key.is_relation and key.related_model is Staff:
                    found |= set(rows.exclude(**{key.attname: None}).values_list(key.attname, flat=True))
    return found


def _case_files(grower: Grower) -> dict[str, Any]:
    cases = (
        Case.objects.filter(grower=grower)
        .select_related("grower", "planting__space__garden")
        .prefetch_related(
            "findings",
            "practices",
            "readings",
            "planting__space__lamps",
            "planting__space__garden__waters",
            "planting__space__garden__feeds",
        )
    )
    return {
        str(case.pk): casefile_from_rows(case).model_dump(mode="json", exclude_none=True)
        for case in cases.order_by("pk")
    }


# --- files ----------------------------------------------------------------------------------------
def _files(shares: list[Belonging]) -> Iterator[_File]:
    for share in shares:
        for column in share.held.files:
            if column in _FOLDERS:
                above = share.held.of  # its plan, whose number is in the name of the file
                for row in share.rows.exclude(**{column: ""}).select_related(above).order_by("pk"):
                    yield _file(share, column, row)


def _file(share: Belonging, column: str, row: Any) -> _File:
    stored = getattr(row, column).name
    ending = stored.rpartition(".")[2]
    kind = share.model._meta.object_name or ""
    name = f"{kind.lower()}-{row.pk}"
    plan = getattr(row, "plan", None)
    if isinstance(plan, Plan):
        name = f"{getattr(row, 'kind', 'plan')}-{plan.case_id}-v{plan.version}"
    return _File(f"{_FOLDERS[column]}/{name}.{ending}", stored, kind, row.pk, getattr(row, "sha256", ""))


def _copy(archive: zipfile.ZipFile, file: _File) -> dict[str, Any] | None:
    """Copy one stored file into the archive; None when it is gone."""
    try:
        source = default_storage.open(file.stored, "rb")
    except FileNotFoundError:
        return None
    sha256, size = hashlib.sha256(), 0
    with source, archive.open(file.path, "w") as target:
        while piece := source.read(_CHUNK):
            sha256.update(piece)
            size += len(piece)
            target.write(piece)
    return {"path": file.path, "sha256": sha256.hexdigest(), "bytes": size}


# --- in plain words -------------------------------------------------------------------------------
def _readme(grower: Grower, done: Exported, now: datetime) -> str:
    shop = shop_get()
    lines = io.StringIO()

    def say(text: str = "") -> None:
        lines.write(text + "\n")

    say(_("What %(shop)s holds about %(grower)s") % {"shop": shop.name, "grower": grower.name})
    say(_("Made on %(day)s.") % {"day": date_format(timezone.localtime(now), "j F Y, H:i")})
    say()
    say(_("In this file:"))
    say("  README.txt      " + _("this page"))
    say(
        "  grower.json     "
        + _("everything that is written about you, for a program to read, or in any editor")
    )
    say("  photos/         " + _("your photos, as they are stored here"))
    say("  documents/      " + _("the plans you were given, the very same files"))
    say("  SHA256SUMS.txt  " + _("a checksum of each file: shows whether one was changed since"))
    say()
    say(_("grower.json holds:"))
    for kind, count in done.records.items():
        say(f"  {kind}: {count}")
    say("  " + ngettext("%(n)d file", "%(n)d files", done.files) % {"n": done.files})
    say()
    say(_("Its parts:"))
    for name, meaning in EXPORT_FIELDS.items():
        say(f"  {name}: {meaning}")
    if done.missing:
        say()
        say(_("These files are named in our records and are not there any more:"))
        for path in done.missing:
            say(f"  {path}")
    say()
    say(_("Not in it: what concerns the shop and not you, such as the rules of diagnosis and prices."))
    reach = ", ".join(part for part in (shop.phone, shop.email) if part)
    if reach:
        say(_("Questions, or something is wrong? Ask us: %(reach)s") % {"reach": reach})
    return lines.getvalue()
