"""Bills fixed while somebody else's bill of the same horse stands, or taken back for good."""

from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.billing import queries, service
from backoffice.billing.models import Document
from backoffice.clients import service as clients
from backoffice.daybook.models import Entry
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.visits import service as works
from backoffice.visits.models import (
    PriceLine,
    PriceShare,
    Pricing,
    Result,
    Unbilled,
    Work,
)
from backoffice.visits.rules import FactSort
from backoffice.words import Speech
from tests.billing.steps import DAY, card, closed_trims, issued
from tests.factories import OPENED, Small, feet_said, fronts_on, plan, said, small_practice

# The bay costs 58.00 and 5.00 of the trip, paid by the owner. The shared horse costs the same,
# half of it each: 29.00 and 2.50.
OWNER, OTHER = 9_450, 3_150


def both_billed(database: Database) -> tuple[Small, int, int]:
    """Bills 1 and 2, of the owner and of the other who pays half of the shared horse."""
    small = closed_trims(database, shared=True)
    return small, issued(database, small.owner), issued(database, small.other, first_no=None)


def fix(database: Database, document_id: int, *also: int) -> None:
    with database.writing() as unit:
        service.fix_bill(unit.session, document_id, today=DAY, also=also)


def share(database: Database, small: Small, *parts: tuple[int, int]) -> None:
    """Say who pays which part of the shared horse."""
    with database.writing() as unit:
        clients.set_payers(unit.session, small.shared, DAY, parts)


def ready(database: Database) -> dict[int, int]:
    with database.reading() as session:
        found = queries.ready_bills(session, includes_tax=False)
        return {bill.client_id: bill.totals.payable for bill in found}


def sums_agree(database: Database) -> bool:
    """What works earned is, client by client, what stands on bills and what is still ready."""
    with database.reading() as session:
        signed = sa.case((Document.sort == "credit", -Document.net), else_=Document.net)
        billed = session.execute(
            sa.select(Document.client_id, sa.func.sum(signed)).group_by(Document.client_id)
        ).all()
        waits = session.execute(
            sa.select(Unbilled.client_id, sa.func.sum(Unbilled.net)).group_by(Unbilled.client_id)
        ).all()
        earned = session.execute(
            sa.select(Result.client_id, sa.func.sum(Result.net)).group_by(Result.client_id)
        ).all()
    said: dict[int, int] = {}
    for client, net in (*billed, *waits):
        said[client] = said.get(client, 0) + int(net)
    given = {client: int(net) for client, net in earned if net}
    return {client: net for client, net in said.items() if net} == given


def holds(database: Database) -> bool:
    return schema.check(database) == [] and sums_agree(database)


def test_a_bill_is_fixed_while_the_other_payers_bill_stands(both: Database) -> None:
    small, first, second = both_billed(both)
    with both.writing() as unit:
        clients.set_payers(unit.session, small.bay, DAY, [(small.other, 1)])

    fix(both, first)

    assert card(both, first).line.credited
    assert (card(both, second).line.credited, card(both, second).line.open) == (False, OTHER)
    assert ready(both) == {small.owner: OTHER, small.other: 6_300}
    assert holds(both)


def test_another_takes_over_half_a_horse_and_the_other_half_stays_billed(both: Database) -> None:
    small, first, second = both_billed(both)
    with both.writing() as unit:
        new = clients.save_client(unit.session, clients.ClientDetails(name="Perran Vale"))
    share(both, small, (new, 1), (small.other, 1))

    fix(both, first)

    assert ready(both) == {small.owner: 6_300, new: OTHER}
    assert not card(both, second).line.credited
    assert holds(both)


def test_the_other_bill_can_be_fixed_afterwards(both: Database) -> None:
    small, first, second = both_billed(both)
    fix(both, first)
    third = issued(both, small.owner, first_no=None)
    assert holds(both)

    fix(both, second)
    assert ready(both) == {small.other: OTHER}
    assert holds(both)
    issued(both, small.other, first_no=None)
    fix(both, third)

    assert ready(both) == {small.owner: OWNER}
    assert holds(both)


def test_a_fix_that_would_change_a_bill_that_stands_names_it(both: Database) -> None:
    small, first, second = both_billed(both)
    share(both, small, (small.owner, 2), (small.other, 1))

    with pytest.raises(Refused) as refused:
        fix(both, first)

    assert refused.value.code == "billing.other_bill"
    assert refused.value.facts == {"number": "2", "client": "Corbin Ash", "bill": second}
    assert not card(both, first).line.credited
    assert ready(both) == {}
    assert holds(both)


