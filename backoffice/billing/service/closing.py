"""Closing a day, and putting a closed one right: prices, bills that become ready, money given."""

from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy.orm import Session

from backoffice.billing import queries
from backoffice.billing.service.said import take_payments
from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.visits import queries as visits
from backoffice.visits import service as works
from backoffice.visits.rules import Said


def close_day(session: Session, day: date, *, today: date, farrier_id: int | None = None) -> int:
    """Close what was said about a day and tell how many horses that was; it issues no bill.

    A horse nothing was said about stays open and holds up nobody else. Money said to have been
    given is taken in. With a farrier, only his day is closed.
    Raises: Refused if nothing of the day is left to close, or the day has not come.
    """
    if day > today:
        raise Refused("billing.day_to_come")
    work_ids = visits.closable(session, day, farrier_id)
    if not work_ids:
        raise Refused("billing.nothing_to_close")
    entry_id = daybook.record(session, "closing", today)
    works.close_works(session, work_ids, entry_id=entry_id, day=day, owing=_owing(session, day))
    take_payments(session, visits.visits_with(session, work_ids), today=today)
    return len(work_ids)


def put_right(session: Session, visit_id: int, facts: Sequence[Said], *, today: date) -> None:
    """Say something about a closed horse and take it in at once; money given is taken in too.

    Raises: Refused if it would take back money that was taken in, or change a bill that stands.
    """
    named = [fact.corrects for fact in facts if fact.corrects]
    if queries.taken(session, named):
        raise Refused("billing.money_taken")
    works.put_right(session, visit_id, facts, owing=owing_at(session, visit_id), today=today)
    take_payments(session, [visit_id], today=today)


def apply_late(session: Session, visit_id: int, subject: str, *, today: date) -> None:
    """Take in what was said of a horse after it was closed, and the money given with it.

    Raises: Refused if it would change a bill that stands.
    """
    owing = owing_at(session, visit_id)
    works.apply_late(session, visit_id, subject, owing=owing, today=today)
    take_payments(session, [visit_id], today=today)


def owing_at(session: Session, visit_id: int) -> frozenset[int]:
    """Say who owes too long, as of the day of a visit, to get a lost shoe put back free."""
    there = visits.visits_of(session, [visit_id])
    if visit_id not in there:
        raise Refused("record.missing")
    return _owing(session, there[visit_id].day)


def _owing(session: Session, day: date) -> frozenset[int]:
    days = practice.settings(session)["guarantee_owed_days"]
    return queries.owing_since(session, day - timedelta(days=days))
