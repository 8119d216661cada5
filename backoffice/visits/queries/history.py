"""Which jobs from before this program was used are kept already?"""

from collections.abc import Collection, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.visits.models import Visit, Work

HistoryKey = tuple[int, date, int, str]


def history_key(horse_id: int, day: date, service_id: int | None, words: str | None) -> HistoryKey:
    """Give what tells a past job from another: horse, day, service and the words for it."""
    return horse_id, day, service_id or 0, " ".join((words or "").casefold().split())


def history_keys(session: Session, horses: Sequence[int]) -> set[HistoryKey]:
    """Give the past jobs that are kept of horses."""
    rows = session.execute(
        select(Work.horse_id, Visit.day, Work.service_id, Work.note)
        .join(Visit, Visit.id == Work.visit_id)
        .where(Work.horse_id.in_(horses), Visit.sort == "history")
    )
    return {history_key(horse or 0, day, service, note) for horse, day, service, note in rows}


def subjects_of(session: Session, visits: Collection[int]) -> set[tuple[int, str]]:
    """Give the names horses go by at visits."""
    rows = session.execute(select(Work.visit_id, Work.subject).where(Work.visit_id.in_(visits)))
    return {(visit_id, subject) for visit_id, subject in rows}
