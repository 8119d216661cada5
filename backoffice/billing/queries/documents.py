"""Which bills and corrections were issued, and what became of each?"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, ScalarSelect, Select, func, literal_column, select
from sqlalchemy.orm import Session

from backoffice.billing import rules
from backoffice.billing.models import (
    Allocation,
    Document,
    DocumentEvent,
    DocumentLine,
    Particulars,
    Payment,
    Receivable,
    Series,
)
from backoffice.billing.queries.opening import OLD_SERIES
from backoffice.billing.rules import Printed
from backoffice.clients.models import Client, Horse
from backoffice.daybook.models import Entry
from backoffice.visits.models import PriceLine, PriceShare, Pricing, Unbilled, Visit, Work

PAGE = 200


def next_number(session: Session, series: str) -> int | None:
    """Give the number the next document of a series gets; None before the first was chosen."""
    row = session.get(Series, series)
    return row.last_no + 1 if row else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """A bill in a list."""

    id: int
    number: str
    sort: str
    client_id: int
    client: str | None
    issued: date
    due: date
    payable: int
    open: int
    credited: bool


def _bills(
    session: Session, *where: ColumnElement[bool], page: int | None = 1
) -> tuple[BillLine, ...]:
    lines = (
        select(
            Document.id,
            Document.series,
            Document.no,
            Document.sort,
            Document.client_id,
            Client.name,
            Document.issued,
            Document.due,
            (Document.gross + Document.rounding).label("payable"),
            Receivable.open,
            credited_by().label("credit"),
        )
        .join(Client, Client.id == Document.client_id)
        .outerjoin(Receivable, Receivable.document_id == Document.id)
        .where(*where)
        .order_by(Document.id.desc())
    )
    if page is not None:
        lines = lines.offset((page - 1) * PAGE).limit(PAGE)
    rows = session.execute(lines)
    return tuple(
        BillLine(
            id=row.id,
            number=number_of(row.series, row.no),
            sort=row.sort,
            client_id=row.client_id,
            client=row.name,
            issued=row.issued,
            due=row.due,
            payable=int(row.payable),
            open=row.open or 0,
            credited=row.credit is not None,
        )
        for row in rows
    )


def credited_by() -> ScalarSelect[int]:
    """Give the correction that credits a bill, as a column."""
    other = Document.__table__.alias("correction")
    return select(other.c.id).where(other.c.credits_id == Document.id).scalar_subquery()


def number_of(series: str, no: int) -> str:
    """Write a document's number as it is printed."""
    return rules.document_number(
        {"bills": "", "corrections": "C", "opening": OLD_SERIES}[series], no
    )


