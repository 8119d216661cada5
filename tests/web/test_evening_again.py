"""The same sheet typed again, and the back button after saving: nothing changes."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from backoffice.web.forms import new_key
from tests.factories import Small, plan, small_practice
from tests.web.browser import Browser
from tests.web.state import digest

DAY = date(2026, 3, 17)
EVENING = "/day/2026-03-17/evening"
SHEET = (
    "1 told 70",
    "1 paid 72 tip 2 receipt 412",
    "2 f; 2 note gate banged; 2 flag frightened behind",
    "3 a",
    "miles 41210 41264; along",
    "knife Knife",
)
ANSWERS = (
    "work", "foot", "work_payer", "horse_flag", "horse_state", "wears", "visit", "payment",
    "pay_owed", "unbilled", "on_hand", "tool_event",
)  # fmt: skip
LEFT_OUT = {  # numbers of rows made anew each time, and up to which fact a closing looked
    ("foot", "id"), ("work_payer", "id"), ("work", "closed_seq"), ("visit", "closed_seq"),
}  # fmt: skip


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with three horses on today, and an apprentice."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        plan(unit.session, made, DAY, made.bay, made.shared, made.stray, service=made.fronts)
        apprentice = FarrierDetails(
            name="Finn Rowe", place_id=made.truck, sort="apprentice", day_pay=9_000
        )
        practice.save_farrier(unit.session, apprentice)
    return made


def send(client: Browser, small: Small, path: str, **fields: str) -> Mapping[str, str]:
    """Send a form with what its page carries; give what was sent, to send it once more."""
    seen = re.search(r'name="seen" value="([^"]*)"', client.get(EVENING).text)
    assert seen
    sent = {"farrier": str(small.farrier), "seen": seen[1], "form_key": new_key(), **fields}
    assert client.post(path, sent).status_code == 303
    return sent


def answers(database: Database) -> dict[str, list[dict[str, Any]]]:
    """Give what came of what was typed."""
    found = {}
    with database.reading() as session:
        for name in ANSWERS:
            table = schema.TABLES[name]
            columns = [c for c in table.columns if (name, c.name) not in LEFT_OUT]
            rows = session.execute(sa.select(*columns).order_by(*columns))
            found[name] = [dict(row) for row in rows.mappings()]
    return found


def test_a_sheet_typed_twice_says_the_same_as_typed_once(
    client: Browser, small: Small, database: Database
) -> None:
    for line in SHEET:
        send(client, small, EVENING, text=line)
    once, page = answers(database), client.get(EVENING).text

    for line in SHEET:
        send(client, small, EVENING, text=line)

    assert answers(database) == once
    assert shown(client.get(EVENING).text) == shown(page)
    assert schema.check(database) == []


def test_a_sheet_typed_again_after_closing_moves_no_money_and_no_shoe(
    client: Browser, small: Small, database: Database
) -> None:
    for line in SHEET:
        send(client, small, EVENING, text=line)
    send(client, small, f"{EVENING}/done", rest="1")
    once, page = answers(database), client.get("/money").text

    for line in SHEET:
        send(client, small, EVENING, text=line)

    assert answers(database) == once
    assert amounts(client.get("/money").text) == amounts(page)
    assert schema.check(database) == []


def test_the_back_button_after_saving_changes_not_one_row(
    client: Browser, app: Flask, small: Small
) -> None:
    sent = [(EVENING, send(client, small, EVENING, text=line)) for line in SHEET]
    sent.append((EVENING, send(client, small, EVENING, text="a + Sarah's bay, trim, 58")))
    sent.append((f"{EVENING}/done", send(client, small, f"{EVENING}/done", rest="1")))
    saved = digest(app)

    for path, fields in sent:
        assert client.post(path, fields).status_code == 303

    assert digest(app) == saved


def shown(page: str) -> list[str]:
    """Give what each line of the evening says."""
    return re.findall(r'<div class="typed-says">(.*?)</div>', page, re.DOTALL)


def amounts(page: str) -> list[str]:
    """Give every amount of a page, in order."""
    return re.findall(r"\$[0-9,.]+", page)
