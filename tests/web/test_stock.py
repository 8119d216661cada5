"""The pages of one item: counted, carried over, changed."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.stock import queries, service
from backoffice.stock.rules import ItemDetails
from backoffice.web.forms import new_key
from tests.factories import OPENED, Small, small_practice
from tests.web.browser import Browser
from tests.web.state import digest
from tests.web.test_shelf import questions


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice on Tuesday 17 March."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
    return made


def held(database: Database, item_id: int) -> dict[int, int]:
    with database.reading() as session:
        return {one.place_id: one.qty for one in queries.item_card(session, item_id).places}


def test_an_item_shows_where_it_is_what_it_cost_and_how_it_came(
    client: Browser, small: Small
) -> None:
    page = client.get(f"/stock/{small.nail}").text

    assert "1 box (250)" in page
    assert "boxes of 250 nails" in page
    assert "$25.00" in page
    assert "came in" in page


def test_who_works_in_the_yard_sees_no_cost(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    page = sign_in_as("field").get(f"/stock/{small.nail}").text

    assert "1 box (250)" in page
    assert "$" not in page


@pytest.mark.parametrize(
    ("packs", "found", "there"),
    [("8", "1", 17), ("8½", "", 17), ("8.5", "", 17), ("", "0", 0), ("½", "", 1), ("0", "", 0)],
)
def test_what_was_counted_is_what_the_books_hold(
    client: Browser, small: Small, database: Database, packs: str, found: str, there: int
) -> None:
    answer = client.post(
        f"/stock/{small.shoe}/count", {"place": small.truck, "packs": packs, "found": found}
    )

    assert answer.status_code == 303
    assert held(database, small.shoe)[small.truck] == there
    assert schema.check(database) == []


def test_a_first_count_says_that_the_counting_begins(
    client: Browser, small: Small, database: Database
) -> None:
    client.post(f"/stock/{small.shoe}/count", {"place": small.shop, "packs": "3", "found": ""})

    page = client.get(f"/stock/{small.shoe}").text
    assert "From now on the program keeps count of Shoe 1 in Shop." in page
    assert schema.check(database) == []


def test_a_count_says_what_was_missing(client: Browser, small: Small) -> None:
    client.post(f"/stock/{small.shoe}/count", {"place": small.truck, "packs": "9", "found": "1"})

    assert "1 shoe less than the books said" in client.get(f"/stock/{small.shoe}").text


def test_a_count_sent_twice_is_counted_once(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {"place": small.truck, "packs": "4", "found": "", "form_key": new_key()}
    first = client.post(f"/stock/{small.shoe}/count", sent)
    after = digest(client.app)
    second = client.post(f"/stock/{small.shoe}/count", sent)

    assert (first.status_code, second.status_code) == (303, 303)
    assert digest(client.app) == after
    assert len(moves(database, small.shoe)) == 2


def moves(database: Database, item_id: int) -> tuple[queries.MoveLine, ...]:
    with database.reading() as session:
        return queries.item_card(session, item_id).moves


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"found": "-3"}, "A count cannot be below nothing."),
        ({"packs": "-3"}, "A count cannot be below nothing."),
        ({"packs": "2.25"}, "is not a number. Write it like 4 or 4½."),
        ({"packs": "1\x002"}, "is not a number. Write it like 4 or 4½."),
        ({"found": "9999999999"}, "is more than can be meant"),
        ({}, "Please fill this in."),
        ({"found": "3", "place": "99"}, "Please choose one of these."),
        ({"packs": "99999", "found": "999999"}, "is more than can be meant"),
    ],
)
def test_a_count_that_cannot_be_meant_is_kept_and_saves_nothing(
    client: Browser, small: Small, typed: dict[str, str], says: str
) -> None:
    before = digest(client.app)
    answer = client.post(f"/stock/{small.shoe}/count", {"place": small.truck, **typed})

    assert answer.status_code in (409, 422)
    assert says in answer.text
    assert all(f'value="{text}"' in answer.text for text in _shown(typed))
    assert digest(client.app) == before


def test_what_is_carried_over_keeps_its_cents(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {
        "from_place": small.truck, "to_place": small.shop, "packs": "3", "qty": "1",
        "form_key": new_key(),
    }  # fmt: skip
    assert client.post(f"/stock/{small.shoe}/move", sent).status_code == 303
    assert client.post(f"/stock/{small.shoe}/move", sent).status_code == 303

    assert held(database, small.shoe) == {small.truck: 13, small.shop: 7}
    assert schema.check(database) == []


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"packs": "40"}, "The books hold 10 pairs there."),
        ({"qty": "1", "to_place": "same"}, "Choose another place"),
        ({}, "Please fill this in."),
    ],
)
def test_what_cannot_be_carried_is_kept_and_saves_nothing(
    client: Browser, small: Small, typed: dict[str, str], says: str
) -> None:
    before = digest(client.app)
    to_place = small.truck if typed.get("to_place") else small.shop
    answer = client.post(
        f"/stock/{small.shoe}/move",
        {"from_place": small.truck, **typed, "to_place": to_place},
    )

    assert answer.status_code == 409
    assert says in answer.text
    assert digest(client.app) == before


def test_an_item_is_added_once_and_changed(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {
        "sort": "shoe", "name": "Keg", "size_text": "00", "pattern": "front", "pack": "20",
        "supplier_id": "", "care": "", "form_key": new_key(),
    }  # fmt: skip
    made = client.post("/stock/new", sent)
    again = client.post("/stock/new", sent)

    assert made.status_code == again.status_code == 303
    assert made.location == again.location
    assert "boxes of 10 pairs" in client.get(made.location).text

    path = f"{made.location}/edit"
    assert 'value="Keg"' in client.get(path).text
    changed = {**sent, "name": "Keg shoe", "version": "1"}
    assert client.post(path, changed).status_code == 303
    stale = client.post(path, {**changed, "name": "Other"})
    assert stale.status_code == 409
    assert "Somebody else changed this" in stale.text
    assert 'value="Other"' in stale.text
    assert schema.check(database) == []


@pytest.mark.parametrize(
    ("field", "text"), [("name", ""), ("name", "a\x00b"), ("pack", "0"), ("size_text", "1" * 41)]
)
def test_an_item_that_cannot_be_meant_is_not_saved(
    client: Browser, small: Small, field: str, text: str
) -> None:
    before = digest(client.app)
    sent = {"sort": "shoe", "name": "Keg", "pattern": "front", "pack": "20", field: text}

    assert client.post("/stock/new", sent).status_code == 422
    assert digest(client.app) == before


def test_an_item_that_is_not_there_is_not_found(client: Browser, small: Small) -> None:
    for path in ("", "/edit", "/count", "/move"):
        assert client.get(f"/stock/999{path}").status_code == 404
    assert client.post("/stock/999/count", {"place": small.truck, "found": "1"}).status_code == 404


def test_an_items_page_asks_the_same_number_of_questions_however_much_happened(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(database, client, f"/stock/{small.shoe}")
    with database.writing() as unit:
        for _ in range(60):
            entry_id = daybook.record(unit.session, "closing", OPENED)
            service.draw(unit.session, entry_id, [service.Draw(small.shoe, small.truck, 1)])
        service.save_item(unit.session, ItemDetails(sort="pad", name="Pad"))

    assert questions(database, client, f"/stock/{small.shoe}") == few


def _shown(typed: dict[str, str]) -> list[str]:
    return [text for name, text in typed.items() if name != "place" and "\0" not in text]