def bills_numbered(session: Session, first: int, last: int) -> tuple[BillLine, ...]:
    """List the bills from one number to another."""
    numbers = (Document.series == "bills", Document.no >= first, Document.no <= last)
    return tuple(reversed(_bills(session, *numbers)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """How a bill reaches its client, and which horses are on it."""

    bill_how: str
    phone: str | None
    horses: tuple[str, ...]


def reached(session: Session, document_ids: Sequence[int]) -> dict[int, Reached]:
    """Say of bills how each reaches its client and which horses are on it."""
    rows = session.execute(
        select(Document.id, Client.bill_how, Client.phone, Particulars.text)
        .join(Client, Client.id == Document.client_id)
        .outerjoin(Particulars, Particulars.document_id == Document.id)
        .where(Document.id.in_(document_ids))
    )
    return {
        row.id: Reached(bill_how=row.bill_how, phone=row.phone, horses=_horses(row.text))
        for row in rows
    }


def _horses(text: str | None) -> tuple[str, ...]:
    lines = rules.read_particulars(text).lines if text else ()
    return tuple(dict.fromkeys(line.horse for line in lines if line.horse))


def last_bill(session: Session, work_id: int, client_id: int) -> BillLine:
    """Give the bill a client got last for a work that is on a bill of his."""
    on = Document.id.in_(_of_work(work_id))
    his = (Document.client_id == client_id, Document.sort == "invoice")
    return _bills(session, on, *his)[0]


def bill_list(session: Session, page: int = 1) -> tuple[BillLine, ...]:
    """List bills and corrections, the newest first."""
    return _bills(session, page=page)


def open_bills(session: Session) -> tuple[BillLine, ...]:
    """List the bills with something still to pay, all of them."""
    still = Receivable.open != literal_column("0")  # as a value it would pass its index by
    waiting = select(Receivable.document_id).where(still)
    return _bills(session, Document.id.in_(waiting), page=None)


def bills_of_client(session: Session, client_id: int) -> tuple[BillLine, ...]:
    """List one client's bills and corrections, the newest first."""
    return _bills(session, Document.client_id == client_id)


def bills_of_work(session: Session, work_id: int) -> tuple[BillLine, ...]:
    """List the bills and corrections a work is on."""
    return _bills(session, Document.id.in_(_of_work(work_id)))


def _of_work(work_id: int) -> Select[int]:
    return (
        select(DocumentLine.document_id)
        .join(PriceShare, PriceShare.id == DocumentLine.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .where(Pricing.work_id == work_id)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyIn:
    """Part of a payment or a correction that was set against a bill."""

    day: date
    method: str
    amount: int
    tip: int
    receipt: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BillCard:
    """A bill with all that became of it."""

    line: BillLine
    printed: Printed
    settled: tuple[MoneyIn, ...]
    handed_over: date | None
    correction_id: int | None
    corrects_id: int | None


def bill_card(session: Session, document_id: int) -> BillCard | None:
    """Give one bill, or None if there is no such bill."""
    lines = _bills(session, Document.id == document_id)
    if not lines:
        return None
    document = session.get_one(Document, document_id)
    text = session.scalar(select(Particulars.text).where(Particulars.document_id == document_id))
    settled = session.execute(
        select(
            Entry.day,
            func.coalesce(Payment.method, "correction").label("method"),
            Allocation.amount,
            func.coalesce(Payment.tip, 0).label("tip"),
            Payment.receipt,
        )
        .join(Entry, Entry.id == Allocation.entry_id)
        .outerjoin(Payment, Payment.id == Allocation.payment_id)
        .where(Allocation.document_id == document_id)
        .order_by(Allocation.id)
    )
    handed = session.scalar(
        select(func.min(Entry.day))
        .join(DocumentEvent, DocumentEvent.entry_id == Entry.id)
        .where(DocumentEvent.document_id == document_id)
    )
    line = lines[0]
    paid = line.payable - line.open if line.sort != "credit" and not line.credited else 0
    return BillCard(
        line=line,
        printed=rules.printed(document.body, text, paid or None),
        settled=tuple(
            MoneyIn(
                day=row.day,
                method=row.method,
                amount=row.amount,
                tip=row.tip,
                receipt=row.receipt,
            )
            for row in settled
        ),
        handed_over=date.fromisoformat(handed) if isinstance(handed, str) else handed,
        correction_id=session.scalar(select(Document.id).where(Document.credits_id == document_id)),
        corrects_id=document.credits_id,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainLine:
    """A horse on a bill that was fixed, ready to be billed again; None, nobody knows to whom."""

    work_id: int
    day: date
    horse: str | None
    words: str | None
    payers: tuple[tuple[int | None, str | None], ...]


def ready_again(session: Session, document_id: int) -> tuple[AgainLine, ...]:
    """Give the horses on a bill or its correction that wait to be billed, and to whom.

    A correction that takes its bill back for good makes none of them wait.
    """
    fixed = select(Entry.id).join(Document, Document.entry_id == Entry.id)
    if session.scalar(fixed.where(Document.id == document_id, Entry.sort == "fix")) is None:
        return ()
    works = [work_id for work_id, _ in works_on(session, document_id)]
    rows = session.execute(
        select(
            Work.id,
            Visit.day,
            Horse.name.label("horse"),
            Work.words,
            Unbilled.client_id,
            Client.name.label("client"),
        )
        .join(Visit, Visit.id == Work.visit_id)
        .join(Unbilled, Unbilled.work_id == Work.id)
        .join(PriceShare, PriceShare.id == Unbilled.share_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Client, Client.id == Unbilled.client_id)
        .where(Work.id.in_(works), PriceShare.quoted != 0)
        .distinct()
        .order_by(Visit.day, Work.id, Unbilled.client_id)
    ).all()
    payers: dict[int, list[tuple[int | None, str | None]]] = {}
    for row in rows:
        payers.setdefault(row.id, []).append((row.client_id, row.client))
    found = {row.id: row for row in rows}
    return tuple(
        AgainLine(
            work_id=work_id,
            day=row.day,
            horse=row.horse,
            words=row.words,
            payers=tuple(payers[work_id]),
        )
        for work_id, row in found.items()
    )


def works_on(session: Session, document_id: int) -> tuple[tuple[int, int | None], ...]:
    """Give the works on a bill, each with the price told for it if one was."""
    rows = session.execute(
        select(Work.id, Work.told)
        .join(Pricing, Pricing.work_id == Work.id)
        .join(PriceLine, PriceLine.pricing_id == Pricing.id)
        .join(PriceShare, PriceShare.line_id == PriceLine.id)
        .join(DocumentLine, DocumentLine.share_id == PriceShare.id)
        .where(DocumentLine.document_id == document_id)
        .distinct()
        .order_by(Work.id)
    )
    return tuple(rows.all())
