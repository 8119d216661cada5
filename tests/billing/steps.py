"""From a small practice to bills: closed, issued, paid, looked at."""

from dataclasses import replace
from datetime import date

from backoffice.billing import queries, service
from backoffice.db import Database
from backoffice.visits import service as works
from backoffice.visits.rules import FactSort
from tests.factories import Small, plan, said, small_practice

DAY = date(2026, 3, 17)


def closed_trims(database: Database, *, shared: bool = False, **more: object) -> Small:
    """A day with the bay trimmed, and the shared horse if wanted, closed."""
    with database.writing() as unit:
        small = small_practice(unit.session, **more)  # type: ignore[arg-type]
        horses = (small.bay, small.shared) if shared else (small.bay,)
        visit = plan(unit.session, small, DAY, *horses, service=small.trim)
        facts = [said(horse, FactSort.AS_PLANNED) for horse in horses]
        works.say(unit.session, visit, facts)
        service.close_day(unit.session, DAY, today=DAY)
    return small


def issued(database: Database, client: int, *, first_no: int | None = 1) -> int:
    """Issue what is ready for a client."""
    with database.writing() as unit:
        includes = queries.ready_bills(unit.session, includes_tax=False, client_id=client)
        bill = service.NewBill(
            client_id=client, expected=includes[0].totals.payable, first_no=first_no
        )
        return service.issue(unit.session, bill, today=DAY)


def pay(database: Database, client: int, amount: int, **more: object) -> None:
    """Take money in."""
    with database.writing() as unit:
        payment = service.NewPayment(client_id=client, amount=amount, tip=0, method="cash", day=DAY)
        service.record_payment(unit.session, replace(payment, **more))  # type: ignore[arg-type]


def card(database: Database, document_id: int) -> queries.BillCard:
    """Look at a bill."""
    with database.reading() as session:
        found = queries.bill_card(session, document_id)
    assert found is not None
    return found
