"""Do bills, numbers, payments and balances agree?"""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session, aliased

from backoffice.billing import rules
from backoffice.billing.models import (
    Allocation,
    Balance,
    Document,
    DocumentLine,
    DocumentTax,
    Particulars,
    Payment,
    Receivable,
    Series,
)
from backoffice.errors import Broken
from backoffice.visits.models import PriceLine, PriceShare, Pricing, Unbilled, Visit, Work

_Correction = aliased(Document)
_PAYABLE = Document.gross + Document.rounding


def check(session: Session) -> Iterator[Broken]:
    """Find every bill, payment and balance that does not hold."""
    yield from _numbers_and_chain(session)
    yield from _totals(session)
    yield from _open(session)
    yield from _allocations(session)
    yield from _balances(session)
    yield from _billed(session)
    yield from _from_before(session)


def _numbers_and_chain(session: Session) -> Iterator[Broken]:
    for series in session.scalars(select(Series).order_by(Series.name)):
        expected, prev = series.first_no, rules.CHAIN_START
        rows = session.execute(
            select(
                Document.no,
                Document.body,
                Document.digest,
                Document.prev,
                Document.hash,
                Particulars.text,
                Particulars.salt,
            )
            .outerjoin(Particulars, Particulars.document_id == Document.id)
            .where(Document.series == series.name)
            .order_by(Document.no)
            .execution_options(yield_per=500)
        )
        for row in rows:
            facts: dict[str, object] = {"series": series.name, "no": row.no}
            if row.no != expected:
                yield Broken("check.number_gap", facts)
            sealed = rules.chain(row.prev, row.no, row.body, row.digest)
            if row.prev != prev or row.hash != sealed:
                yield Broken("check.chain", facts)
            if row.text is not None and rules.digest(row.salt, row.text) != row.digest:
                yield Broken("check.particulars", facts)
            expected, prev = row.no + 1, row.hash
        if (series.last_no, series.last_hash) != (expected - 1, prev):
            yield Broken("check.series", {"series": series.name, "no": series.last_no})


def _totals(session: Session) -> Iterator[Broken]:
    lines = (
        select(DocumentLine.document_id, func.sum(DocumentLine.net).label("net"))
        .group_by(DocumentLine.document_id)
        .subquery()
    )
    taxes = (
        select(
            DocumentTax.document_id,
            func.sum(DocumentTax.base).label("base"),
            func.sum(DocumentTax.tax).label("tax"),
        )
        .group_by(DocumentTax.document_id)
        .subquery()
    )
    rows = session.execute(
        select(Document.series, Document.no)
        .outerjoin(lines, lines.c.document_id == Document.id)
        .outerjoin(taxes, taxes.c.document_id == Document.id)
        .where(
            (func.coalesce(lines.c.net, 0) != Document.net)
            | (func.coalesce(taxes.c.base, 0) != Document.net)
            | (func.coalesce(taxes.c.tax, 0) != Document.tax)
        )
    )
    for series, no in rows:
        yield Broken("check.totals", {"series": series, "no": no})
    bodies = session.execute(
        select(Document.series, Document.no, Document.body, Document.net, Document.tax, _PAYABLE)
        .order_by(Document.id)
        .execution_options(yield_per=500)
    )
    for series, no, text, net, tax, payable in bodies:
        body = rules.read_body(text)
        again = rules.totals(body.lines, includes_tax=body.includes_tax)
        if again != body.totals or (again.net, again.tax, again.payable) != (net, tax, payable):
            yield Broken("check.totals", {"series": series, "no": no})


def _open(session: Session) -> Iterator[Broken]:
    settled = _sum_by(Allocation.document_id)
    rows = session.execute(
        select(Document.series, Document.no)
        .outerjoin(settled, settled.c.key == Document.id)
        .outerjoin(Receivable, Receivable.document_id == Document.id)
        .where(
            Document.sort != "credit",
            Receivable.open.is_(None)
            | (Receivable.open != _PAYABLE - func.coalesce(settled.c.amount, 0))
            | (Receivable.open < 0)
            | (Receivable.due != Document.due)
            | (Receivable.client_id != Document.client_id),
        )
    )
    for series, no in rows:
        yield Broken("check.open", {"series": series, "no": no})


