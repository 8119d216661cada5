"""The day sheet as it is printed from the page of a day."""

import re
import shutil
import subprocess
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails
from backoffice.visits import service as visits
from tests.conftest import skip
from tests.factories import Small, plan, small_practice
from tests.web.browser import Browser

DAY = date(2026, 3, 17)
SHEET = "/day/2026-03-17/sheet.pdf"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with three horses on today, two of another farrier's on another day."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        plan(unit.session, made, DAY, made.bay, made.shared, service=made.trim)
    return made


def words_of(made: bytes, tmp_path: Path) -> str:
    if not shutil.which("pdftotext"):
        skip("pdftotext (poppler-utils) is not installed")
    file = tmp_path / "made.pdf"
    file.write_bytes(made)
    command = ["pdftotext", "-raw", str(file), "-"]
    text = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    return re.sub(r"\s+", " ", text)


def other_farrier(database: Database, small: Small) -> int:
    with database.writing() as unit:
        truck = practice.save_place(unit.session, PlaceDetails(name="Truck B"))
        other = practice.save_farrier(unit.session, FarrierDetails(name="Oda Vell", place_id=truck))
        stop = visits.NewStop(
            farrier_id=other,
            yard_id=small.yard,
            day=DAY,
            horses=(small.stray,),
            services={small.stray: small.trim},
        )
        visits.plan_stop(unit.session, stop, today=DAY)
    return other


def test_the_sheet_is_printed_from_the_day(client: Browser, small: Small, tmp_path: Path) -> None:
    page = client.get("/day/2026-03-17").text
    answer = client.get(SHEET)

    assert f'href="{SHEET}"' in page
    assert answer.status_code == 200
    assert answer.mimetype == "application/pdf"
    assert "day-sheet-2026-03-17.pdf" in answer.headers["Content-Disposition"]
    text = words_of(answer.data, tmp_path)
    assert "Idris Thorn · Truck A" in text
    assert " 1 Bramble Stock horse pays: Wenna Harrow " in text
    # A trim at 58.00, and half of the trip fee of 10.00.
    assert text.count("$63.00 incl. 5.00") == 2


def test_all_farriers_are_printed_or_one(
    client: Browser, small: Small, database: Database, tmp_path: Path
) -> None:
    other = other_farrier(database, small)
    whole = words_of(client.get(SHEET).data, tmp_path)
    hers = words_of(client.get(f"{SHEET}?farrier={other}").data, tmp_path)

    assert ["Idris Thorn ·" in whole, "Oda Vell ·" in whole] == [True, True]
    assert ["Idris Thorn ·" in hers, "Oda Vell ·" in hers] == [False, True]


@pytest.mark.parametrize(
    "path", ["/day/2026-03-18/sheet.pdf", f"{SHEET}?farrier=999999999999999999999"]
)
def test_a_day_without_stops_is_said_in_a_sentence(
    client: Browser, small: Small, path: str
) -> None:
    answer = client.get(path)

    assert answer.status_code == 409
    assert "Nothing is planned on" in answer.text
    assert "sheet.pdf" not in client.get("/day/2026-03-18").text


def test_who_does_the_books_is_not_offered_a_sheet(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    books = sign_in_as("books")

    assert "sheet.pdf" not in books.get("/day/2026-03-17").text
    assert books.get(SHEET).status_code == 403
    assert sign_in_as("field").get(SHEET).status_code == 200
