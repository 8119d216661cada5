"""Up to which day are the books closed?"""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.daybook.models import PeriodLock
from backoffice.practice.models import Practice


def hold(session: Session, *, alone: bool) -> None:
    """Keep a period from being closed while an event is entered, and the other way round.

    On PostgreSQL many may enter at once, and whoever closes waits for them and then is alone; on
    SQLite there is only one writer anyway.
    """
    session.execute(select(Practice.id).with_for_update(read=not alone))


def locked_upto(session: Session) -> date | None:
    """Give the last closed day, or None while everything is open."""
    return session.scalar(select(PeriodLock.upto).order_by(PeriodLock.id.desc()).limit(1))
