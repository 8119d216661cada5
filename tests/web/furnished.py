"""A small practice behind the pages, and how many questions a page asks of the database."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import sqlalchemy as sa
from sqlalchemy import event

from backoffice.billing import queries, service
from backoffice.db import Database
from backoffice.visits import service as visits
from backoffice.visits.rules import FactSort
from tests.factories import Small, feet_said, fronts_on, plan, said, small_practice
from tests.web.browser import Browser

HOSTILE = "<script>alert(1)</script>{{ 7*7 }}{name}'\"><img src=x onerror=alert(2)>\u202e=1+1"


def furnish(database: Database) -> Small:
    """Put a small practice in place of the empty one; its today stays."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        small = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
    return small


def shoe_bramble(database: Database, small: Small, today: date) -> None:
    """Nail fronts on Bramble a week ago, write the day up and bill it as number 100."""
    day = date(2026, 3, 10)
    with database.writing() as unit:
        stop = plan(unit.session, small, day, small.bay, service=small.fronts)
        visits.say(unit.session, stop, [feet_said(small.bay, fronts_on(small))])
        visits.say(unit.session, stop, [said(small.bay, FactSort.NOTE, text="quiet today")])
        service.close_day(unit.session, day, today=today)
        (ready,) = queries.ready_bills(unit.session, includes_tax=False)
        new = service.NewBill(
            client_id=small.owner, expected=ready.totals.payable, note="", first_no=100
        )
        service.issue(unit.session, new, today=today)


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """List the questions asked while the block runs."""
    asked: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        asked.append(statement)

    event.listen(database.reader, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(database.reader, "before_cursor_execute", note)


def questions(client: Browser, database: Database, path: str) -> int:
    """Count what a page asks."""
    client.get(path)
    with counted(database) as asked:
        assert client.get(path).status_code == 200
    return len(asked)


def no_hostile(html: str) -> bool:
    """Whether hostile text stands on a page as text alone."""
    return "<script>alert" not in html and "<img src=x" not in html