def test_both_bills_are_fixed_in_one_step(both: Database) -> None:
    small, first, second = both_billed(both)
    share(both, small, (small.owner, 2), (small.other, 1))

    fix(both, first, second)

    # 58.00 in thirds: 38.67 and 19.33; 5.00: 3.34 and 1.66, the odd cent to the first named.
    assert ready(both) == {small.owner: 6_300 + 3_867 + 334, small.other: 1_933 + 166}
    assert holds(both)
    issued(both, small.owner, first_no=None)
    issued(both, small.other, first_no=None)
    assert holds(both)


def test_the_horses_of_a_fixed_bill_are_ready_again_until_they_are_billed(both: Database) -> None:
    small, first, second = both_billed(both)

    def again(
        document_id: int,
    ) -> list[tuple[str | None, tuple[tuple[int | None, str | None], ...]]]:
        with both.reading() as session:
            found = queries.ready_again(session, document_id)
        return [(line.horse, line.payers) for line in found]

    assert again(first) == []
    fix(both, first)
    with both.reading() as session:
        correction = session.scalars(sa.select(Document.id).where(Document.sort == "credit")).one()
    owner = ((small.owner, "Wenna Harrow"),)
    assert again(correction) == [("Bramble", owner), ("Tolliver", owner)]
    issued(both, small.owner, first_no=None)
    assert again(correction) == []
    with both.writing() as unit:
        for_good = service.credit(unit.session, second, today=DAY, reason="A gift")
    assert again(for_good) == []


def test_a_new_price_waits_until_both_bills_are_fixed(both: Database) -> None:
    small, first, second = both_billed(both)
    with both.reading() as session:
        work = session.scalars(sa.select(Work.id).where(Work.horse_id == small.shared)).one()

    def tell() -> None:
        with both.writing() as unit:
            service.reprice(unit.session, work, told=6_001, today=DAY)

    fix(both, first)
    with pytest.raises(Refused) as refused:
        tell()
    assert refused.value.code == "billing.on_a_bill"
    assert refused.value.facts == {"number": "2", "client": "Corbin Ash", "bill": second}
    assert holds(both)
    fix(both, second)
    assert holds(both)
    tell()

    # Half of 60.01: the odd cent to the owner, who is named first.
    assert ready(both) == {small.owner: 6_300 + 3_001 + 250, small.other: 3_000 + 250}
    assert holds(both)


def test_a_bill_taken_back_for_good_is_not_billed_again(both: Database) -> None:
    small = closed_trims(both)
    document_id = issued(both, small.owner)
    with both.writing() as unit:
        correction = service.credit(unit.session, document_id, today=DAY, reason=" The horse died ")

    assert ready(both) == {}
    assert card(both, correction).printed.note == "The horse died"
    with both.reading() as session:
        assert session.scalars(sa.select(Result.net)).all() == [6_800]
        assert queries.owed(session, [small.owner]) == {small.owner: 0}
    assert schema.check(both) == []


def test_taking_back_for_good_wants_to_know_why(both: Database) -> None:
    small = closed_trims(both)
    document_id = issued(both, small.owner)

    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.credit(unit.session, document_id, today=DAY, reason=" ")

    assert refused.value.field == "reason"


def test_a_fix_and_a_taking_back_for_good_are_told_apart(both: Database) -> None:
    _, first, second = both_billed(both)
    fix(both, first)
    with both.writing() as unit:
        service.credit(unit.session, second, today=DAY, reason="A good neighbor")

    with both.reading() as session:
        sorts = session.scalars(
            sa.select(Entry.sort)
            .join(Document, Document.entry_id == Entry.id)
            .where(Document.sort == "credit")
            .order_by(Document.no)
        ).all()
    assert sorts == ["fix", "credit"]


def test_a_part_given_up_for_good_stays_given_up_when_the_other_bill_is_fixed(
    both: Database,
) -> None:
    small, first, second = both_billed(both)
    with both.writing() as unit:
        service.credit(unit.session, second, today=DAY, reason="A good neighbor")
    fix(both, first)

    assert ready(both) == {small.owner: OWNER}
    third = issued(both, small.owner, first_no=None)
    share(both, small, (small.owner, 2), (small.other, 1))
    with pytest.raises(Refused) as refused:
        fix(both, third)

    assert refused.value.code == "billing.given_up_already"
    assert refused.value.facts["number"] == "2"
    assert schema.check(both) == []


