"""What is ready when: free lines, bills that collect, and issuing all at once, on both engines."""

from datetime import date, timedelta

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.billing import queries, service
from backoffice.billing.models import Document
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.visits import service as works
from backoffice.visits.models import PriceLine, PriceShare, Unbilled, Work
from backoffice.visits.rules import FactSort
from tests.billing.steps import DAY, card, closed_trims, issued, pay
from tests.factories import Small, plan, said, small_practice


def free_trim(database: Database, day: date, small: Small | None = None) -> Small:
    """The bay trimmed for nothing, where there is no trip fee, and the day closed."""
    with database.writing() as unit:
        small = small or small_practice(unit.session)
        near = clients.save_yard(unit.session, clients.YardDetails(name="No trip fee here"))
        stop = works.NewStop(
            farrier_id=small.farrier,
            yard_id=near,
            day=day,
            horses=(small.bay,),
            services={small.bay: small.trim},
        )
        visit = works.plan_stop(unit.session, stop, today=day)
        free = said(small.bay, FactSort.TOLD, f"told-{day}", say=0)
        done = said(small.bay, FactSort.AS_PLANNED, f"done-{day}")
        works.say(unit.session, visit, [done, free])
        service.close_day(unit.session, day, today=day)
    return small


def ready(database: Database) -> tuple[queries.ReadyBill, ...]:
    with database.reading() as session:
        return queries.ready_bills(session, includes_tax=False)


def test_a_free_line_makes_no_bill_alone(both: Database) -> None:
    free_trim(both, DAY)

    assert ready(both) == ()
    assert schema.check(both) == []


def test_a_free_line_goes_on_the_next_bill_with_its_words(both: Database) -> None:
    small = free_trim(both, DAY)
    later = DAY + timedelta(days=1)
    with both.writing() as unit:
        visit = plan(unit.session, small, later, small.bay, service=small.trim)
        done = said(small.bay, FactSort.AS_PLANNED, "later")
        works.say(unit.session, visit, [done])
        service.close_day(unit.session, later, today=later)

    printed = card(both, issued(both, small.owner)).printed

    lines = [(day.day, line.text, line.amount) for day in printed.days
             for horse in day.horses for line in horse.lines]  # fmt: skip
    assert lines == [(DAY, "Trim", 0), (later, "Trim", 5_800), (later, "Trip fee", 1_000)]
    assert ready(both) == ()
    assert schema.check(both) == []


