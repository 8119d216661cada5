"""Which money said at a visit is not taken in yet, and who is it that paid?"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, literal_column, or_, select
from sqlalchemy.orm import Session, aliased

from backoffice.billing.models import METHODS, Payment
from backoffice.clients import queries as clients
from backoffice.clients.models import Client, Horse, Yard
from backoffice.visits import queries as visits
from backoffice.visits.models import Fact, Visit, Work
from backoffice.visits.queries import PaidSaid

MOST_ROWS = 200


def untaken(session: Session, visit_ids: Collection[int]) -> tuple[PaidSaid, ...]:
    """Give the money said to have been given at visits that no payment has taken in yet.

    What was said after its horse was closed is left out until it is taken in there.
    """
    facts = visits.paid_facts(session, visit_ids)
    if not facts:
        return ()
    ids = set(session.scalars(_waiting().where(Fact.id.in_([fact.id for fact in facts]))))
    return tuple(fact for fact in facts if fact.id in ids)


def taken(session: Session, fact_ids: Collection[str]) -> frozenset[str]:
    """Say which of some facts are money that was taken in."""
    found = session.scalars(select(Payment.fact_id).where(Payment.fact_id.in_(fact_ids)))
    return frozenset(fact_id for fact_id in found if fact_id)


def _waiting() -> Select[*tuple[Any, ...]]:
    """Select money said in time that neither it nor what it corrects was taken in."""
    other = aliased(Payment)
    return (
        select(Fact.id.label("fact_id"))
        .join(Visit, Visit.id == Fact.visit_id)
        .outerjoin(Work, (Work.visit_id == Fact.visit_id) & (Work.subject == Fact.subject))
        .outerjoin(Payment, Payment.fact_id == Fact.id)
        .outerjoin(other, other.fact_id == Fact.corrects)
        .where(
            Fact.sort == literal_column("'paid'"),  # as a value it would pass its index by
            Payment.id.is_(None),
            other.id.is_(None),
            or_(Work.closed_seq.is_(None), Fact.seq <= Work.closed_seq),
            or_(Fact.subject != "", Visit.closed_seq.is_(None), Fact.seq <= Visit.closed_seq),
        )
    )


def who_paid(session: Session, facts: Collection[PaidSaid]) -> dict[str, int]:
    """Say who paid: the client named, else the one who pays for the horse, as known now.

    Where several pay, or nobody knows who, the fact is left out.
    """
    works = visits.works_by_id(session, {f.work_id for f in facts if f.work_id is not None})
    there = visits.visits_of(session, {work.visit_id for work in works})
    days = {visit_id: visit.day for visit_id, visit in there.items()}
    once = visits.payers_once(session, [work.id for work in works])
    always = {
        day: clients.payers_on(
            session,
            [w.horse_id for w in works if w.horse_id is not None and days[w.visit_id] == day],
            day,
        )
        for day in sorted(set(days.values()))
    }
    sole: dict[int | None, int | None] = {}
    for work in works:
        usual = always[days[work.visit_id]].get(work.horse_id or 0, ())
        paying = once.get(work.id) or usual
        sole[work.id] = paying[0][0] if len(paying) == 1 else None
    named = {fact.id: fact.data.get("client") or sole.get(fact.work_id) for fact in facts}
    known = set(session.scalars(select(Client.id).where(Client.id.in_(named.values()))))
    return {fact_id: client for fact_id, client in named.items() if client in known}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a fact says of money given: the amount without the tip; None is not known yet."""

    amount: int | None
    tip: int
    method: str
    receipt: str | None


def given(data: Mapping[str, Any]) -> Given:
    """Read what a fact says of money given; what cannot be meant is not known."""
    amount, tip = data.get("amount"), data.get("tip")
    method, receipt = data.get("method"), data.get("receipt")
    return Given(
        amount=amount if isinstance(amount, int) and amount > 0 else None,
        tip=tip if isinstance(tip, int) and tip > 0 else 0,
        method=str(method) if method in METHODS else "other",
        receipt=str(receipt) if receipt else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentWaiting:
    """Money taken at a visit that nobody knows yet who gave."""

    fact_id: str
    visit_id: int
    work_id: int | None
    day: date
    horse: str | None
    words: str | None
    yard: str | None
    given: Given


def payments_waiting(session: Session) -> tuple[PaymentWaiting, ...]:
    """List the money said at visits closed since that waits for who gave it, the oldest first.

    As with all that is to be found out, what is over a year old is left to the books.
    """
    since = visits.found_out_since(session)
    if since is None:
        return ()
    recent = select(Visit.id).where(Visit.day > since)
    rows = session.execute(
        _waiting()
        .add_columns(
            Fact.visit_id,
            Work.id.label("work_id"),
            Visit.day,
            Horse.name.label("horse"),
            Work.words,
            Yard.name.label("yard"),
        )
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Yard, Yard.id == Visit.yard_id)
        .where(
            Visit.closed_seq.is_not(None),
            Fact.visit_id.in_(recent),
        )
        .order_by(Visit.day, Fact.seq)
        .limit(MOST_ROWS)
    )
    found = rows.mappings().all()
    standing = visits.paid_facts(session, {row["visit_id"] for row in found})
    said = {fact.id: given(fact.data) for fact in standing}
    return tuple(
        PaymentWaiting(**row, given=said[row["fact_id"]]) for row in found if row["fact_id"] in said
    )
