"""The photo of a supplier's bill: sent, looked at, and nobody else's."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from flask import Flask
from PIL import Image

from backoffice import schema
from backoffice.db import Database
from backoffice.web.forms import new_key
from tests.factories import Small
from tests.files.pictures import PDF, picture, png_of_size
from tests.web.browser import Browser
from tests.web.furnished import furnish
from tests.web.state import digest

GPS = 0x8825


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    return furnish(database)


def with_file(content: bytes, name: str = "IMG_0412.jpg", **more: object) -> dict[str, object]:
    bill = {"day": "2026-03-17", "total": "212.40", "paid_by": "card", **more}
    return {**bill, "file": (BytesIO(content), name)}


def test_a_photo_and_a_total_are_a_bill(client: Browser, small: Small, tmp_path: Path) -> None:
    said = Image.Exif()
    said.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 12.0)})
    made = client.post("/spending/new", with_file(picture(exif=said)))

    assert made.status_code == 303
    page = client.get(made.location).text
    assert '<img src="/files/1" alt="Photo of the bill' in page
    assert "$212.40 not sorted yet" in page
    shown = client.get("/files/1")
    assert shown.mimetype == "image/jpeg"
    with Image.open(BytesIO(shown.data)) as kept:
        assert not kept.getexif().get_ifd(GPS)
    (file,) = [path for path in (tmp_path / "attachments").rglob("*") if path.is_file()]
    assert file.read_bytes() == shown.data
    assert schema.check(client.house.database) == []


def test_a_file_given_back_can_do_nothing(client: Browser, small: Small) -> None:
    client.post("/spending/new", with_file(picture()))
    client.post("/spending/new", with_file(PDF, "bill.pdf"))
    photo, paper = client.get("/files/1"), client.get("/files/2")

    for answer in (photo, paper):
        assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"].startswith("private")
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert photo.headers["Content-Disposition"] == 'inline; filename="receipt-1.jpg"'
    assert paper.headers["Content-Disposition"] == 'attachment; filename="receipt-2.pdf"'
    assert (paper.mimetype, paper.data) == ("application/pdf", PDF)
    assert "Take out the PDF" in client.get("/spending/2").text
    again = client.get("/files/1", headers={"If-None-Match": photo.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (png_of_size(50_000, 50_000), "million dots. Take it smaller."),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "Only photos"),
        (b"<script>alert(1)</script>", "Only photos"),
        (b"\0\0\0\x18ftypheic", "That photo is HEIC"),
        (picture()[:200], "That picture cannot be read."),
    ],
)
def test_what_is_no_photo_is_refused_and_what_was_typed_stays(
    client: Browser, small: Small, tmp_path: Path, content: bytes, says: str
) -> None:
    before = digest(client.app)
    answer = client.post("/spending/new", with_file(content, reference="K-77"))

    assert answer.status_code == 422
    assert says in answer.text
    assert "Choose the photo again" in answer.text
    for typed in ('value="212.40"', 'value="K-77"'):
        assert typed in answer.text
    assert digest(client.app) == before
    assert not (tmp_path / "attachments").exists()


def test_a_photo_sent_twice_is_one_bill_and_one_file(client: Browser, small: Small) -> None:
    key = new_key()
    first, second = (
        client.post("/spending/new", with_file(picture(), form_key=key)) for _ in range(2)
    )

    assert first.location == second.location
    assert client.get("/spending/2").status_code == 404


def test_a_photo_is_for_the_owner_and_who_does_the_books(
    client: Browser, browser: Browser, sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    client.post("/spending/new", with_file(picture()))

    assert sign_in_as("books").get("/files/1").status_code == 200
    assert sign_in_as("field").get("/files/1").status_code == 403
    assert browser.get("/files/1").location == "/sign-in"


def test_a_file_that_is_not_there_is_said_so(client: Browser, small: Small, tmp_path: Path) -> None:
    assert client.get("/files/7").status_code == 404
    client.post("/spending/new", with_file(picture()))
    for path in (tmp_path / "attachments").rglob("*"):
        if path.is_file():
            path.unlink()

    gone = client.get("/files/1")
    assert gone.status_code == 409
    assert "no longer in the data folder" in gone.text
    assert client.get("/spending/1").status_code == 200
