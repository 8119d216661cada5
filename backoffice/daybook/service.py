"""Recording business events, closing a period, and noting what an edit changed."""

from datetime import date, timedelta
from typing import Any

from sqlalchemy import event, inspect
from sqlalchemy.orm import Session

from backoffice import db
from backoffice.daybook import queries
from backoffice.daybook.models import Change, Entry, PeriodLock
from backoffice.errors import Refused


def record(session: Session, sort: str, day: date) -> int:
    """Write one business event and give its number.

    An event of a closed day is entered on the first open one: an entry is never back-dated.
    """
    queries.hold(session, alone=False)
    locked = queries.locked_upto(session)
    entry = Entry(
        day=day if locked is None or day > locked else locked + timedelta(days=1),
        sort=sort,
        recorded_at=session.info["at"],
        user_id=session.info["by"],
    )
    session.add(entry)
    session.flush()
    return entry.id


def lock(session: Session, upto: date | None, reason: str) -> None:
    """Close the books up to a day, or open them again with None; the reason is kept.

    Raises: Refused without a reason.
    """
    if not reason.strip():
        raise Refused("text.needed", field="reason")
    queries.hold(session, alone=True)
    session.add(PeriodLock(upto=upto, reason=reason, recorded_at=session.info["at"]))
    session.flush()


def _changes(session: Session, row: Any) -> list[Change]:
    state = inspect(row)
    changes = []
    for column in state.mapper.column_attrs:
        before, after = state.attrs[column.key].history.deleted, getattr(row, column.key)
        if column.key == "version" or not before or before[0] == after:
            continue
        if column.columns[0].info.get("secret"):
            continue
        changes.append(
            Change(
                table_name=state.mapper.local_table.name,
                row_id=state.identity[0],
                field=column.key,
                before=None if before[0] is None else str(before[0]),
                after=None if after is None else str(after),
                at=session.info["at"],
                user_id=session.info["by"],
            )
        )
    return changes


@event.listens_for(db.Session, "before_flush")
def note_changes(session: Session, _context: object, _instances: object) -> None:
    """Write down what an edit changes in any record."""
    for row in list(session.dirty):
        if getattr(row, "kind", "") == "record" and session.is_modified(row):
            session.add_all(_changes(session, row))
