"""What closing and putting right need to know beside the works themselves."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients.models import Yard
from backoffice.errors import Refused
from backoffice.visits.models import Fact, PriceLine, Pricing, Visit, Work, WorkPayer
from backoffice.visits.queries.rows import WorkRow, facts_where, works_by_id
from backoffice.visits.rules import FactSort, Said, standing

Payers = tuple[tuple[int | None, int], ...]


def payers_once(session: Session, work_ids: Collection[int]) -> dict[int, Payers]:
    """Give who pays for works this once, in the order named; those paid as always are not there."""
    rows = session.execute(
        select(WorkPayer.work_id, WorkPayer.client_id, WorkPayer.parts)
        .where(WorkPayer.work_id.in_(work_ids))
        .order_by(WorkPayer.work_id, WorkPayer.place_no)
    )
    found: dict[int, Payers] = {}
    for work_id, client_id, parts in rows:
        found[work_id] = (*found.get(work_id, ()), (client_id, parts))
    return found


def visits_with(session: Session, work_ids: Collection[int]) -> tuple[int, ...]:
    """Give the visits of works."""
    rows = select(Work.visit_id).where(Work.id.in_(work_ids)).distinct()
    return tuple(session.scalars(rows.order_by(Work.visit_id)))


def said_of_visits(
    session: Session, visit_ids: Collection[int]
) -> dict[int, tuple[int, tuple[Said, ...]]]:
    """Give what was said of visits as a whole, and up to which fact it has been taken in."""
    seen = session.execute(
        select(Visit.id, func.coalesce(Visit.closed_seq, 0)).where(Visit.id.in_(visit_ids))
    ).all()
    told = facts_where(session, Fact.visit_id.in_(visit_ids), Fact.subject == "")
    return {
        visit_id: (since, tuple(fact for at, fact in told if at == visit_id))
        for visit_id, since in seen
    }


def said_at(session: Session, fact_ids: Collection[str]) -> dict[str, datetime]:
    """Give when facts were recorded."""
    rows = select(Fact.id, Fact.recorded_at).where(Fact.id.in_(fact_ids))
    return dict(session.execute(rows).all())


def miles_of_day(session: Session, visit_id: int) -> dict[int, int | None]:
    """Give how far the yards of a farrier's day are from home, by visit, in order of the day."""
    this = select(Visit.farrier_id, Visit.day).where(Visit.id == visit_id).subquery()
    rows = session.execute(
        select(Visit.id, Yard.miles)
        .join(this, (this.c.farrier_id == Visit.farrier_id) & (this.c.day == Visit.day))
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(Visit.sort == "stop")
        .order_by(Visit.place_no, Visit.id)
    )
    return dict(rows.all())


def charged_before(
    session: Session, visit_ids: Collection[int], without: Collection[int]
) -> dict[int, int]:
    """Give what is charged at visits for works other than these."""
    rows = session.execute(
        select(Work.visit_id, func.sum(PriceLine.quoted))
        .join(Pricing, (Pricing.work_id == Work.id) & (Pricing.no == Work.pricing_no))
        .join(PriceLine, PriceLine.pricing_id == Pricing.id)
        .where(Work.visit_id.in_(visit_ids), Work.id.not_in(without))
        .group_by(Work.visit_id)
    )
    return {visit_id: int(charged) for visit_id, charged in rows}


def last_line_no(session: Session, farrier_id: int, day: date) -> int:
    """Give the highest number of a line ever given on a farrier's day sheet; 0 before the first."""
    of_day = select(Visit.id).where(Visit.farrier_id == farrier_id, Visit.day == day)
    booked = facts_where(session, Fact.visit_id.in_(of_day), Fact.sort == FactSort.BOOKED.value)
    return max((fact.data["place_no"] for _, fact in booked), default=0)


def extras_of(session: Session, visit_id: int) -> int:
    """Count the horses known in words only that were ever taken on at a visit."""
    rows = select(func.count(Fact.subject.distinct())).where(
        Fact.visit_id == visit_id, Fact.subject.like("x%"), Fact.sort == FactSort.BOOKED.value
    )
    return session.scalars(rows).one()


def last_seqs(session: Session, visit_ids: Collection[int]) -> Mapping[tuple[int, str], int]:
    """Give the number of the last fact about each horse of visits."""
    rows = session.execute(
        select(Fact.visit_id, Fact.subject, func.max(Fact.seq))
        .where(Fact.visit_id.in_(visit_ids))
        .group_by(Fact.visit_id, Fact.subject)
    )
    return {(visit_id, subject): seq for visit_id, subject, seq in rows}


@dataclass(frozen=True, slots=True, kw_only=True)
class PaidSaid:
    """Money said to have been given, not yet looked at; the work is the horse it was said with."""

    id: str
    visit_id: int
    subject: str
    work_id: int | None
    data: Mapping[str, Any]


def paid_facts(session: Session, visit_ids: Collection[int]) -> tuple[PaidSaid, ...]:
    """Give the money that is said to have been given at visits, as it stands now."""
    told = facts_where(session, Fact.visit_id.in_(visit_ids))
    if not any(fact.sort is FactSort.PAID for _, fact in told):
        return ()
    works = {
        (row.visit_id, row.subject): row.id
        for row in session.execute(
            select(Work.visit_id, Work.subject, Work.id).where(Work.visit_id.in_(visit_ids))
        )
    }
    return tuple(
        PaidSaid(
            id=fact.id,
            visit_id=visit_id,
            subject=fact.subject,
            work_id=works.get((visit_id, fact.subject)),
            data=fact.data,
        )
        for visit_id in sorted(set(visit_ids))
        for fact in standing([fact for at, fact in told if at == visit_id])
        if fact.sort is FactSort.PAID
    )


def closed_works(session: Session, visit_ids: Collection[int]) -> tuple[int, ...]:
    """Give the closed works of visits."""
    rows = select(Work.id).where(Work.visit_id.in_(visit_ids), Work.closing_entry_id.is_not(None))
    return tuple(session.scalars(rows.order_by(Work.id)))


def work_row(session: Session, work_id: int) -> WorkRow:
    """Give one work.

    Raises: Refused if there is none.
    """
    found = works_by_id(session, [work_id])
    if not found:
        raise Refused("record.missing")
    return found[0]


def work_of(session: Session, visit_id: int, subject: str) -> WorkRow | None:
    """Give the work of a horse at a visit."""
    found = session.scalars(
        select(Work.id).where(Work.visit_id == visit_id, Work.subject == subject)
    ).first()
    return None if found is None else work_row(session, found)


def work_charged(session: Session, work_id: int) -> int | None:
    """Give what is charged for a closed work without its call-out; None is not known yet."""
    charged = session.scalars(
        select(func.sum(PriceLine.quoted))
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .join(Work, (Work.id == Pricing.work_id) & (Work.pricing_no == Pricing.no))
        .where(Work.id == work_id, PriceLine.sort.in_(("service", "told")))
    ).one()
    return None if charged is None else int(charged)