def test_the_trip_of_a_horse_that_was_not_there_is_on_no_bill(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        facts = [said(small.bay, FactSort.AS_PLANNED), said(small.shared, FactSort.ABSENT)]
        works.say(unit.session, visit, facts)
        service.close_day(unit.session, DAY, today=DAY)

    (bill,) = ready(both)
    assert [(line.horse, line.quoted) for line in bill.lines] == [
        ("Bramble", 5_800),
        ("Bramble", 500),
    ]
    with both.reading() as session:
        absent = sa.select(Work.id).where(Work.outcome == "absent")
        waits = sa.select(Unbilled.share_id).where(Unbilled.work_id.in_(absent))
        assert session.scalars(waits).all() == []
        waived = session.scalars(sa.select(PriceLine.waived).where(PriceLine.waived != 0)).all()
    assert waived == [500]
    assert schema.check(both) == []


def test_what_older_books_kept_of_a_trip_not_charged_is_on_no_bill_either(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        facts = [said(small.bay, FactSort.AS_PLANNED), said(small.shared, FactSort.ABSENT)]
        works.say(unit.session, visit, facts)
        service.close_day(unit.session, DAY, today=DAY)
        nothing = unit.session.execute(
            sa.select(PriceShare.id, PriceShare.client_id).where(PriceShare.quoted == 0)
        ).all()
        work = sa.select(Work.id).where(Work.outcome == "absent").scalar_subquery()
        for share_id, client_id in nothing:
            row = {"share_id": share_id, "client_id": client_id, "net": 0, "work_id": work}
            unit.session.execute(sa.insert(Unbilled).values(**row))

    assert len(nothing) == 2
    (bill,) = ready(both)
    assert [line.quoted for line in bill.lines] == [5_800, 500]
    issued(both, small.owner)
    assert ready(both) == ()
    assert schema.check(both) == []


@pytest.mark.parametrize(
    ("bill_when", "until"),
    [
        ("on_the_spot", None),
        ("tonight", None),
        ("weekly", date(2026, 3, 22)),  # 17 March 2026 is a Tuesday
        ("monthly", date(2026, 3, 31)),
    ],
)
def test_a_bill_collects_until_the_end_of_its_week_or_month(
    database: Database, bill_when: str, until: date | None
) -> None:
    small = closed_trims(database)
    with database.writing() as unit:
        details = ClientDetails(name="Wenna Harrow", bill_when=bill_when, version=1)
        clients.save_client(unit.session, details, small.owner)

    (bill,) = ready(database)

    assert bill.until == until
    assert bill.collecting(DAY) is (until is not None)
    if until:
        assert bill.collecting(until - timedelta(days=1))
        assert not bill.collecting(until)


def test_a_free_line_of_last_month_does_not_end_the_collecting(database: Database) -> None:
    small = free_trim(database, date(2026, 2, 10))
    with database.writing() as unit:
        details = ClientDetails(name="Wenna Harrow", bill_when="monthly", version=1)
        clients.save_client(unit.session, details, small.owner)
        visit = plan(unit.session, small, DAY, small.bay, service=small.trim)
        works.say(unit.session, visit, [said(small.bay, FactSort.AS_PLANNED, "later")])
        service.close_day(unit.session, DAY, today=DAY)

    (bill,) = ready(database)

    assert bill.until == date(2026, 3, 31)
    assert [line.quoted for line in bill.lines] == [0, 5_800, 1_000]


def shown(database: Database, first_no: int | None = 1000) -> list[service.NewBill]:
    """The ready bills as a page shows them."""
    return [
        service.NewBill(client_id=bill.client_id, expected=bill.totals.payable, first_no=first_no)
        for bill in ready(database)
    ]


def test_all_that_is_ready_is_issued_in_one_step(both: Database) -> None:
    closed_trims(both, shared=True)
    bills = shown(both)
    with both.writing() as unit:
        ids = service.issue_all(unit.session, bills, today=DAY)

    with both.reading() as session:
        made = queries.bills_numbered(session, 1000, 1001)
        entries = set(session.scalars(sa.select(Document.entry_id)))
    assert [(line.id, line.number, line.payable) for line in made] == [
        (ids[0], "1000", 9_450),
        (ids[1], "1001", 3_150),
    ]
    assert len(entries) == 1
    assert ready(both) == ()
    assert schema.check(both) == []


def test_if_one_bill_changed_none_is_issued_and_it_is_named(both: Database) -> None:
    small = closed_trims(both, shared=True)
    bills = shown(both)
    with both.writing() as unit:
        work = unit.session.scalars(sa.select(Work.id).where(Work.horse_id == small.bay)).one()
        works.reprice_work(unit.session, work, told=7_000, today=DAY)

    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.issue_all(unit.session, bills, today=DAY)

    assert refused.value.code == "billing.one_changed"
    assert refused.value.facts == {"client": "Wenna Harrow", "now_cents": 9_450 + 1_200}
    with both.reading() as session:
        assert session.scalars(sa.select(Document.id)).all() == []


def test_a_bill_issued_meanwhile_stops_all(both: Database) -> None:
    small = closed_trims(both, shared=True)
    bills = shown(both, None)
    issued(both, small.other)

    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.issue_all(unit.session, bills, today=DAY)

    assert refused.value.facts == {"client": "Corbin Ash", "now_cents": 0}


def test_nothing_ready_is_said(database: Database) -> None:
    with database.writing() as unit:
        small_practice(unit.session)

    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.issue_all(unit.session, [], today=DAY)

    assert refused.value.code == "billing.nothing_ready"


def test_money_in_hand_is_known_by_its_receipts(both: Database) -> None:
    small = closed_trims(both, shared=True)
    pay(both, small.owner, 6_000, receipt="412")
    pay(both, small.owner, 1_000, receipt="413")
    pay(both, small.other, 100)

    with both.reading() as session:
        found = queries.in_hand(session, [small.owner, small.other])
    assert (found[small.owner].left, found[small.owner].receipts) == (7_000, ("412", "413"))
    assert (found[small.other].left, found[small.other].receipts) == (100, ())
    assert (found[small.owner].pays(6_300), found[small.other].pays(6_300)) == (6_300, 100)

    issued(both, small.owner)
    with both.reading() as session:
        assert list(queries.in_hand(session, [small.owner, small.other])) == [small.other]


def test_who_owes_too_long_is_known(both: Database) -> None:
    small = closed_trims(both)
    document_id = issued(both, small.owner)
    due = card(both, document_id).line.due

    with both.reading() as session:
        assert queries.owing_since(session, due) == frozenset()
        assert queries.owing_since(session, due + timedelta(days=1)) == {small.owner}
        assert queries.oldest_due(session, [small.owner, small.other]) == {small.owner: due}
    pay(both, small.owner, 6_800)
    with both.reading() as session:
        assert queries.owing_since(session, due + timedelta(days=1)) == frozenset()
