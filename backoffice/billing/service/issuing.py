"""Issuing what is ready, one bill or all, and handing it over."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import Document, DocumentEvent, Receivable
from backoffice.billing.queries import ReadyBill
from backoffice.billing.service.documents import (
    add_lines,
    freeze,
    lines_of,
    seller_of,
    series_of,
)
from backoffice.billing.service.payments import owe, use_waiting
from backoffice.clients import queries as clients
from backoffice.clients.rules import ClientDetails, client_label
from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice.rules import PracticeDetails
from backoffice.visits import service as works


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
    ready = queries.ready_bills(
        session, includes_tax=business.prices_include_tax, client_id=new.client_id
    )
    if not ready:
        raise Refused("billing.nothing_ready")
    if ready[0].totals.payable != new.expected:
        raise Refused("billing.changed", now_cents=ready[0].totals.payable)
    entry_id = daybook.record(session, "issue", today)
    return _issue(session, ready[0], new, business, entry_id=entry_id, today=today)


def issue_all(session: Session, bills: Sequence[NewBill], *, today: date) -> tuple[int, ...]:
    """Number and freeze several ready bills in the order given, all of them or none.

    Raises: Refused if there are none, or if one changed since it was looked at: it is named.
    """
    if not bills:
        raise Refused("billing.nothing_ready")
    business = practice.practice(session)
    ready = {
        bill.client_id: bill
        for bill in queries.ready_bills(session, includes_tax=business.prices_include_tax)
    }
    for new in bills:
        now = ready[new.client_id].totals.payable if new.client_id in ready else 0
        if now != new.expected:
            details = clients.client(session, new.client_id)
            name = client_label(practice.speech(session), details.name)
            raise Refused("billing.one_changed", client=name, now_cents=now)
    entry_id = daybook.record(session, "issue", today)
    return tuple(
        _issue(session, ready[new.client_id], new, business, entry_id=entry_id, today=today)
        for new in bills
    )


def _issue(
    session: Session,
    bill: ReadyBill,
    new: NewBill,
    business: PracticeDetails,
    *,
    entry_id: int,
    today: date,
) -> int:
    if bill.totals.payable <= 0:
        raise Refused("billing.nil")
    if not business.name:
        raise Refused("billing.no_name")
    speech = practice.speech(session)
    works.take(session, [line.share_id for line in bill.lines])
    buyer = clients.client(session, new.client_id)
    particulars = rules.Particulars(
        buyer=lines_of(buyer.name, buyer.address),
        lines=tuple(
            rules.LineText(text=line.text(speech), horse=line.horse, day=line.day)
            for line in bill.lines
        ),
        note=new.note,
    )
    series = series_of(session, "bills", new.first_no)
    document = freeze(
        session,
        series,
        rules.Body(
            series="",
            no=series.last_no + 1,
            kind=rules.DocumentKind.INVOICE,
            issued=today,
            due=today + timedelta(days=terms_of(session, buyer)),
            currency=business.currency,
            words=business.words,
            includes_tax=business.prices_include_tax,
            seller=seller_of(business, bill.totals),
            lines=tuple(line.as_document_line() for line in bill.lines),
            totals=bill.totals,
        ),
        particulars,
        entry_id=entry_id,
        client_id=new.client_id,
    )
    add_lines(session, document, bill.lines, bill.totals)
    payable = bill.totals.payable
    session.add(
        Receivable(document_id=document.id, client_id=new.client_id, due=document.due, open=payable)
    )
    session.flush()
    owe(session, new.client_id, payable)
    use_waiting(session, entry_id, new.client_id, [(document.id, payable)])
    return document.id


def hand_over(session: Session, document_id: int, *, today: date) -> None:
    """Write down that a bill was given or sent to its client.

    Raises: Refused if there is no such bill.
    """
    if session.get(Document, document_id) is None:
        raise Refused("record.missing")
    entry_id = daybook.record(session, "handing_over", today)
    session.add(DocumentEvent(document_id=document_id, entry_id=entry_id, sort="handed_over"))
    session.flush()


def terms_of(session: Session, buyer: ClientDetails) -> int:
    """Give how many days a client has to pay a bill."""
    if buyer.terms_days is not None:
        return buyer.terms_days
    monthly = buyer.bill_when == "monthly"
    name = "terms_monthly_days" if monthly else "terms_private_days"
    return practice.settings(session)[name]
