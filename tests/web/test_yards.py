"""Yards: where horses stand, with the gate first."""

from collections.abc import Callable

import pytest
from flask import Flask

from backoffice.clients import service as clients
from backoffice.clients.rules import YardDetails
from backoffice.db import Database
from tests.factories import OPENED, Small
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


def test_yards_are_listed_with_their_horses(client: Browser, small: Small) -> None:
    page = client.get("/yards").text

    assert "Larkmoss" in page
    assert "10 miles" in page
    assert "3 horses" in page


def test_a_yard_shows_its_horses_flags_and_the_way_to_a_day(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        clients.flag(unit.session, small.bay, "kicks", "left hind", OPENED)
    page = client.get(f"/yards/{small.yard}").text

    assert "kicks: left hind" in page
    assert f'href="/plan?yard={small.yard}"' in page
    assert "$10.00" in page


def test_a_new_yard_is_saved_with_its_gate(client: Browser, small: Small) -> None:
    fields = {"name": "Fenwick", "gate_note": "code 12\nmind the dog", "call_out": "45"}
    answer = client.post("/yards/new", fields)
    page = client.get(answer.location).text

    assert "code 12<br>mind the dog" in page
    assert "$45.00" in page
    assert "No horse stands here." in page


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"miles": "far"}, "“far” is not a whole number."),
        ({"miles": "5000"}, "more than can be meant"),
        ({"call_out": "-4"}, "below nothing"),
        ({"ground": "ice"}, "Please choose one of these."),
    ],
)
def test_what_is_refused_is_said_and_kept(
    client: Browser, small: Small, typed: dict[str, str], says: str
) -> None:
    fields = {"name": "Larkmoss Lower", "version": "1"} | typed
    answer = client.post(f"/yards/{small.yard}/edit", fields)

    assert answer.status_code == 422
    assert says in answer.text
    assert "Larkmoss Lower" in answer.text


def test_a_yard_somebody_else_changed_shows_theirs(client: Browser, small: Small) -> None:
    path = f"/yards/{small.yard}/edit"
    client.post(path, {"name": "Theirs", "ground": "mud", "version": "1"})
    answer = client.post(path, {"name": "Mine", "call_out": "12", "version": "1"})

    assert answer.status_code == 409
    assert 'value="Mine"' in answer.text
    assert "Theirs now: Theirs" in answer.text
    assert "Theirs now: empty" in answer.text
    assert client.post(path, {"name": "Mine", "version": "2"}).status_code == 303
    assert "Mine" in client.get(f"/yards/{small.yard}").text


def test_hostile_text_is_shown_as_text(client: Browser, small: Small) -> None:
    fields = dict.fromkeys(("name", "address", "gate_note", "notes"), HOSTILE)
    location = client.post("/yards/new", fields).location

    for path in ("/yards", location, f"{location}/edit"):
        page = client.get(path).text
        assert no_hostile(page), path
        assert "&lt;script&gt;" in page, path


def test_the_list_asks_as_much_for_thirty_as_for_three(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(client, database, "/yards")
    with database.writing() as unit:
        for number in range(28):
            clients.save_yard(unit.session, YardDetails(name=f"Yard {number}"))

    assert questions(client, database, "/yards") == few


def test_who_works_the_horses_looks_but_does_not_change(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    field = sign_in_as("field")
    page = field.get(f"/yards/{small.yard}").text

    assert "Larkmoss" in page
    assert "$" not in page
    assert field.get(f"/yards/{small.yard}/edit").status_code == 403
    assert sign_in_as("books").get("/yards").status_code == 403
