"""The pages of one tool: what happened to it, and changing it."""

from collections.abc import Callable
from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.tools import queries, service
from backoffice.web.forms import new_key
from tests.factories import OPENED, Small, small_practice
from tests.web.browser import Browser
from tests.web.state import digest
from tests.web.test_shelf import questions

DAY = date(2026, 3, 17)


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice on Tuesday 17 March."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
    return made


def card(database: Database, tool_id: int) -> queries.ToolCard:
    with database.reading() as session:
        return queries.tool_card(session, tool_id, DAY)


@pytest.mark.parametrize(
    ("tool", "says"),
    [
        ("knife", "guard on the wheel, glasses and a dust mask on"),
        ("stand", "After a fall do not use it until it has been looked at."),
    ],
)
def test_the_caution_stands_beside_the_work_that_can_hurt(
    client: Browser, small: Small, tool: str, says: str
) -> None:
    assert says in client.get(f"/tools/{getattr(small, tool)}").text


def test_gas_carries_its_caution(client: Browser, small: Small) -> None:
    made = client.post(
        "/tools/new", {"sort": "gas", "name": "Tank", "place_id": small.truck, "share": "100"}
    )

    page = client.get(made.location).text
    assert "leak-tested" in page
    assert "every 30 days" in page


def test_one_tap_writes_down_what_happened_today(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {"sort": "sharpened", "form_key": new_key()}
    first = client.post(f"/tools/{small.knife}/event", sent)
    second = client.post(f"/tools/{small.knife}/event", sent)

    assert (first.status_code, second.status_code) == (303, 303)
    found = card(database, small.knife)
    assert [(event.sort, event.day) for event in found.events] == [("sharpened", DAY)]
    assert "Hardly used since last sharpened." in client.get(f"/tools/{small.knife}").text
    assert schema.check(database) == []


def test_a_stand_that_fell_is_stopped_until_looked_at(
    sign_in_as: Callable[[str], Browser], small: Small, database: Database
) -> None:
    helper, path = sign_in_as("field"), f"/tools/{small.stand}"
    helper.post(f"{path}/event", {"sort": "fell", "note": "off the tailgate", "day": "2026-03-16"})
    fallen = helper.get(path).text
    helper.post(f"{path}/event", {"sort": "looked_at"})
    looked = helper.get(path).text

    assert "notice-stop" in fallen
    assert "off the tailgate" in fallen
    assert "notice-stop" not in looked
    assert "Looked at today." in looked
    assert schema.check(database) == []


@pytest.mark.parametrize(
    ("typed", "says", "status"),
    [
        ({"cost": "1.255"}, "has more than 2 decimals", 422),
        ({"cost": "-3"}, "An amount below nothing cannot be meant here.", 422),
        ({"day": "9999-01-01"}, "The year 9999 is far off.", 422),
        ({"note": "a\x00b"}, "cannot be kept", 422),
        ({"sort": ""}, "Please choose one of these.", 422),
        ({"sort": "exploded"}, "Please choose one of these.", 422),
        ({"sort": "staged"}, "Only a rasp moves to easier work", 409),
    ],
)
def test_what_cannot_be_meant_is_kept_and_saves_nothing(
    client: Browser, small: Small, typed: dict[str, str], says: str, status: int
) -> None:
    before = digest(client.app)
    sent = {"sort": "repaired", "note": "new rivet", "cost": "", "day": "", **typed}
    answer = client.post(f"/tools/{small.knife}/event", sent)

    assert answer.status_code == status
    assert says in answer.text
    assert "note" in typed or 'value="new rivet"' in answer.text
    assert '<details class="opens" open>' in answer.text
    assert digest(client.app) == before


def test_a_tool_is_added_once_with_the_usual_of_its_kind(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {
        "sort": "knife", "name": "Left knife", "place_id": small.truck, "share": "30.5",
        "price": "42", "form_key": new_key(),
    }  # fmt: skip
    made = client.post("/tools/new", sent)
    again = client.post("/tools/new", sent)

    assert made.location == again.location
    found = card(database, int(made.location.rsplit("/", 1)[1])).details
    assert (found.share, found.price, found.edge, found.life) == (305, 4200, 15_000, 1_200_000)
    assert schema.check(database) == []


def test_a_tool_is_changed_in_the_version_it_was_read(client: Browser, small: Small) -> None:
    path = f"/tools/{small.knife}/edit"
    sent = {
        "sort": "knife", "name": "Old knife", "place_id": small.truck, "share": "100",
        "version": "1",
    }  # fmt: skip
    assert 'value="1200"' in client.get(path).text

    assert client.post(path, sent).status_code == 303
    stale = client.post(path, {**sent, "name": "Older knife"})

    assert stale.status_code == 409
    assert "Somebody else changed this" in stale.text
    assert 'value="Older knife"' in stale.text


@pytest.mark.parametrize(
    ("field", "text"),
    [("share", "101"), ("life", "1.2345"), ("price", "-1"), ("bought", "1066-10-14"),
     ("name", "\x00"), ("stage", "hot"), ("look_days", "0")],
)  # fmt: skip
def test_a_tool_that_cannot_be_meant_is_not_saved(
    client: Browser, small: Small, field: str, text: str
) -> None:
    before = digest(client.app)
    sent = {"sort": "knife", "name": "K", "place_id": small.truck, "share": "100", field: text}

    assert client.post("/tools/new", sent).status_code in (409, 422)
    assert digest(client.app) == before


def test_a_tool_that_is_not_there_is_not_found(client: Browser, small: Small) -> None:
    assert client.get("/tools/999").status_code == 404
    assert client.get("/tools/999/edit").status_code == 404
    assert client.post("/tools/999/event", {"sort": "repaired"}).status_code == 404


def test_a_tools_page_asks_the_same_number_of_questions_however_much_happened(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(database, client, f"/tools/{small.knife}")
    with database.writing() as unit:
        for _ in range(30):
            entry_id = daybook.record(unit.session, "tool", OPENED)
            service.record_event(unit.session, entry_id, small.knife, "sharpened")

    assert questions(database, client, f"/tools/{small.knife}") == few
