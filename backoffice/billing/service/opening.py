"""What clients still owe from before this program was used."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import Receivable
from backoffice.billing.service.documents import (
    add_lines,
    freeze,
    lines_of,
    seller_of,
    series_of,
)
from backoffice.billing.service.issuing import terms_of
from backoffice.billing.service.payments import owe, use_waiting
from backoffice.clients import queries as clients
from backoffice.daybook import service as daybook
from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice.rules import amount, needed


@dataclass(frozen=True, slots=True, kw_only=True)
class OldBalance:
    """What is left to pay of an old bill, which goes by its old reference; no day, not known."""

    client_id: int
    reference: str
    amount: int
    day: date | None = None


def open_balance(session: Session, old: Sequence[OldBalance], *, today: date) -> int:
    """Write down what is still owed of bills from before; give how many were new.

    Each becomes a document of a series of its own with the old reference frozen in it, is owed from
    the day of the old bill on, and is settled by payments as a bill is. What was paid on it before
    is not in its amount and is not counted again. A reference of a client is written down once.
    Raises: Refused without a reference, for nothing or less, and for a day to come.
    """
    known = queries.old_references(session, {balance.client_id for balance in old})
    new: dict[tuple[int, str], OldBalance] = {}
    for balance in old:
        reference = needed(balance.reference, "reference")
        if amount(balance.amount, "amount") <= 0:
            raise Refused("billing.nothing_owed", field="amount", reference=reference)
        if balance.day is not None and sensible(balance.day) > today:
            raise Refused("billing.owed_to_come", field="day", on_day=balance.day)
        key = (balance.client_id, reference.casefold())
        if key not in known:
            new.setdefault(key, balance)
    if not new:
        return 0
    entry_id = daybook.record(session, "issue", today)
    for balance in new.values():
        _open(session, balance, entry_id=entry_id, today=today)
    return len(new)


def _open(session: Session, old: OldBalance, *, entry_id: int, today: date) -> None:
    business, speech = practice.practice(session), practice.speech(session)
    buyer = clients.client_card(session, old.client_id, today).details
    reference = needed(old.reference, "reference")
    line = queries.OldLine(share_id=None, net=old.amount, quoted=old.amount)
    body_line = rules.DocumentLine(
        kind="opening",
        net=line.net,
        quoted=line.quoted,
        category=line.category,
        rate_ppm=line.rate_ppm,
    )
    totals = rules.totals([body_line], includes_tax=business.prices_include_tax)
    series = series_of(session, "opening", 1)
    day = old.day or today
    document = freeze(
        session,
        series,
        rules.Body(
            series=queries.OLD_SERIES,
            no=series.last_no + 1,
            kind=rules.DocumentKind.INVOICE,
            issued=day,
            due=day + timedelta(days=terms_of(session, buyer)),
            currency=business.currency,
            words=business.words,
            includes_tax=business.prices_include_tax,
            seller=seller_of(business, totals),
            lines=(body_line,),
            totals=totals,
        ),
        rules.Particulars(
            buyer=lines_of(buyer.name, buyer.address),
            lines=(
                rules.LineText(
                    text=speech.say("billing.from_before", reference=reference), day=old.day
                ),
            ),
            note=reference,
        ),
        entry_id=entry_id,
        client_id=old.client_id,
    )
    add_lines(session, document, [line], totals)
    session.add(
        Receivable(
            document_id=document.id,
            client_id=old.client_id,
            due=document.due,
            open=totals.payable,
        )
    )
    session.flush()
    owe(session, old.client_id, totals.payable)
    use_waiting(session, entry_id, old.client_id, [(document.id, totals.payable)])
