"""Keeps photos and removes them."""

import hashlib
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from garden.models import Photo, Planting, Staff
from garden.photos.pictures import MAX_BYTES, PhotoRefused, Picture, picture_from

__all__ = ["PhotoRefused", "photo_add", "photo_delete"]


def photo_add(
    *, planting: Planting, upload: "UploadedFile[Any]", by: Staff | None, caption: str = ""
) -> Photo:
    """Keep an uploaded photo of a planting. The same photo sent twice is kept once.

    Raises PhotoRefused with a sentence for the person when the file is not a photo we take.
    """
    if upload.size is not None and upload.size > MAX_BYTES:
        raise PhotoRefused(_("This photo is larger than 25 MB. Send a smaller copy of it."))
    picture = picture_from(
        upload.read(MAX_BYTES + 1), now=timezone.now(), zone=timezone.get_current_timezone()
    )
    sha256 = hashlib.sha256(picture.image).hexdigest()
    known = Photo.objects.filter(planting=planting, sha256=sha256).first()
    return known or _photo_keep(planting, picture, sha256, by, caption)


def _photo_keep(planting: Planting, picture: Picture, sha256: str, by: Staff | None, caption: str) -> Photo:
    photo = Photo(
        planting=planting,
        width=picture.width,
        height=picture.height,
        sha256=sha256,
        caption=caption.strip()[:200],
        taken_at=picture.taken_at,
        uploaded_by=by,
    )
    photo.image.save("photo.jpg", ContentFile(picture.image), save=False)
    photo.thumbnail.save("photo.jpg", ContentFile(picture.thumbnail), save=False)
    try:
        with transaction.atomic():
            photo.save()
    except IntegrityError:
        _remove_files(photo)  # somebody sent the same photo at the same moment
        return Photo.objects.get(planting=planting, sha256=sha256)
    except BaseException:
        _remove_files(photo)  # a file without a row would stay for ever
        raise
    return photo


def photo_delete(*, photo: Photo) -> None:
    """Remove a photo; its files go once the removal is certain."""
    with transaction.atomic():
        photo.delete()
        transaction.on_commit(lambda: _remove_files(photo))


def _remove_files(photo: Photo) -> None:
    for file in (photo.image, photo.thumbnail):
        if file.name:
            file.storage.delete(file.name)