def test_a_bill_fixed_together_with_one_that_was_taken_back_is_refused(both: Database) -> None:
    _, first, second = both_billed(both)
    fix(both, second)

    with pytest.raises(Refused) as refused:
        fix(both, first, second)

    assert refused.value.code == "billing.already_corrected"
    assert refused.value.facts == {"number": "2"}
    assert holds(both)


def test_a_part_that_is_on_no_bill_and_waits_for_none_is_found_by_the_check(
    both: Database,
) -> None:
    small = closed_trims(both, shared=True)
    with both.writing() as unit:
        his = sa.delete(Unbilled).where(Unbilled.client_id == small.other)
        unit.session.execute(his)

    found = {broken.code: broken.facts["client"] for broken in schema.check(both)}

    assert found == {"check.billed": small.other}


def test_a_part_that_is_on_a_bill_and_waits_as_well_is_found_by_the_check(
    both: Database,
) -> None:
    small, _, _ = both_billed(both)
    with both.reading() as session:
        live = sa.select(PriceShare.id, PriceShare.client_id, PriceShare.net, Pricing.work_id)
        row = session.execute(
            live.join(PriceLine, PriceLine.id == PriceShare.line_id)
            .join(Pricing, Pricing.id == PriceLine.pricing_id)
            .where(PriceShare.client_id == small.other)
        ).first()
    assert row is not None
    with both.writing() as unit:
        again = sa.insert(Unbilled).values(
            share_id=row.id, client_id=row.client_id, work_id=row.work_id, net=row.net
        )
        unit.session.execute(again)

    assert "check.billed" in {broken.code for broken in schema.check(both)}


def lost_shoe(database: Database, day: date, small: Small) -> None:
    """The bay's lost shoe put back by a service that costs 35.00, and the day closed."""
    with database.writing() as unit:
        details = ServiceDetails(name=f"Lost shoe {day}", front="none", hind="none", minutes=20)
        again = pricing.save_service(unit.session, details)
        pricing.set_price(unit.session, again, None, OPENED, 3_500)
        visit = plan(unit.session, small, day, small.bay, service=again)
        back = {"LF": {"done": "reset", "shoe": small.shoe, "nail": small.nail, "nails": 6,
                       "lost": "found"}}  # fmt: skip
        works.say(unit.session, visit, [said(small.bay, FactSort.FEET, f"lost-{day}", feet=back)])
        service.close_day(unit.session, day, today=day)


@pytest.mark.parametrize("owing", [False, True])
def test_a_lost_shoe_is_free_unless_an_old_bill_is_open_and_stays_so_when_fixed(
    both: Database, *, owing: bool
) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        if owing:
            old = plan(unit.session, small, date(2026, 1, 20), small.bay, service=small.trim)
            works.say(unit.session, old, [said(small.bay, FactSort.AS_PLANNED, "old")])
            service.close_day(unit.session, date(2026, 1, 20), today=date(2026, 1, 20))
    if owing:
        with both.writing() as unit:
            bill = service.NewBill(client_id=small.owner, expected=6_800, first_no=1)
            service.issue(unit.session, bill, today=date(2026, 1, 20))
    with both.writing() as unit:
        shod = plan(unit.session, small, date(2026, 3, 8), small.bay, service=small.fronts)
        works.say(unit.session, shod, [feet_said(small.bay, fronts_on(small), "shod")])
        service.close_day(unit.session, date(2026, 3, 8), today=date(2026, 3, 8))
    lost_shoe(both, DAY, small)
    bought = 12_000 + 1_000
    total = bought + (3_500 + 1_000 if owing else 0)
    assert ready(both) == {small.owner: total}

    fix(both, issued(both, small.owner))

    assert ready(both) == {small.owner: total}
    with both.reading() as session:
        (bill_now,) = queries.ready_bills(session, includes_tax=False)
    texts = [line.text(Speech()) for line in bill_now.lines]
    assert (f"Lost shoe {DAY}, free under guarantee" in texts) is not owing
    assert holds(both)
