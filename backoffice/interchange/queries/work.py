"""The sheets of past work, bills and payments."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from backoffice.billing.models import (
    Allocation,
    Document,
    DocumentLine,
    Particulars,
    Payment,
    Receivable,
)
from backoffice.billing.queries import number_of
from backoffice.billing.rules import read_particulars
from backoffice.daybook.models import Entry
from backoffice.interchange.document.sheets import Column, Sheet
from backoffice.interchange.queries.names import Names, listed
from backoffice.units import Foot
from backoffice.visits.models import PriceLine, PriceShare, Pricing, Visit, Work, WorkFoot

Row = tuple[object, ...]
AT_ONCE = 500


def past_work(session: Session, names: Names) -> Sheet:
    """Every horse written up or brought in: when, where, what was done to which foot, for how much.

    What was brought in from before was priced elsewhere; its amount is what was written of it.
    """
    say = names.say
    return Sheet(
        say("taken.work"),
        (
            Column(say("taken.date"), "day"),
            Column(say("taken.horse")),
            Column(say("taken.yard")),
            Column(say("taken.kind"), width=16),
            Column(say("taken.did"), width=30),
            Column(say("taken.how_far"), width=12),
            *(Column(names.speech.foot(foot), width=16) for foot in Foot),
            Column(say("taken.charged"), "amount"),
            Column(say("taken.paid_by_whom"), width=26),
            Column(say("taken.on_bill"), width=12),
            Column(say("taken.farrier"), width=20),
            Column(say("taken.minutes"), "count"),
            Column(say("taken.notes"), width=40),
        ),
        _past_work(session, names),
    )


def _past_work(session: Session, names: Names) -> Iterator[Row]:
    columns = (
        Work.id, Visit.day, Visit.yard_id, Visit.farrier_id, Work.horse_id, Work.words,
        Work.type_id, Work.service_id, Work.outcome, Work.booked, Work.minutes, Work.note,
        (Visit.sort == "history").label("before"),
    )  # fmt: skip
    found = session.execute(
        select(*columns)
        .join(Visit, Visit.id == Work.visit_id)
        .where(Work.closing_entry_id.is_not(None) | (Visit.sort == "history"))
        .order_by(Visit.day, Visit.id, Work.place_no, Work.id)
        .execution_options(yield_per=AT_ONCE)
    )
    for works in found.partitions():
        ids = [work.id for work in works]
        feet, charged = _feet(session, names, ids), _charged(session, names, ids)
        for work in works:
            nothing = work.booked if work.before else None
            net, payers, bills = charged.get(work.id, (nothing, None, None))
            yield (
                work.day,
                names.horses.get(work.horse_id) or work.words,
                names.yards.get(work.yard_id),
                names.kinds.get(work.type_id),
                names.services.get(work.service_id),
                names.say("taken.before") if work.before else names.word("outcome", work.outcome),
                *(feet[work.id].get(foot.value) for foot in Foot),
                net,
                payers,
                bills,
                names.farriers.get(work.farrier_id),
                work.minutes,
                work.note,
            )


def _feet(
    session: Session, names: Names, work_ids: Sequence[int]
) -> dict[int, dict[str, str | None]]:
    """What was done to each foot, and with which shoe."""
    found: dict[int, dict[str, str | None]] = defaultdict(dict)
    for work_id, foot, done, shoe in session.execute(
        select(WorkFoot.work_id, WorkFoot.foot, WorkFoot.done, WorkFoot.shoe_item_id).where(
            WorkFoot.work_id.in_(work_ids), WorkFoot.done != "none"
        )
    ):
        item = names.items.get(shoe)
        word = names.word("done", done)
        found[work_id][foot] = f"{word}, {item}" if item else word
    return found


def _charged(
    session: Session, names: Names, work_ids: Sequence[int]
) -> dict[int, tuple[int, str | None, str | None]]:
    """What the price that stands of each work comes to, who is charged, and on which bills."""
    billed = and_(DocumentLine.share_id == PriceShare.id, DocumentLine.sort == "invoice")
    parts: dict[int, list[tuple[int, str | None, str | None]]] = defaultdict(list)
    for work_id, client_id, series, no, net in session.execute(
        select(
            Pricing.work_id, PriceShare.client_id, Document.series, Document.no,
            func.sum(PriceShare.net),
        )
        .join(Work, and_(Work.id == Pricing.work_id, Work.pricing_no == Pricing.no))
        .join(PriceLine, PriceLine.pricing_id == Pricing.id)
        .join(PriceShare, PriceShare.line_id == PriceLine.id)
        .outerjoin(DocumentLine, billed)
        .outerjoin(Document, Document.id == DocumentLine.document_id)
        .where(Pricing.work_id.in_(work_ids))
        .group_by(Pricing.work_id, PriceShare.client_id, Document.series, Document.no)
        .order_by(Pricing.work_id, func.min(PriceShare.id))
    ):  # fmt: skip
        number = number_of(series, no) if series else None
        parts[work_id].append((int(net), names.clients.get(client_id), number))
    return {
        work_id: (
            sum(net for net, _, _ in own),
            listed([client for _, client, _ in own]),
            listed([number for _, _, number in own]),
        )
        for work_id, own in parts.items()
    }


def _old_numbers(session: Session) -> dict[int, str]:
    """The numbers that bills from before this program had of their own, as far as still known."""
    rows = session.execute(
        select(Document.id, Particulars.text)
        .join(Particulars, Particulars.document_id == Document.id)
        .where(Document.series == "opening", Particulars.text.is_not(None))
    )
    return {number: read_particulars(text or "").note for number, text in rows}


def bills(session: Session, names: Names) -> Sheet:
    """Every bill and correction by its number; a correction takes away, so it is below nothing."""
    say = names.say
    return Sheet(
        say("taken.bills"),
        (
            Column(say("taken.number"), width=12),
            Column(say("taken.what"), width=14),
            Column(say("taken.date"), "day"),
            Column(say("taken.due"), "day"),
            Column(say("taken.client"), width=26),
            Column(say("taken.before_tax"), "amount"),
            Column(say("taken.tax"), "amount"),
            Column(say("taken.total"), "amount"),
            Column(say("taken.open"), "amount"),
        ),
        _bills(session, names),
    )


def _bills(session: Session, names: Names) -> Iterator[Row]:
    old = _old_numbers(session)
    columns = (
        Document.id, Document.series, Document.no, Document.sort, Document.client_id,
        Document.issued, Document.due, Document.net, Document.tax,
        (Document.gross + Document.rounding).label("all"), Receivable.open,
    )  # fmt: skip
    for row in session.execute(
        select(*columns)
        .outerjoin(Receivable, Receivable.document_id == Document.id)
        .order_by(Document.issued, Document.id)
        .execution_options(yield_per=AT_ONCE)
    ):
        sign = -1 if row.sort == "credit" else 1
        yield (
            old.get(row.id) or number_of(row.series, row.no),
            names.say(f"taken.document.{row.sort}"),
            row.issued,
            row.due if sign > 0 else None,
            names.clients.get(row.client_id),
            sign * row.net,
            sign * row.tax,
            sign * int(row.all),
            row.open,
        )


def payments(session: Session, names: Names) -> Sheet:
    """All money received, and the bills it was set against."""
    say = names.say
    return Sheet(
        say("taken.payments"),
        (
            Column(say("taken.date"), "day"),
            Column(say("taken.client"), width=26),
            Column(say("taken.received"), "amount"),
            Column(say("taken.tip"), "amount"),
            Column(say("taken.fee"), "amount"),
            Column(say("taken.method"), width=16),
            Column(say("taken.receipt"), width=14),
            Column(say("taken.set_against"), width=20),
        ),
        _payments(session, names),
    )


def _payments(session: Session, names: Names) -> Iterator[Row]:
    against: dict[int | None, list[str | None]] = defaultdict(list)
    old = _old_numbers(session)
    for payment_id, document_id, series, no in session.execute(
        select(Allocation.payment_id, Document.id, Document.series, Document.no)
        .join(Document, Document.id == Allocation.document_id)
        .where(Allocation.payment_id.is_not(None))
        .order_by(Allocation.id)
    ):
        against[payment_id].append(old.get(document_id) or number_of(series, no))
    for day, paid in session.execute(
        select(Entry.day, Payment)
        .join(Entry, Entry.id == Payment.entry_id)
        .order_by(Entry.day, Payment.id)
    ):
        yield (
            day,
            names.clients.get(paid.client_id),
            paid.amount,
            paid.tip,
            paid.fee,
            names.word("method", paid.method),
            paid.receipt,
            listed(against[paid.id]),
        )
