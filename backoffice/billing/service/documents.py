"""Issuing bills and corrections: numbered without a gap, frozen, chained."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import (
    Document,
    DocumentEvent,
    DocumentLine,
    DocumentTax,
    Particulars,
    Receivable,
    Series,
)
from backoffice.billing.service.payments import allocate, owe, use_waiting
from backoffice.clients import queries as clients
from backoffice.clients.rules import ClientDetails
from backoffice.daybook import service as daybook
from backoffice.db import insert_or_nothing
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice.rules import PracticeDetails
from backoffice.visits import service as works

LARGEST_NUMBER = 99_999_999


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBill:
    """A ready bill to issue, with the amount it was shown with and, once, the first number."""

    client_id: int
    expected: int
    note: str = ""
    first_no: int | None = None


def issue(session: Session, new: NewBill, *, today: date) -> int:
    """Number and freeze a client's ready bill; money that waits for it is set against it.

    Raises: Refused if nothing is ready, if it comes to nothing, or if it changed since it was
    looked at.
    """
    business = practice.practice(session)
    speech = practice.speech(session)
    ready = queries.ready_bills(
        session, includes_tax=business.prices_include_tax, client_id=new.client_id
    )
    if not ready:
        raise Refused("billing.nothing_ready")
    bill = ready[0]
    if bill.totals.payable != new.expected:
        raise Refused("billing.changed", now_cents=bill.totals.payable)
    if bill.totals.payable <= 0:
        raise Refused("billing.nil")
    if not business.name:
        raise Refused("billing.no_name")
    works.take(session, [line.share_id for line in bill.lines])
    buyer = clients.client_card(session, new.client_id, today).details
    particulars = rules.Particulars(
        buyer=_lines_of(buyer.name, buyer.address),
        lines=tuple(
            rules.LineText(text=line.text(speech), horse=line.horse, day=line.day)
            for line in bill.lines
        ),
        note=new.note,
    )
    entry_id = daybook.record(session, "issue", today)
    series = _series(session, "bills", new.first_no)
    document = _freeze(
        session,
        series,
        rules.Body(
            series="",
            no=series.last_no + 1,
            kind=rules.DocumentKind.INVOICE,
            issued=today,
            due=today + timedelta(days=_terms(session, buyer)),
            currency=business.currency,
            words=business.words,
            includes_tax=business.prices_include_tax,
            seller=_seller(business, bill.totals),
            lines=tuple(line.as_document_line() for line in bill.lines),
            totals=bill.totals,
        ),
        particulars,
        entry_id=entry_id,
        client_id=new.client_id,
    )
    _add_lines(session, document, bill.lines, bill.totals)
    payable = bill.totals.payable
    session.add(
        Receivable(document_id=document.id, client_id=new.client_id, due=document.due, open=payable)
    )
    session.flush()
    owe(session, new.client_id, payable)
    use_waiting(session, entry_id, new.client_id, [(document.id, payable)])
    return document.id


def credit(session: Session, document_id: int, *, today: date) -> int:
    """Take a bill back in full with a correction of its own number.

    What was paid on it stays the client's credit.
    Raises: Refused if it is no bill, or was taken back before.
    """
    bill = session.get(Document, document_id)
    if bill is None or bill.sort != "invoice":
        raise Refused("record.missing")
    if session.scalar(select(Document.id).where(Document.credits_id == bill.id)) is not None:
        raise Refused("billing.already_corrected")
    text = session.scalar(select(Particulars.text).where(Particulars.document_id == bill.id))
    if text is None:
        raise Refused("billing.emptied")
    body = rules.read_body(bill.body)
    entry_id = daybook.record(session, "credit", today)
    series = _series(session, "corrections", 1)
    business = practice.practice(session)
    document = _freeze(
        session,
        series,
        rules.Body(
            series="C",
            no=series.last_no + 1,
            kind=rules.DocumentKind.CREDIT,
            issued=today,
            due=None,
            currency=body.currency,
            words=body.words,
            includes_tax=body.includes_tax,
            seller=_seller(business, body.totals),
            lines=body.lines,
            totals=body.totals,
            credits=body.number,
        ),
        rules.read_particulars(text),
        entry_id=entry_id,
        client_id=bill.client_id,
        credits_id=bill.id,
    )
    lines = session.scalars(
        select(DocumentLine).where(DocumentLine.document_id == bill.id).order_by(DocumentLine.id)
    ).all()
    _add_lines(session, document, lines, body.totals)
    owe(session, bill.client_id, -body.totals.payable)
    still_open = dict(queries.open_amounts(session, bill.client_id)).get(bill.id, 0)
    if still_open:
        allocate(session, entry_id, bill.id, still_open, credit_id=document.id)
    return document.id


def fix_bill(session: Session, document_id: int, *, today: date) -> int:
    """Take a bill back in full and make its horses ready to be billed anew, in one step.

    They are priced again with their payers as known now; what was paid waits for the new bill.
    """
    correction_id = credit(session, document_id, today=today)
    credited = set(
        session.scalars(
            select(DocumentLine.share_id).where(
                DocumentLine.document_id == document_id, DocumentLine.share_id.is_not(None)
            )
        )
    )
    for work_id, told in queries.works_on(session, document_id):
        works.reprice_work(
            session,
            work_id,
            told=told,
            today=today,
            credited={share for share in credited if share is not None},
        )
    return correction_id


def hand_over(session: Session, document_id: int, *, today: date) -> None:
    """Write down that a bill was given or sent to its client.

    Raises: Refused if there is no such bill.
    """
    if session.get(Document, document_id) is None:
        raise Refused("record.missing")
    entry_id = daybook.record(session, "handing_over", today)
    session.add(DocumentEvent(document_id=document_id, entry_id=entry_id, sort="handed_over"))
    session.flush()


def _series(session: Session, name: str, first_no: int | None) -> Series:
    row = session.scalars(select(Series).where(Series.name == name).with_for_update()).one_or_none()
    if row is not None:
        return row
    if first_no is None or not 1 <= first_no <= LARGEST_NUMBER:
        raise Refused("billing.first_number", field="first_no")
    insert_or_nothing(
        session,
        Series,
        name=name,
        first_no=first_no,
        last_no=first_no - 1,
        last_hash=rules.CHAIN_START,
    )
    return session.scalars(select(Series).where(Series.name == name).with_for_update()).one()


def _freeze(
    session: Session,
    series: Series,
    body: rules.Body,
    particulars: rules.Particulars,
    *,
    entry_id: int,
    client_id: int,
    credits_id: int | None = None,
) -> Document:
    text, salt = rules.particulars_text(particulars), secrets.token_hex(32)
    digest = rules.digest(salt, text)
    frozen = rules.body_text(body)
    seal = rules.chain(series.last_hash, body.no, frozen, digest)
    document = Document(
        entry_id=entry_id,
        series=series.name,
        no=body.no,
        sort="invoice" if body.kind is rules.DocumentKind.INVOICE else "credit",
        client_id=client_id,
        issued=body.issued,
        due=body.due or body.issued,
        net=body.totals.net,
        tax=body.totals.tax,
        gross=body.totals.gross,
        rounding=body.totals.rounding,
        credits_id=credits_id,
        body=frozen,
        digest=digest,
        prev=series.last_hash,
        hash=seal,
    )
    session.add(document)
    series.last_no, series.last_hash = body.no, seal
    session.flush()
    session.add(Particulars(document_id=document.id, text=text, salt=salt))
    return document


def _add_lines(
    session: Session,
    document: Document,
    lines: Sequence[queries.ReadyLine | DocumentLine],
    totals: rules.Totals,
) -> None:
    session.add_all(
        DocumentLine(
            document_id=document.id,
            sort=document.sort,
            share_id=line.share_id,
            client_id=document.client_id,
            net=line.net,
            quoted=line.quoted,
            category=line.category,
            rate_ppm=line.rate_ppm,
            credits_line_id=line.id if isinstance(line, DocumentLine) else None,
        )
        for line in lines
    )
    session.add_all(
        DocumentTax(
            document_id=document.id,
            category=tax.category,
            rate_ppm=tax.rate_ppm,
            base=tax.base,
            tax=tax.tax,
        )
        for tax in totals.taxes
    )
    session.flush()


def _lines_of(*texts: str | None) -> tuple[str, ...]:
    return tuple(
        line.strip() for text in texts for line in (text or "").splitlines() if line.strip()
    )


def _seller(business: PracticeDetails, totals: rules.Totals) -> rules.Seller:
    outside = all(tax.category == rules.TaxCategory.OUTSIDE for tax in totals.taxes)
    return rules.Seller(
        name=business.name,
        address=_lines_of(business.address, business.phone, business.email),
        tax_id="" if outside else business.tax_number,  # EN 16931 BR-O-02
        pay_to=_lines_of(business.how_to_pay),
    )


def _terms(session: Session, buyer: ClientDetails) -> int:
    if buyer.terms_days is not None:
        return buyer.terms_days
    monthly = buyer.bill_when == "monthly"
    name = "terms_monthly_days" if monthly else "terms_private_days"
    return practice.settings(session)[name]
