"""Money received, and setting it against bills, oldest first unless told."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import update
from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import METHODS, Allocation, Balance, Payment, Receivable
from backoffice.clients import queries as clients
from backoffice.daybook import service as daybook
from backoffice.db import insert_or_nothing
from backoffice.errors import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPayment:
    """Money a client gave: the amount, the tip beside it, and how; perhaps said with a fact."""

    client_id: int
    amount: int
    tip: int
    method: str
    day: date
    receipt: str | None = None
    visit_id: int | None = None
    document_id: int | None = None
    fact_id: str | None = None


def record_payment(session: Session, new: NewPayment) -> int:
    """Take money in and set it against the bill named, then the oldest; the rest stays a credit.

    Raises: Refused for an amount of nothing or less.
    """
    if new.amount <= 0:
        raise Refused("billing.no_amount", field="amount")
    if new.tip < 0:
        raise Refused("money.negative", field="tip")
    if new.method not in METHODS:
        raise Refused("choice.unknown", field="method")
    clients.client(session, new.client_id)
    entry_id = daybook.record(session, "payment", new.day)
    payment = Payment(
        entry_id=entry_id,
        client_id=new.client_id,
        visit_id=new.visit_id,
        amount=new.amount,
        tip=new.tip,
        fee=0,
        method=new.method,
        receipt=new.receipt,
        fact_id=new.fact_id,
    )
    session.add(payment)
    session.flush()
    owe(session, new.client_id, -new.amount)
    bills = queries.open_amounts(session, new.client_id)
    first = [bill for bill in bills if bill[0] == new.document_id]
    others = [bill for bill in bills if bill[0] != new.document_id]
    for document_id, part in rules.allocate_oldest_first(first + others, new.amount):
        allocate(session, entry_id, document_id, part, payment_id=payment.id)
    return payment.id


def allocate(
    session: Session,
    entry_id: int,
    document_id: int,
    amount: int,
    *,
    payment_id: int | None = None,
    credit_id: int | None = None,
) -> None:
    """Set part of a payment or a correction against a bill."""
    session.add(
        Allocation(
            entry_id=entry_id,
            payment_id=payment_id,
            credit_id=credit_id,
            document_id=document_id,
            amount=amount,
        )
    )
    session.flush()
    settled = update(Receivable).where(Receivable.document_id == document_id)
    session.execute(settled.values(open=Receivable.open - amount))


def owe(session: Session, client_id: int, amount: int) -> None:
    """Add to what a client owes; below nothing takes away."""
    insert_or_nothing(session, Balance, client_id=client_id, owed=0)
    changed = update(Balance).where(Balance.client_id == client_id)
    session.execute(changed.values(owed=Balance.owed + amount))


def use_waiting(
    session: Session, entry_id: int, client_id: int, bills: Sequence[tuple[int, int]]
) -> None:
    """Set money that waits against bills, oldest money first."""
    left = dict(bills)
    for money in queries.waiting(session, client_id):
        for document_id, part in rules.allocate_oldest_first(list(left.items()), money.left):
            allocate(
                session,
                entry_id,
                document_id,
                part,
                payment_id=money.payment_id,
                credit_id=money.credit_id,
            )
            left[document_id] -= part
