"""Was anything written into a closed period?"""

from collections.abc import Iterator
from itertools import pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.daybook.models import Entry, PeriodLock
from backoffice.errors import Broken


def check(session: Session) -> Iterator[Broken]:
    """Find every entry of a closed day that was recorded while it was closed."""
    locks = session.scalars(select(PeriodLock).order_by(PeriodLock.id)).all()
    for lock, later in pairwise([*locks, None]):
        if lock is None or lock.upto is None:
            continue
        inside = select(Entry.id).where(
            Entry.day <= lock.upto, Entry.recorded_at > lock.recorded_at
        )
        if later is not None:
            inside = inside.where(Entry.recorded_at <= later.recorded_at)
        for (entry_id,) in session.execute(inside):
            yield Broken("check.locked", {"entry": entry_id})
