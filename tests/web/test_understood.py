"""After each press the evening says under its box what was understood, an entry a line."""

import html
import re
from datetime import date

import pytest
from flask import Flask

from backoffice.clients.models import Horse
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from tests.factories import Small, plan
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile

DAY = date(2026, 3, 17)
EVENING = "/day/2026-03-17/evening"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """Three horses on today, 1 Bramble, 2 Tolliver, 3 Stray, and an apprentice."""
    made = furnish(database)
    with database.writing() as unit:
        plan(unit.session, made, DAY, made.bay, made.shared, made.stray, service=made.fronts)
        unit.session.get_one(Horse, made.stray).owner_id = made.other
        practice.save_farrier(
            unit.session, FarrierDetails(name="Finn Rowe", place_id=made.truck, sort="apprentice")
        )
    return made


def said(client: Browser, small: Small, text: str, **more: str) -> list[str]:
    """Type into the box; give what the page says under it, line by line."""
    sent = {"farrier": str(small.farrier), "text": text, **more}
    answer = client.post(EVENING, sent)
    assert answer.status_code == 303, answer.text
    return under_the_box(client.get(answer.location).text)


def under_the_box(page: str) -> list[str]:
    """Give what the one status of a page says; it stands in the form, behind the box."""
    assert page.count('role="status"') == 1
    (form,) = re.findall(r'<form class="type-in.*?</form>', page, re.DOTALL)
    status = form.partition('role="status">')[2].partition("</div>")[0]
    assert form.index("autofocus") < form.index('role="status"')
    words = re.findall(r"<(?:small|p)>(.*?)</(?:small|p)>", status)
    return [html.unescape(word) for word in words]


@pytest.mark.parametrize(
    ("typed", "understood"),
    [
        ("1", "1 Bramble: as planned"),
        ("1 f", "1 Bramble: fronts only, the hinds not done"),
        ("2 h", "2 Tolliver: hinds only, the fronts not done"),
        ("3 a", "3 Stray: was not there"),
        ("3 a kicked the gate", "3 Stray: was not there, note: “kicked the gate”"),
        ("1 lf new 1 6", "1 Bramble: LF new, 1, 6 nails"),
        ("1 lost rf found", "1 Bramble: RF reset, size not known yet, the lost shoe was found"),
        ("3 owner", "3 Stray: Corbin Ash pays this once"),
        ("3 pays wenna", "3 Stray: Wenna Harrow pays this once"),
        ("1 told 70", "1 Bramble: price told: $70.00"),
        ("1 free", "1 Bramble: told: nothing to pay for the work"),
        ("1 no trip fee", "1 Bramble: trip fee told: $0.00"),
        (
            "1 paid 60 tip 2 receipt 412",
            "1 Bramble: $58.00 paid, cash, tip $2.00, receipt 412",
        ),
        ("2 note gate banged", "2 Tolliver: note: “gate banged”"),
        ("2 flag frightened", "2 Tolliver: watch out from now on: “frightened”"),
        ("2 min 95", "2 Tolliver: took 95 minutes"),
        ("1 creaks", "1 Bramble: Stand: slipped, or made a noise"),
        ("1 undo", "1 Bramble: what was said is taken back"),
        ("a + Sarah's bay, trim, 58", "4 Sarah's bay: Trim, told $58.00"),
        ("a + the grey", "4 the grey: put on the sheet"),
        ("a sand", "A Larkmoss: sand"),
        ("miles 41210 41264", "Miles 41210 to 41264"),
        ("knife kni", "Knife went dull"),
        ("knife no", "No tool went dull"),
        ("along", "Finn Rowe came along"),
        ("along no", "Nobody came along"),
    ],
)
def test_every_kind_of_entry_is_said_back_in_words(
    client: Browser, small: Small, typed: str, understood: str
) -> None:
    once = said(client, small, typed)
    assert once[0] == "Written down"
    assert once[1] == understood or understood.split(", size")[0] in once[1]
    if not typed.startswith("a +"):
        assert said(client, small, typed) == once


def test_several_entries_are_several_lines_and_many_are_counted(
    client: Browser, small: Small
) -> None:
    assert said(client, small, "1 f; miles 100 158; 3 a") == [
        "Written down",
        "1 Bramble: fronts only, the hinds not done",
        "Miles 100 to 158",
        "3 Stray: was not there",
    ]
    many = said(client, small, "; ".join(f"1 note {n}" for n in range(9)))
    assert len(many) == 1 + 5 + 1
    assert many[-1] == "and 4 more below"


def test_what_is_long_or_hostile_is_cut_short_and_does_no_harm(
    client: Browser, small: Small
) -> None:
    note = f"1 note {HOSTILE} {'long ' * 20}".replace(";", "")
    lines = said(client, small, "; ".join([note] * 5))
    assert len(lines) == 6
    assert all(len(line) <= 72 for line in lines)
    assert no_hostile(client.get(EVENING).text)


def test_the_fields_of_the_odometer_and_a_fix_are_said_under_the_box_too(
    client: Browser, small: Small
) -> None:
    assert said(client, small, "", out="100", **{"in": "158"}) == [
        "Written down",
        "Miles 100 to 158",
    ]
    sent = {"farrier": str(small.farrier), "rest": "1"}
    closed = client.get(client.post(f"{EVENING}/done", sent).location)
    assert under_the_box(closed.text) == ["Tue, Mar 17, 2026 is done: 3 horses written up."]

    assert said(client, small, "1 told 70") == [
        "Written down and fixed",
        "1 Bramble: price told: $70.00",
        "Line 1 now costs $73.34; it was $123.34.",
    ]


def test_the_rest_as_planned_says_how_many(client: Browser, small: Small) -> None:
    said(client, small, "1 a")
    answer = client.post(f"{EVENING}/rest-as-planned", {"farrier": str(small.farrier)})

    assert under_the_box(client.get(answer.location).text) == [
        "Written down",
        "2 horses as planned",
    ]


def test_a_day_closed_in_a_second_window_says_that_nothing_is_left(
    client: Browser, small: Small
) -> None:
    sent = {"farrier": str(small.farrier), "rest": "1"}
    assert client.post(f"{EVENING}/done", sent).status_code == 303

    again = client.post(f"{EVENING}/done", sent)
    assert again.status_code == 409
    assert "Nothing is left to write up" in again.text
    assert "Say what was done first" not in again.text
