"""What comes in as a photo, and what is kept of it."""

import io
import struct
import zlib
from datetime import UTC, datetime, timedelta, timezone

import pytest
from PIL import Image, ImageCms, ImageFile

from garden.photos.pictures import MAX_BYTES, PhotoRefused, picture_from
from tests.factories import picture_bytes

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
ZONE = timezone(timedelta(hours=2))


def taken(data):
    return picture_from(data, now=NOW, zone=ZONE)


def opened(data):
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def exif(**tags):
    block = Image.Exif()
    if "orientation" in tags:
        block[0x0112] = tags["orientation"]
    block[0x0110] = "Camera model X"
    camera = block.get_ifd(0x8769)
    if "taken" in tags:
        camera[0x9003] = tags["taken"]
    if "offset" in tags:
        camera[0x9011] = tags["offset"]
    block.get_ifd(0x8825)[1] = "N"  # a place
    block.get_ifd(0x8825)[2] = (48.0, 12.0, 30.0)
    return block


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_photos_of_each_kind_become_a_plain_jpeg_with_the_same_colours(kind):
    picture = taken(picture_bytes(kind, quality=90) if kind != "PNG" else picture_bytes(kind))
    image = opened(picture.image)
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (64, 48))
    left, right = image.getpixel((10, 24)), image.getpixel((54, 24))
    assert left[1] > left[0] + 50
    assert right[0] > right[1] + 50


def test_place_device_and_profile_are_gone():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    source = picture_bytes(
        exif=exif(taken="2026:05:20 08:30:00"), icc_profile=profile, comment=b"secret place"
    )
    assert b"Camera model X" in source
    picture = taken(source)
    for data in (picture.image, picture.thumbnail):
        image = opened(data)
        assert not image.getexif()
        assert not {"exif", "icc_profile", "comment", "xmp"} & set(image.info)
        assert b"Camera" not in data
        assert b"secret" not in data


def test_whatever_hangs_on_behind_the_picture_is_gone():
    tail = b"PK\x03\x04<script>alert(1)</script>"
    picture = taken(picture_bytes() + tail)
    assert b"script" not in picture.image
    assert picture.image == taken(picture_bytes()).image


def test_a_large_photo_is_made_smaller_and_stays_in_proportion():
    picture = taken(picture_bytes(size=(4000, 1000)))
    assert (picture.width, picture.height) == (2048, 512)
    assert opened(picture.thumbnail).size == (320, 80)


# The eight orientations of EXIF 2.32: where the left (green) half of the stored picture ends up.
@pytest.mark.parametrize(
    ("orientation", "green"),
    [
        (1, "left"),
        (2, "right"),
        (3, "right"),
        (4, "left"),
        (5, "top"),
        (6, "top"),
        (7, "bottom"),
        (8, "bottom"),
    ],
)
def test_a_photo_stands_upright(orientation, green):
    image = opened(taken(picture_bytes(exif=exif(orientation=orientation))).image)
    width, height = image.size
    spots = {
        "left": (4, height // 2),
        "right": (width - 5, height // 2),
        "top": (width // 2, 4),
        "bottom": (width // 2, height - 5),
    }
    red, greenness, _blue = image.getpixel(spots[green])
    assert greenness > red + 50


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({"taken": "2026:05:20 08:30:00"}, datetime(2026, 5, 20, 8, 30, tzinfo=ZONE)),
        ({"taken": "2026:05:20 08:30:00", "offset": "-07:00"}, datetime(2026, 5, 20, 15, 30, tzinfo=UTC)),
        ({"taken": "1980:01:01 00:00:00"}, None),
        ({"taken": "2031:01:01 00:00:00"}, None),
        ({"taken": "0000:00:00 00:00:00"}, None),
        ({"taken": "yesterday"}, None),
        ({}, None),
    ],
)
def test_the_time_it_was_taken_is_kept_when_it_can_be_true(tags, expected):
    assert taken(picture_bytes(exif=exif(**tags))).taken_at == expected


def test_what_is_transparent_becomes_white():
    image = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    buffer = io.BytesIO()
    image.save(buffer, "PNG")
    assert opened(taken(buffer.getvalue()).image).getpixel((10, 10)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "1", "P", "CMYK", "LA", "I;16"])
def test_other_colour_models_are_drawn_too(mode):
    base = Image.new("RGB", (20, 20), (90, 90, 90))
    image = Image.new("I;16", (20, 20)) if mode == "I;16" else base.convert(mode)
    buffer = io.BytesIO()
    image.save(buffer, "JPEG" if mode == "CMYK" else "PNG")
    assert opened(taken(buffer.getvalue()).image).mode == "RGB"


def bomb_png(width, height):
    """A PNG that claims a size and holds next to nothing."""

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def film(frames):
    pictures = [Image.new("RGB", (8, 8), (frame, 0, 0)) for frame in range(frames)]
    buffer = io.BytesIO()
    pictures[0].save(buffer, "WEBP", save_all=True, append_images=pictures[1:], duration=20, lossless=True)
    return buffer.getvalue()


HOSTILE = {
    "empty": b"",
    "text": b"the lower leaves turn yellow",
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    "html": b"<html><body><img src=x onerror=alert(1)></body></html>",
    "pdf": b"%PDF-1.7\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF",
    "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n(/etc/passwd) run\n",
    "zip": b"PK\x03\x04" + b"\0" * 60,
    "gif": picture_bytes("GIF"),
    "gif and script": b"GIF89a/*" + b"\0" * 20 + b"*/=1;alert(1)",
    "pdf before a jpeg": b"%PDF-1.4\n" + picture_bytes(),
    "tiff": picture_bytes("TIFF"),
    "bmp": picture_bytes("BMP"),
    "truncated jpeg": picture_bytes(size=(400, 300))[:900],
    "truncated png": picture_bytes("PNG", size=(400, 300))[:200],
    "truncated webp": picture_bytes("WEBP", size=(400, 300))[:200],
    "truncated heic": picture_bytes("HEIF", size=(400, 300))[:300],
    "jpeg of zeros": b"\xff\xd8\xff\xe0" + b"\0" * 500,
    "heic brand and noise": b"\0\0\0\x18ftypheic" + bytes(range(256)) * 4,
    "70 million pixels": bomb_png(10_000, 7_000),
    "400 million pixels": bomb_png(20_000, 20_000),
    "4 billion wide": bomb_png(2**31 - 1, 2),
    "film": film(51),
}


@pytest.mark.parametrize("name", ["truncated jpeg", "truncated png"])
def test_a_photo_cut_short_is_refused_also_when_another_library_lets_such_files_pass(name, monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(PhotoRefused):
        taken(HOSTILE[name])
    assert ImageFile.LOAD_TRUNCATED_IMAGES


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_photo_is_refused_in_a_sentence(name):
    with pytest.raises(PhotoRefused) as refusal:
        taken(HOSTILE[name])
    assert str(refusal.value).startswith("This ")
    assert str(refusal.value).endswith(".")


def test_a_moving_picture_of_few_frames_gives_its_first():
    assert opened(taken(film(5)).image).getpixel((4, 4))[0] < 20


def test_a_file_over_25_mb_is_refused():
    with pytest.raises(PhotoRefused, match="larger than 25 MB"):
        taken(picture_bytes() + b"\0" * MAX_BYTES)


def test_every_way_to_cut_a_photo_short_is_refused_or_still_a_picture():
    whole = picture_bytes(size=(64, 64))
    for length in range(0, len(whole), 7):
        try:
            picture = taken(whole[:length])
        except PhotoRefused:
            continue
        assert opened(picture.image).format == "JPEG"
