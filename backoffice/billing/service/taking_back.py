"""Taking bills back by a correction of their own number: to bill anew, or for good."""

from collections.abc import Collection
from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import Document, DocumentLine, Particulars
from backoffice.billing.service.closing import owing_at
from backoffice.billing.service.documents import add_lines, freeze, seller_of, series_of
from backoffice.billing.service.payments import allocate, owe
from backoffice.clients.rules import client_label
from backoffice.daybook import service as daybook
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice.rules import needed
from backoffice.visits import queries as visits
from backoffice.visits import service as works


def credit(session: Session, document_id: int, *, today: date, reason: str) -> int:
    """Take a bill back in full, for good: its work stays as it is and is not billed again.

    The reason is printed on the correction. What was paid on the bill stays the client's credit.
    What is owed from before is taken back the same way, for instance if it was brought in wrong.
    Raises: Refused without a reason, if it is no bill, or was taken back before.
    """
    return _take_back(session, document_id, "credit", today, note=needed(reason, "reason"))


def fix_bill(session: Session, document_id: int, *, today: date, also: Collection[int] = ()) -> int:
    """Take a bill back in full and make its horses ready to be billed anew, in one step.

    They are priced again with their payers as known now; what was paid waits for the new bill.
    The bill of somebody else who pays a part of a horse stands, as long as his part stays what it
    was. Where it does not, his bill is fixed in the same step: ``also`` names it.
    Raises: Refused as ``credit`` does, and if a bill that stands would change: it is named.
    """
    fixed = list(dict.fromkeys([document_id, *also]))
    corrections = [_take_back(session, one, "fix", today) for one in fixed]
    freed: dict[int, set[int]] = {}
    said: dict[int, int | None] = {}
    for one in fixed:
        client_id = session.get_one(Document, one).client_id
        for work_id, told in queries.works_on(session, one):
            freed.setdefault(work_id, set()).add(client_id)
            said[work_id] = told
    for work_id, told in sorted(said.items()):
        _price(session, work_id, told, today, freed[work_id], "billing.other_bill")
    return corrections[0]


def reprice(session: Session, work_id: int, *, told: int | None, today: date) -> None:
    """Price a closed horse anew: as it was said, or by the rules again with None.

    Raises: Refused if a bill that stands would change: it is named.
    """
    _price(session, work_id, told, today, (), "billing.on_a_bill")


def _price(
    session: Session,
    work_id: int,
    told: int | None,
    today: date,
    freed: Collection[int],
    code: str,
) -> None:
    found = visits.works_by_id(session, [work_id])
    if not found:
        raise Refused("record.missing")
    owing = owing_at(session, found[0].visit_id)
    changed = works.changed_bills(session, work_id, told=told, freed=freed, owing=owing)
    if changed:
        other = queries.last_bill(session, work_id, min(changed))
        raise Refused(
            "billing.given_up_already" if other.credited else code,
            number=other.number,
            client=client_label(practice.speech(session), other.client),
            bill=other.id,
        )
    works.reprice_work(session, work_id, told=told, today=today, freed=freed, owing=owing)


def _take_back(
    session: Session, document_id: int, sort: str, today: date, *, note: str | None = None
) -> int:
    bill = session.get(Document, document_id)
    sorts = ("invoice",) if sort == "fix" else ("invoice", "opening")
    if bill is None or bill.sort not in sorts:
        raise Refused("record.missing")
    if session.scalar(select(Document.id).where(Document.credits_id == bill.id)) is not None:
        raise Refused("billing.already_corrected", number=queries.number_of(bill.series, bill.no))
    text = session.scalar(select(Particulars.text).where(Particulars.document_id == bill.id))
    if text is None:
        raise Refused("billing.emptied")
    body = rules.read_body(bill.body)
    particulars = rules.read_particulars(text)
    entry_id = daybook.record(session, sort, today)
    series = series_of(session, "corrections", 1)
    business = practice.practice(session)
    document = freeze(
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
            seller=seller_of(business, body.totals),
            lines=body.lines,
            totals=body.totals,
            credits=body.number,
        ),
        particulars if note is None else replace(particulars, note=note),
        entry_id=entry_id,
        client_id=bill.client_id,
        credits_id=bill.id,
    )
    lines = session.scalars(
        select(DocumentLine).where(DocumentLine.document_id == bill.id).order_by(DocumentLine.id)
    ).all()
    add_lines(session, document, lines, body.totals)
    owe(session, bill.client_id, -body.totals.payable)
    still_open = dict(queries.open_amounts(session, bill.client_id)).get(bill.id, 0)
    if still_open:
        allocate(session, entry_id, bill.id, still_open, credit_id=document.id)
    return document.id
