"""Up to which day are the books closed?"""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.daybook.models import PeriodLock


def locked_upto(session: Session) -> date | None:
    """Give the last closed day, or None while everything is open."""
    return session.scalar(select(PeriodLock.upto).order_by(PeriodLock.id.desc()).limit(1))
