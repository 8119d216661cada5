"""Closing a day: every horse worked or missed is priced, and bills become ready."""

from datetime import date

from sqlalchemy.orm import Session

from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.visits import queries as visits
from backoffice.visits import service as works


def close_day(session: Session, day: date, *, today: date) -> int:
    """Close what was said about a day and tell how many horses that was; it issues no bill.

    A horse nothing was said about stays open and holds up nobody else.
    Raises: Refused if nothing of the day is left to close, or the day has not come.
    """
    if day > today:
        raise Refused("billing.day_to_come")
    work_ids = visits.closable(session, day)
    if not work_ids:
        raise Refused("billing.nothing_to_close")
    entry_id = daybook.record(session, "closing", today)
    works.close_works(session, work_ids, entry_id=entry_id, day=day)
    return len(work_ids)