def _sum_by(column: Any) -> Any:
    return (
        select(column.label("key"), func.sum(Allocation.amount).label("amount"))
        .where(column.is_not(None))
        .group_by(column)
        .subquery()
    )


def _allocations(session: Session) -> Iterator[Broken]:
    paid, taken = _sum_by(Allocation.payment_id), _sum_by(Allocation.credit_id)
    for (payment_id,) in session.execute(
        select(Payment.id)
        .join(paid, paid.c.key == Payment.id)
        .where(paid.c.amount > Payment.amount)
    ):
        yield Broken("check.payment", {"payment": payment_id})
    for series, no in session.execute(
        select(Document.series, Document.no)
        .join(taken, taken.c.key == Document.id)
        .where((taken.c.amount > _PAYABLE) | (Document.sort != "credit"))
    ):
        yield Broken("check.correction", {"series": series, "no": no})


def _balances(session: Session) -> Iterator[Broken]:
    signed = func.sum(case((Document.sort == "credit", -_PAYABLE), else_=_PAYABLE))
    documents: dict[int, int] = dict(
        session.execute(select(Document.client_id, signed).group_by(Document.client_id)).all()
    )
    payments: dict[int, int] = dict(
        session.execute(
            select(Payment.client_id, func.sum(Payment.amount)).group_by(Payment.client_id)
        ).all()
    )
    kept: dict[int, int] = dict(session.execute(select(Balance.client_id, Balance.owed)).all())
    for client in sorted({*documents, *payments, *kept}):
        owed = int(documents.get(client, 0)) - int(payments.get(client, 0))
        if owed != kept.get(client, 0):
            yield Broken("check.balance", {"client": client})


def _billed(session: Session) -> Iterator[Broken]:
    """Find parts of a price that are on no bill and wait for none, or do both."""
    bills = session.execute(
        select(
            Pricing.work_id,
            DocumentLine.client_id,
            DocumentLine.document_id,
            func.sum(DocumentLine.net).label("net"),
            func.max(_Correction.id).label("correction"),
        )
        .join(PriceShare, PriceShare.id == DocumentLine.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Pricing, Pricing.id == PriceLine.pricing_id)
        .outerjoin(_Correction, _Correction.credits_id == DocumentLine.document_id)
        .where(DocumentLine.sort == "invoice")
        .group_by(Pricing.work_id, DocumentLine.client_id, DocumentLine.document_id)
        .order_by(DocumentLine.document_id)
    ).all()
    last = {(row.work_id, row.client_id): row for row in bills}
    waits = Unbilled.share_id.is_not(None)
    priced = session.execute(
        select(Work.id, PriceShare.client_id, waits, func.sum(PriceShare.net))
        .join(Visit, Visit.id == Work.visit_id)
        .join(Pricing, (Pricing.work_id == Work.id) & (Pricing.no == Work.pricing_no))
        .join(PriceLine, PriceLine.pricing_id == Pricing.id)
        .join(PriceShare, PriceShare.line_id == PriceLine.id)
        .outerjoin(Unbilled, Unbilled.share_id == PriceShare.id)
        .where(Visit.sort != "history", PriceShare.quoted != 0, PriceShare.client_id.is_not(None))
        .group_by(Work.id, PriceShare.client_id, waits)
        .order_by(Work.id, PriceShare.client_id)
    )
    for work_id, client_id, waiting, net in priced:
        bill = last.get((work_id, client_id))
        if waiting:
            sound = bill is None or bill.correction is not None
        else:
            sound = bill is not None and int(bill.net) == int(net)
        if not sound:
            yield Broken("check.billed", {"work": work_id, "client": client_id})


def _from_before(session: Session) -> Iterator[Broken]:
    """Find what is owed from before among the bills, and bills among what is owed from before."""
    rows = session.execute(
        select(Document.series, Document.no)
        .join(DocumentLine, DocumentLine.document_id == Document.id)
        .where(
            (Document.series == "opening") | (Document.sort == "opening"),
            (Document.series != Document.sort)
            | (DocumentLine.sort != Document.sort)
            | (DocumentLine.client_id != Document.client_id)
            | DocumentLine.share_id.is_not(None)
            | (Document.tax != 0),
        )
        .order_by(Document.id)
    )
    for series, no in rows:
        yield Broken("check.from_before", {"series": series, "no": no})
