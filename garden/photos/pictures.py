"""Turns an uploaded file into a safe picture: only the pixels survive, drawn into a new image.

Knows nothing of the database. What cannot be read as a photo is refused with a sentence for the person.
"""

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

import pillow_heif
from django.utils.translation import gettext as _
from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

MAX_BYTES = 25 * 1024 * 1024
MAX_PIXELS = 60_000_000
MAX_FRAMES = 50
LONG_SIDE = 2048
THUMB_SIDE = 320
QUALITY = 82
_READ_AS = ("JPEG", "PNG", "WEBP", "HEIF")
_FOUND_AS = {"JPEG", "MPO", "PNG", "WEBP", "HEIF"}
_MAX_PROFILE_BYTES = 1_000_000
# EXIF 2.32 tags: the block of camera data, the time the picture was taken, its distance to UTC.
_EXIF_BLOCK, _TAKEN, _TAKEN_OFFSET = 0x8769, 0x9003, 0x9011

_decoding = threading.Lock()
pillow_heif.register_heif_opener()
Image.MAX_IMAGE_PIXELS = MAX_PIXELS
warnings.simplefilter("error", Image.DecompressionBombWarning)


class PhotoRefused(ValueError):  # noqa: N818 - says what happened
    """A file that is no photo we take; the text says why and what to do."""


@dataclass(frozen=True)
class Picture:
    """Two JPEG files without any metadata, the size of the larger, and when the photo was taken."""

    image: bytes
    thumbnail: bytes
    width: int
    height: int
    taken_at: datetime | None


def picture_from(data: bytes, *, now: datetime, zone: tzinfo) -> Picture:
    """Return the picture in `data`: at most 2048 pixels on its long side, upright, plain JPEG.

    `now` limits the date a camera may claim; `zone` is where a camera without a time zone is taken to be.
    Raises PhotoRefused for anything but a readable JPEG, PNG, WebP or HEIC photo of at most 60 megapixels.
    """
    if len(data) > MAX_BYTES:
        raise PhotoRefused(_("This photo is larger than 25 MB. Send a smaller copy of it."))
    if not data:
        raise PhotoRefused(_("This file is empty. Choose the photo again."))
    try:
        with _whole_files_only():
            return _drawn(data, now, zone)
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoRefused(_too_many_pixels()) from None
    except UnidentifiedImageError:
        raise PhotoRefused(
            _("This file is not a photo we can read. Send a JPEG, PNG, WebP or HEIC picture.")
        ) from None
    except Exception as error:  # a decoder may raise anything over a broken or hostile file
        raise PhotoRefused(
            _("This photo is damaged or cut short. Send it again from where it was taken.")
        ) from error


@contextmanager
def _whole_files_only() -> Iterator[None]:
    """Pillow's switch for files cut short is global, and the PDF renderer turns it on when it is loaded."""
    with _decoding:
        before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _drawn(data: bytes, now: datetime, zone: tzinfo) -> Picture:
    with Image.open(io.BytesIO(data), formats=_READ_AS) as source:
        if source.format not in _FOUND_AS:
            raise PhotoRefused(
                _("This file is not a photo we can read. Send a JPEG, PNG, WebP or HEIC picture.")
            )
        if source.width * source.height > MAX_PIXELS:
            raise PhotoRefused(_too_many_pixels())
        if getattr(source, "n_frames", 1) > MAX_FRAMES:
            raise PhotoRefused(_("This is a film, not a photo. Send one picture out of it."))
        taken_at = _taken_at(source, now, zone)
        source.thumbnail((LONG_SIDE, LONG_SIDE))  # first, so that a large JPEG is never decoded in full
        upright = ImageOps.exif_transpose(source)
        plain = _on_white(_in_srgb(upright))
    small = plain.copy()
    small.thumbnail((THUMB_SIDE, THUMB_SIDE))
    return Picture(_jpeg(plain), _jpeg(small), plain.width, plain.height, taken_at)


def _in_srgb(image: Image.Image) -> Image.Image:
    """Colours as a screen expects them: the profile itself is dropped, and leaves must not turn greyish."""
    profile = image.info.get("icc_profile")
    if not isinstance(profile, bytes) or image.mode != "RGB" or len(profile) > _MAX_PROFILE_BYTES:
        return image
    try:
        into = ImageCms.createProfile("sRGB")
        drawn = ImageCms.profileToProfile(image, ImageCms.ImageCmsProfile(io.BytesIO(profile)), into)
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image
    return drawn or image


def _on_white(image: Image.Image) -> Image.Image:
    """The pixels alone, in a new image; what is transparent becomes white paper."""
    new = Image.new("RGB", image.size, "white")
    if image.has_transparency_data:
        layer = image.convert("RGBA")
        new.paste(layer, mask=layer.getchannel("A"))
    else:
        new.paste(image.convert("RGB"))
    return new


def _jpeg(image: Image.Image) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=QUALITY, optimize=True)
    return buffer.getvalue()


def _taken_at(image: Image.Image, now: datetime, zone: tzinfo) -> datetime | None:
    """When the camera says the photo was taken, unless it says nothing or something impossible."""
    try:
        block = image.getexif().get_ifd(_EXIF_BLOCK)
        local = datetime.strptime(str(block[_TAKEN]).strip("\x00 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
        offset = str(block.get(_TAKEN_OFFSET, "")).strip("\x00 ")
        taken = datetime.strptime(offset, "%z").tzinfo if offset else zone
        moment = local.replace(tzinfo=taken)
    except Exception:  # metadata is the sender's own, and worth nothing when it is broken
        return None
    earliest = datetime(2000, 1, 1, tzinfo=UTC)
    return moment if earliest <= moment <= now + timedelta(days=1) else None


def _too_many_pixels() -> str:
    return _("This photo has more than 60 million pixels. Send a smaller copy of it.")
