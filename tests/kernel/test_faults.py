"""Closing a day and issuing a bill, stopped at each statement: nothing happened, then all of it."""

import sqlite3
from collections.abc import Callable
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.billing.service import NewBill
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.visits import service as visits
from tests.factories import OPENED, Small, feet_said, fronts_on, plan, small_practice

DAY = date(2026, 3, 17)


class Stopped(Exception):
    """The power went."""


@contextmanager
def watched(database: Database, stop_at: int = 0) -> Any:
    """Write down each statement on its way to the database, and stop before the n-th."""
    seen: list[str] = []

    def see(connection: Any, cursor: Any, statement: str, *rest: Any) -> None:
        seen.append(statement)
        if len(seen) == stop_at:
            raise Stopped(statement)

    sa.event.listen(database.writer, "before_cursor_execute", see)
    try:
        yield seen
    finally:
        sa.event.remove(database.writer, "before_cursor_execute", see)


def dump(path: Path) -> list[str]:
    connection = sqlite3.connect(path)
    lines = list(connection.iterdump())
    connection.close()
    return lines


def said_day(session: Session, horses: int) -> Small:
    """A practice whose day was told for some horses, each with new fronts."""
    small = small_practice(session)
    herd = []
    for number in range(horses):
        details = HorseDetails(
            name=f"Horse {number}", type_id=small.stock_horse, yard_id=small.yard
        )
        herd.append(clients.save_horse(session, details))
        clients.set_payers(session, herd[-1], OPENED, [(small.owner, 1), (small.other, 1)])
    visit = plan(session, small, DAY, *herd, service=small.fronts)
    visits.say(session, visit, [feet_said(horse, fronts_on(small)) for horse in herd])
    return small


def stopped_everywhere(database: Database, work: Callable[[Session], object]) -> int:
    """Stop the work before each of its statements in turn, until it comes through."""
    path = Path(database.url.database or "")
    before, at = dump(path), 0
    while True:
        at += 1
        try:
            with watched(database, at) as seen, database.writing() as unit:
                work(unit.session)
        except Stopped:
            assert dump(path) == before, f"statement {at} left something behind: {seen[-1]}"
        else:
            assert len(seen) == at - 1
            assert dump(path) != before
            return at - 1


@pytest.mark.parametrize("journal", ["wal", "delete"])
def test_a_day_whose_closing_was_stopped_anywhere_is_closed_by_pressing_again(
    ready_file: Path, tmp_path: Path, journal: str
) -> None:
    path = tmp_path / "practice.db"
    path.write_bytes(ready_file.read_bytes())
    database = Database(f"sqlite:///{path}", journal="wal" if journal == "wal" else "delete")
    with database.writing() as unit:
        said_day(unit.session, 2)

    tried = stopped_everywhere(database, lambda session: billing.close_day(session, DAY, today=DAY))

    assert tried > 30
    assert schema.check(database) == []
    database.close()


def test_a_bill_whose_issuing_was_stopped_anywhere_gets_the_same_number_on_pressing_again(
    database: Database,
) -> None:
    with database.writing() as unit:
        small = said_day(unit.session, 2)
        billing.close_day(unit.session, DAY, today=DAY)
    with database.reading() as session:
        ready = bills.ready_bills(session, includes_tax=False, client_id=small.owner)[0]
    new = NewBill(client_id=small.owner, expected=ready.totals.payable, first_no=1001)

    tried = stopped_everywhere(database, lambda session: billing.issue(session, new, today=DAY))

    assert tried > 15
    with database.reading() as session:
        assert [bill.number for bill in bills.bill_list(session)] == ["1001"]
        assert bills.next_number(session, "bills") == 1002
    assert schema.check(database) == []


def test_closing_a_day_takes_as_many_statements_for_eight_horses_as_for_two(
    ready_file: Path, tmp_path: Path
) -> None:
    counts = {}
    for horses in (2, 8):
        path = tmp_path / f"{horses}.db"
        path.write_bytes(ready_file.read_bytes())
        database = Database(f"sqlite:///{path}")
        with database.writing() as unit:
            said_day(unit.session, horses)
        with watched(database) as seen, database.writing() as unit:
            assert billing.close_day(unit.session, DAY, today=DAY) == horses
        counts[horses] = len(seen)
        assert schema.check(database) == []
        database.close()

    assert counts == {2: 68, 8: 68}
