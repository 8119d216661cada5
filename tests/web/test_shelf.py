"""Shelf and tools on one page."""

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import PlaceDetails
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from tests.factories import OPENED, Small, small_practice
from tests.web.browser import Browser

HOSTILE = "<script>alert(1)</script>{{ 7777 * 7777 }}'\"><img src=x onerror=alert(2)>=1+1"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice on Tuesday 17 March."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
    return made


def test_what_is_on_the_shelf_is_said_in_pairs_and_boxes(client: Browser, small: Small) -> None:
    page = client.get("/shelf").text

    assert "10 pairs" in page
    assert "1 box (250)" in page
    assert "not counted yet" in page


def test_more_used_than_came_in_is_said_plainly(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        entry_id = daybook.record(unit.session, "closing", OPENED)
        stock.draw(unit.session, entry_id, [stock.Draw(small.shoe, small.truck, 23)])

    assert "1 pair + 1 more used than came in" in client.get("/shelf").text
    assert "1 pair + 1 more used than came in" in client.get(f"/stock/{small.shoe}").text
    assert schema.check(database) == []


def test_a_tool_is_never_called_ok(client: Browser, small: Small, database: Database) -> None:
    with database.writing() as unit:
        entry_id = daybook.record(unit.session, "tool", OPENED)
        tools.record_event(unit.session, entry_id, small.stand, "looked_at")

    page = client.get("/shelf").text

    assert "Not checked since Mon, Jan 5, 2026." in page
    assert "Look it over." in page


def test_a_tool_that_fell_is_not_to_be_used(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        entry_id = daybook.record(unit.session, "tool", OPENED)
        tools.record_event(unit.session, entry_id, small.stand, "fell")

    assert "Do not use until looked at" in client.get("/shelf").text
    assert "notice-stop" in client.get(f"/tools/{small.stand}").text


def test_an_empty_practice_is_told_what_the_page_is_for(client: Browser) -> None:
    page = client.get("/shelf").text

    assert "No tool is written down yet." in page
    assert "Nothing is kept on the shelf yet." in page


def test_names_are_shown_as_they_were_typed(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        session = unit.session
        practice.save_place(session, PlaceDetails(name=HOSTILE))
        item = stock.save_item(session, ItemDetails(sort="shoe", name=HOSTILE, size_text=HOSTILE))
        tool = tools.save_tool(
            session, ToolDetails(sort="other", name=HOSTILE, place_id=small.truck)
        )

    for path in (
        "/shelf", f"/stock/{item}", f"/stock/{item}/count", f"/stock/{item}/move",
        f"/stock/{item}/edit", f"/tools/{tool}", f"/tools/{tool}/edit", "/tools/new",
        "/spending/new",
    ):  # fmt: skip
        page = client.get(path)
        assert page.status_code == 200, path
        assert "<script>alert" not in page.text, path
        assert "<img" not in page.text, path
        assert "60481729" not in page.text, path


def test_the_page_asks_the_same_number_of_questions_however_much_is_kept(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(database, client, "/shelf")
    with database.writing() as unit:
        session, items = unit.session, []
        for size in range(20):
            items.append(
                stock.save_item(session, ItemDetails(sort="shoe", name="S", size_text=str(size)))
            )
            tools.save_tool(session, ToolDetails(sort="knife", name="K", place_id=small.truck))
        entry_id = daybook.record(session, "delivery", OPENED)
        stock.receive(
            session,
            entry_id,
            [stock.Arrival(item_id=i, place_id=small.shop, qty=2, cost=9) for i in items],
        )

    assert questions(database, client, "/shelf") == few


def questions(database: Database, client: Browser, path: str) -> int:
    """Count the statements a page runs."""
    asked: list[str] = []

    def hear(*event: object) -> None:
        asked.append(str(event[2]))

    sa.event.listen(database.reader, "before_cursor_execute", hear)
    assert client.get(path).status_code == 200
    sa.event.remove(database.reader, "before_cursor_execute", hear)
    return len(asked)
