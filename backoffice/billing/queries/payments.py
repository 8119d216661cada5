"""Who owes what, which money waits, and who is it that paid?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, ScalarSelect, func, select
from sqlalchemy.orm import Session

from backoffice.billing.models import Allocation, Balance, Document, Payment, Receivable


def owed(session: Session, clients: Sequence[int]) -> Mapping[int, int]:
    """Say what clients owe; below nothing is a credit of theirs."""
    rows = session.execute(
        select(Balance.client_id, Balance.owed).where(Balance.client_id.in_(clients))
    )
    found = dict(rows.all())
    return {client: found.get(client, 0) for client in clients}


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Money of a client that is not set against any bill yet."""

    payment_id: int | None
    credit_id: int | None
    left: int


def waiting(session: Session, client_id: int) -> tuple[Waiting, ...]:
    """Give a client's payments and corrections that still have something left, oldest first."""
    used_payment = _used(Allocation.payment_id == Payment.id)
    payments = session.execute(
        select(Payment.id, (Payment.amount - used_payment).label("left"), Payment.entry_id)
        .where(Payment.client_id == client_id, Payment.amount > used_payment)
        .order_by(Payment.id)
    )
    payable = Document.gross + Document.rounding
    used_credit = _used(Allocation.credit_id == Document.id)
    credits = session.execute(
        select(Document.id, (payable - used_credit).label("left"), Document.entry_id)
        .where(
            Document.client_id == client_id,
            Document.sort == "credit",
            payable > used_credit,
        )
        .order_by(Document.id)
    )
    found = [
        (entry, Waiting(payment_id=row, credit_id=None, left=int(left)))
        for row, left, entry in payments
    ] + [
        (entry, Waiting(payment_id=None, credit_id=row, left=int(left)))
        for row, left, entry in credits
    ]
    return tuple(left for _, left in sorted(found, key=lambda pair: pair[0]))


def _used(condition: ColumnElement[bool]) -> ScalarSelect[int]:
    amount = func.coalesce(func.sum(Allocation.amount), 0)
    return select(amount).where(condition).scalar_subquery()


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """Money of a client that waits for a bill, the paper receipts it was given for, and the tip.

    The tip was given beside it: it pays no bill.
    """

    left: int
    receipts: tuple[str, ...]
    tip: int

    def pays(self, payable: int) -> int:
        """Give how much of a bill it pays."""
        return min(self.left, max(payable, 0))


def in_hand(session: Session, clients: Sequence[int]) -> dict[int, InHand]:
    """Give the money that waits for a bill of clients; those without any are left out.

    It is what is open of a client's bills less what he owes in all.
    """
    still_open: dict[int, int] = dict(
        session.execute(
            select(Receivable.client_id, func.sum(Receivable.open))
            .where(Receivable.client_id.in_(clients), Receivable.open != 0)
            .group_by(Receivable.client_id)
        ).all()
    )
    left = {
        client: int(still_open.get(client, 0)) - owes
        for client, owes in owed(session, clients).items()
    }
    waits = [client for client, money in left.items() if money > 0]
    receipts: dict[int, list[str]] = {client: [] for client in waits}
    tips = dict.fromkeys(waits, 0)
    rows = session.execute(
        select(Payment.client_id, Payment.receipt, Payment.tip)
        .where(
            Payment.client_id.in_(waits),
            Payment.amount > _used(Allocation.payment_id == Payment.id),
        )
        .order_by(Payment.id)
    )
    for client, receipt, tip in rows:
        receipts[client] += [receipt] if receipt else []
        tips[client] += tip or 0
    return {c: InHand(left=left[c], receipts=tuple(receipts[c]), tip=tips[c]) for c in waits}


def oldest_due(session: Session, clients: Sequence[int]) -> Mapping[int, date]:
    """Say since when clients owe: the day their oldest open bill was due; others are left out."""
    return _oldest_due(session, Receivable.client_id.in_(clients))


def owing_since(session: Session, before: date) -> frozenset[int]:
    """Say which clients have a bill open that was to be paid before a day."""
    return frozenset(_oldest_due(session, Receivable.due < before))


def _oldest_due(session: Session, where: ColumnElement[bool]) -> dict[int, date]:
    rows = session.execute(
        select(Receivable.client_id, func.min(Receivable.due))
        .where(Receivable.open > 0, where)
        .group_by(Receivable.client_id)
    )
    return dict(rows.all())


def open_amounts(session: Session, client_id: int) -> tuple[tuple[int, int], ...]:
    """Give a client's open bills, the oldest due first."""
    rows = session.execute(
        select(Receivable.document_id, Receivable.open)
        .where(Receivable.client_id == client_id, Receivable.open > 0)
        .order_by(Receivable.due, Receivable.document_id)
        .with_for_update()
    )
    return tuple(rows.all())
