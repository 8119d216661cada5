"""Setting the next day of many horses at once, before a yard is left."""

from collections.abc import Collection
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.days import sensible
from backoffice.visits.models import NextTime, Visit, Work


def set_next_times(session: Session, horses: Collection[int], day: date) -> None:
    """Set the next day of these horses; what is planned for each then stays as it was.

    What was planned for a work that is not closed yet goes: once that is closed, what comes
    after it is proposed for the day set.
    Raises: Refused for a day that is far off.
    """
    chosen = sensible(day)
    found = session.scalars(select(NextTime).where(NextTime.horse_id.in_(horses)))
    known = {row.horse_id: row for row in found}
    begun = _begun(session, horses, chosen)
    for horse in sorted(set(horses)):
        row = known.get(horse)
        if row is None:
            session.add(NextTime(horse_id=horse, day=chosen, proposed=False))
            continue
        if horse in begun and (row.proposed or row.day is None or row.day <= begun[horse]):
            row.service_id, row.note = None, None
        row.day, row.proposed = chosen, False
    session.flush()


def _begun(session: Session, horses: Collection[int], before: date) -> dict[int, date]:
    """Give the last day before, not closed yet, that each of these horses is on."""
    rows = session.execute(
        select(Work.horse_id, func.max(Visit.day, type_=Visit.day.type))
        .join(Visit, Visit.id == Work.visit_id)
        .where(
            Work.horse_id.in_(horses),
            Work.closing_entry_id.is_(None),
            Work.outcome != "absent",
            Visit.sort == "stop",
            Visit.day < before,
        )
        .group_by(Work.horse_id)
    )
    return {horse: day for horse, day in rows if horse is not None}
