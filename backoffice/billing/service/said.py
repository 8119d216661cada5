"""Taking in the money that was said to have been given at a visit."""

from collections.abc import Collection
from datetime import date

from sqlalchemy.orm import Session

from backoffice.billing import queries
from backoffice.billing.queries import Given
from backoffice.billing.service.payments import NewPayment, record_payment
from backoffice.errors import Refused
from backoffice.visits import queries as visits


def take_payments(session: Session, visit_ids: Collection[int], *, today: date) -> None:
    """Take in the money said at visits, each once, from the client named or the one who pays.

    Where several pay for a horse, or nobody knows who, it waits until somebody says who paid.
    """
    facts = queries.untaken(session, visit_ids)
    if not facts:
        return
    who = queries.who_paid(session, facts)
    there = visits.visits_of(session, visit_ids)
    for fact in facts:
        said = queries.given(fact.data)
        if fact.id in who and said.amount is not None:
            day = min(there[fact.visit_id].day, today)
            _take(session, fact.id, who[fact.id], said, said.amount, fact.visit_id, day)


def take_payment(
    session: Session, fact_id: str, client_id: int, *, today: date, amount: int | None = None
) -> int:
    """Take in money that waited for who gave it; the amount where nobody wrote it down.

    Raises: Refused if it does not wait any more, or nobody knows how much it was.
    """
    found = [one for one in queries.payments_waiting(session) if one.fact_id == fact_id]
    if not found:
        raise Refused("billing.not_waiting")
    one = found[0]
    amount = amount if one.given.amount is None else one.given.amount
    if amount is None:
        raise Refused("billing.no_amount", field="amount")
    day = min(one.day, today)
    return _take(session, fact_id, client_id, one.given, amount, one.visit_id, day)


def _take(
    session: Session,
    fact_id: str,
    client_id: int,
    said: Given,
    amount: int,
    visit_id: int,
    day: date,
) -> int:
    return record_payment(
        session,
        NewPayment(
            client_id=client_id,
            amount=amount,
            tip=said.tip,
            method=said.method,
            day=day,
            receipt=said.receipt,
            visit_id=visit_id,
            fact_id=fact_id,
        ),
    )
