"""What is ready to be billed, what was billed, and who owes what?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, ScalarSelect, func, select
from sqlalchemy.orm import Session

from backoffice.billing import rules
from backoffice.billing.models import (
    Allocation,
    Balance,
    Document,
    DocumentEvent,
    DocumentLine,
    Particulars,
    Payment,
    Receivable,
    Series,
)
from backoffice.billing.rules import Printed, Totals
from backoffice.clients.models import Client, Horse
from backoffice.daybook.models import Entry
from backoffice.pricing.models import Service
from backoffice.visits.models import PriceLine, PriceShare, Pricing, Unbilled, Visit, Work
from backoffice.words import Speech

PAGE = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """A line that is on no bill yet."""

    share_id: int
    work_id: int
    day: date
    horse: str | None
    sort: str
    service_id: int | None
    service: str | None
    qty: int
    whole: int
    quoted: int
    net: int
    category: str
    rate_ppm: int

    def text(self, speech: Speech) -> str:
        """Say what the line is for, and of which whole it is a part."""
        text = speech.say(f"line.{self.sort}").capitalize()
        if self.service and self.sort in ("service", "told"):
            text = self.service
        if self.quoted == self.whole:
            return text
        return speech.say("line.part_of", text=text, whole_cents=self.whole)

    def as_document_line(self) -> rules.DocumentLine:
        """Give the line as a document adds it up."""
        return rules.DocumentLine(
            kind=self.sort,
            code=str(self.service_id or ""),
            qty=self.qty,
            net=self.net,
            quoted=self.quoted,
            category=self.category,
            rate_ppm=self.rate_ppm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyBill:
    """What would be billed to a client now."""

    client_id: int
    client: str | None
    bill_when: str
    lines: tuple[ReadyLine, ...]
    totals: Totals


def ready_bills(
    session: Session, *, includes_tax: bool, client_id: int | None = None
) -> tuple[ReadyBill, ...]:
    """Give each client's ready bill, worked out from what is not billed yet; never stored."""
    rows = session.execute(
        select(
            Unbilled.client_id,
            Client.name.label("client"),
            Client.bill_when,
            Unbilled.share_id,
            Unbilled.work_id,
            Visit.day,
            func.coalesce(Horse.name, Work.words).label("horse"),
            PriceLine.sort,
            PriceLine.service_id,
            Service.name.label("service"),
            PriceLine.qty,
            PriceLine.quoted.label("whole"),
            PriceShare.quoted,
            PriceShare.net,
            PriceLine.category,
            PriceLine.rate_ppm,
        )
        .join(PriceShare, PriceShare.id == Unbilled.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Work, Work.id == Unbilled.work_id)
        .join(Visit, Visit.id == Work.visit_id)
        .join(Client, Client.id == Unbilled.client_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Service, Service.id == PriceLine.service_id)
        .where(
            Unbilled.client_id == client_id if client_id else Unbilled.client_id.is_not(None),
            (PriceLine.quoted != 0) | (PriceLine.waived == 0),
        )
        .order_by(Unbilled.client_id, Visit.day, Work.id, Unbilled.share_id)
    )
    lines: dict[int, list[ReadyLine]] = {}
    heads: dict[int, tuple[str | None, str]] = {}
    for row in rows:
        values = dict(row._mapping)  # noqa: SLF001 (a row's own mapping)
        payer = values.pop("client_id")
        heads[payer] = (values.pop("client"), values.pop("bill_when"))
        lines.setdefault(payer, []).append(ReadyLine(**values))
    return tuple(
        ReadyBill(
            client_id=payer,
            client=heads[payer][0],
            bill_when=heads[payer][1],
            lines=tuple(own),
            totals=rules.totals(
                [line.as_document_line() for line in own], includes_tax=includes_tax
            ),
        )
        for payer, own in lines.items()
    )


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


def _bills(session: Session, *where: ColumnElement[bool], page: int = 1) -> tuple[BillLine, ...]:
    rows = session.execute(
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
        .offset((page - 1) * PAGE)
        .limit(PAGE)
    )
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
    return rules.document_number({"bills": "", "corrections": "C"}.get(series, series), no)


def bill_list(session: Session, page: int = 1) -> tuple[BillLine, ...]:
    """List bills and corrections, the newest first."""
    return _bills(session, page=page)


def open_bills(session: Session) -> tuple[BillLine, ...]:
    """List the bills with something still to pay."""
    return _bills(session, Receivable.open != 0)


def bills_of_client(session: Session, client_id: int) -> tuple[BillLine, ...]:
    """List one client's bills and corrections, the newest first."""
    return _bills(session, Document.client_id == client_id)


def bills_of_work(session: Session, work_id: int) -> tuple[BillLine, ...]:
    """List the bills and corrections a work is on."""
    on = (
        select(DocumentLine.document_id)
        .join(PriceShare, PriceShare.id == DocumentLine.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .where(Pricing.work_id == work_id)
    )
    return _bills(session, Document.id.in_(on))


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
    paid = line.payable - line.open if line.sort == "invoice" and not line.credited else 0
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


def open_amounts(session: Session, client_id: int) -> tuple[tuple[int, int], ...]:
    """Give a client's open bills, the oldest due first."""
    rows = session.execute(
        select(Receivable.document_id, Receivable.open)
        .where(Receivable.client_id == client_id, Receivable.open > 0)
        .order_by(Receivable.due, Receivable.document_id)
        .with_for_update()
    )
    return tuple(rows.all())


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
