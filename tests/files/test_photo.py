"""A photo is kept as what it shows; what it says beside that, and what is no photo, stays out."""

from io import BytesIO

import pytest
from PIL import Image

from backoffice.errors import Refused
from backoffice.files import photo
from backoffice.words import Speech
from tests.files.pictures import PDF, picture, png_of_size

# Tags of Exif 2.3 (CIPA DC-008, 4.6): orientation, camera model, the GPS directory and the time.
ORIENTATION, MODEL, GPS, TAKEN = 0x0112, 0x0110, 0x8825, 0x0132


def from_a_phone(orientation: int = 1) -> bytes:
    """A photo that says where it was taken, when and with what."""
    said = Image.Exif()
    said[ORIENTATION] = orientation
    said[MODEL] = "Pocket camera 7"
    said[TAKEN] = "2026:03:17 15:02:00"
    said.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 12.0), 3: "W", 4: (0.0, 7.0, 39.0)})
    return picture(exif=said, comment=b"Alder Row 12")


def seen(content: bytes) -> Image.Image:
    with Image.open(BytesIO(content)) as shown:
        shown.load()
        return shown


def test_where_and_when_a_photo_was_taken_is_gone() -> None:
    sent = from_a_phone()
    assert seen(sent).getexif().get_ifd(GPS)
    assert b"Pocket camera" in sent

    kept = photo.read(sent)

    shown = seen(kept.content)
    assert kept.media_type == "image/jpeg"
    assert dict(shown.getexif()) == {}
    assert not shown.getexif().get_ifd(GPS)
    assert set(shown.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for told in (b"Exif", b"Pocket camera", b"2026:03:17", b"Alder Row"):
        assert told not in kept.content


@pytest.mark.parametrize(
    ("orientation", "size", "red"),
    [
        (1, (40, 30), (5, 5)),
        (3, (40, 30), (35, 25)),
        (6, (30, 40), (25, 5)),
        (8, (30, 40), (5, 35)),
    ],
)
def test_a_photo_taken_with_the_phone_turned_stands_upright(
    orientation: int, size: tuple[int, int], red: tuple[int, int]
) -> None:
    shown = seen(photo.read(from_a_phone(orientation)).content)

    colour = shown.getpixel(red)
    assert shown.size == size
    assert isinstance(colour, tuple)
    assert colour[0] > 200 > 100 > colour[1]


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ((4_000, 3_000), (2_000, 1_500)),
        ((3_000, 4_000), (1_500, 2_000)),
        ((2_000, 9), (2_000, 9)),
        ((7_001, 1), (2_000, 1)),
    ],
)
def test_a_large_photo_becomes_two_thousand_dots_a_side(
    sent: tuple[int, int], kept: tuple[int, int]
) -> None:
    assert seen(photo.read(picture(sent)).content).size == kept


@pytest.mark.parametrize(
    ("form", "mode"),
    [
        *(("JPEG", mode) for mode in ("RGB", "L", "CMYK", "1")),
        *(("PNG", mode) for mode in ("RGB", "RGBA", "L", "LA", "P", "1")),
        *(("WEBP", mode) for mode in ("RGB", "RGBA")),
    ],
)
def test_every_kind_of_picture_comes_back_as_a_jpeg(form: str, mode: str) -> None:
    kept = seen(photo.read(picture(form=form, mode=mode)).content)

    assert (kept.format, kept.mode, kept.size) == ("JPEG", "RGB", (40, 30))


def test_what_can_be_seen_through_is_white() -> None:
    clear = BytesIO()
    Image.new("RGBA", (9, 9), (0, 0, 0, 0)).save(clear, "PNG")

    assert seen(photo.read(clear.getvalue()).content).getpixel((4, 4)) == (255, 255, 255)


@pytest.mark.parametrize("size", [(50_000, 50_000), (13_000, 1_000), (65_535, 2_000)])
def test_a_picture_that_would_fill_the_memory_is_refused_unread(size: tuple[int, int]) -> None:
    with pytest.raises(Refused) as refused:
        photo.read(png_of_size(*size))

    assert refused.value.code == "file.too_many_dots"
    assert "million dots" in Speech().say(refused.value.code, **refused.value.facts)


def test_a_few_bytes_that_unpack_to_very_many_are_refused() -> None:
    packed = picture((13_000, 1_000), "PNG")
    assert len(packed) < 100_000

    with pytest.raises(Refused, match=r"file\.too_many_dots"):
        photo.read(packed)


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "file.kind"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "file.kind"),
        (b"<html><script>alert(1)</script>", "file.kind"),
        (b"GIF89a", "file.kind"),
        (b"MZ", "file.kind"),
        (b" %PDF-", "file.kind"),
        (b"RIFF0000WAVE", "file.kind"),
        (b"\0\0\0\x18ftypavif", "file.kind"),
        (b"\0\0\0\x18ftypheic", "file.heic"),
        (b"\0\0\0\x18ftypmif1", "file.heic"),
        (b"\xff\xd8\xff\xe0 no photo", "file.unreadable"),
        (b"\x89PNG\r\n\x1a\n no photo", "file.unreadable"),
        (b"RIFF\0\0\0\0WEBP no photo", "file.unreadable"),
        (picture()[:300], "file.unreadable"),
        (picture(form="PNG")[:-30], "file.unreadable"),
        (picture().ljust(photo.MOST + 1, b"."), "file.too_large"),
    ],
)
def test_what_is_no_readable_photo_is_refused_in_plain_words(content: bytes, code: str) -> None:
    with pytest.raises(Refused) as refused:
        photo.read(content)

    assert (refused.value.code, refused.value.field) == (code, "file")
    assert Speech().say(code, **refused.value.facts)


def test_a_page_hidden_behind_a_photo_does_not_come_along() -> None:
    sent = picture() + b"<script>alert(1)</script>%PDF-1.7"

    assert b"script" not in photo.read(sent).content


def test_a_pdf_stays_as_it_is() -> None:
    assert photo.read(PDF) == photo.Upload(PDF, "application/pdf")


def test_the_same_photo_comes_out_the_same() -> None:
    assert photo.read(from_a_phone()) == photo.read(from_a_phone())
