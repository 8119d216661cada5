"""Money said at the yard, taken in when the day is closed, on both engines."""

from collections.abc import Mapping
from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.billing import queries, service
from backoffice.billing.models import Payment
from backoffice.daybook.models import Entry
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from backoffice.visits import service as works
from backoffice.visits.rules import FactSort, Said
from tests.billing.steps import DAY, card, issued
from tests.factories import Small, plan, said, small_practice

NEXT_DAY = date(2026, 3, 18)
CASH = {"client": None, "amount": 6_300, "tip": 200, "method": "cash", "receipt": "412"}


def planned(database: Database) -> tuple[Small, int]:
    """The bay and the shared horse on a day, both done as planned."""
    with database.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.bay, small.shared, service=small.trim)
        done = [said(horse, FactSort.AS_PLANNED) for horse in (small.bay, small.shared)]
        works.say(unit.session, visit, done)
    return small, visit


def paid(horse: int | None, fact_id: str = "paid", **more: object) -> Said:
    """The fact that money was given, with a horse or with the visit as a whole."""
    subject = "" if horse is None else str(horse)
    return Said(id=fact_id, subject=subject, sort=FactSort.PAID, data=CASH | more)


def say(database: Database, visit: int, *facts: Said) -> None:
    with database.writing() as unit:
        works.say(unit.session, visit, facts)


def close(database: Database, farrier_id: int | None = None) -> int:
    with database.writing() as unit:
        return service.close_day(unit.session, DAY, today=NEXT_DAY, farrier_id=farrier_id)


def taken(database: Database) -> list[Mapping[str, object]]:
    with database.reading() as session:
        rows = session.execute(
            sa.select(
                Payment.client_id, Payment.visit_id, Payment.amount, Payment.tip, Payment.method,
                Payment.receipt, Payment.fact_id, Entry.day,
            ).join(Entry, Entry.id == Payment.entry_id).order_by(Payment.id)
        )  # fmt: skip
        return [dict(row) for row in rows.mappings()]


def waiting(database: Database) -> tuple[queries.PaymentWaiting, ...]:
    with database.reading() as session:
        return queries.payments_waiting(session)


def test_money_given_for_a_horse_is_taken_in_from_who_pays_for_it(both: Database) -> None:
    small, visit = planned(both)
    say(both, visit, paid(small.bay))
    assert taken(both) == []

    close(both)

    assert taken(both) == [
        {
            "client_id": small.owner,
            "visit_id": visit,
            "amount": 6_300,
            "tip": 200,
            "method": "cash",
            "receipt": "412",
            "fact_id": "paid",
            "day": DAY,
        }
    ]
    assert waiting(both) == ()
    bill = card(both, issued(both, small.owner))
    assert (bill.line.payable, bill.line.open) == (9_450, 3_150)
    assert [(one.amount, one.tip, one.receipt) for one in bill.settled] == [(6_300, 200, "412")]
    assert schema.check(both) == []


def test_the_client_named_goes_before_the_one_who_pays(both: Database) -> None:
    small, visit = planned(both)
    whole = paid(None, "whole", client=small.other)
    say(both, visit, paid(small.bay, client=small.other), whole)

    close(both)

    assert [one["client_id"] for one in taken(both)] == [small.other, small.other]


def test_who_pays_this_once_is_who_paid(both: Database) -> None:
    small, visit = planned(both)
    once = said(small.shared, FactSort.PAYERS, "once", parts=[[small.other, 1]])
    say(both, visit, once, paid(small.shared))

    close(both)

    assert [one["client_id"] for one in taken(both)] == [small.other]


@pytest.mark.parametrize("how", ["several", "nobody", "unheard of", "no amount"])
def test_money_nobody_knows_who_gave_waits_and_refuses_nothing(both: Database, how: str) -> None:
    small, visit = planned(both)
    fact = {
        "several": paid(small.shared),
        "nobody": paid(None),
        "unheard of": paid(small.bay, client=999),
        "no amount": paid(small.bay, amount=None),
    }[how]
    say(both, visit, fact)

    assert close(both) == 2

    assert taken(both) == []
    (one,) = waiting(both)
    assert (one.fact_id, one.day, one.yard) == ("paid", DAY, "Larkmoss")
    assert one.given.amount == (None if how == "no amount" else 6_300)
    assert one.given.receipt == "412"
    assert schema.check(both) == []


def test_who_paid_is_answered_once(both: Database) -> None:
    small, visit = planned(both)
    say(both, visit, paid(small.shared))
    close(both)

    def answer() -> None:
        with both.writing() as unit:
            service.take_payment(unit.session, "paid", small.other, today=NEXT_DAY)

    answer()

    assert [(one["client_id"], one["day"]) for one in taken(both)] == [(small.other, DAY)]
    assert waiting(both) == ()
    with pytest.raises(Refused) as refused:
        answer()
    assert refused.value.code == "billing.not_waiting"
    assert schema.check(both) == []


def test_how_much_is_answered_where_nobody_wrote_it_down(both: Database) -> None:
    small, visit = planned(both)
    say(both, visit, paid(small.bay, amount=None, tip=None, method="gold", receipt=None))
    close(both)

    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.take_payment(unit.session, "paid", small.owner, today=DAY)
    assert refused.value.field == "amount"
    with both.writing() as unit:
        service.take_payment(unit.session, "paid", small.owner, today=DAY, amount=5_000)

    (one,) = taken(both)
    assert (one["amount"], one["tip"], one["method"], one["receipt"]) == (5_000, 0, "other", None)


def test_money_is_not_taken_in_twice_or_after_it_was_taken_back(both: Database) -> None:
    small, visit = planned(both)
    back = Said(id="back", subject=str(small.bay), sort=FactSort.WITHDRAWN, corrects="wrong")
    say(both, visit, paid(small.bay, "wrong", amount=1), back, paid(small.bay))
    close(both)

    with both.writing() as unit:
        service.take_payments(unit.session, [visit], today=DAY)

    assert [one["fact_id"] for one in taken(both)] == ["paid"]
    assert waiting(both) == ()


def test_money_said_after_closing_waits_until_it_is_taken_in(both: Database) -> None:
    small, visit = planned(both)
    close(both)
    say(both, visit, paid(small.bay))
    with both.writing() as unit:
        service.take_payments(unit.session, [visit], today=NEXT_DAY)
    assert taken(both) == []
    assert waiting(both) == ()

    with both.writing() as unit:
        service.apply_late(unit.session, visit, str(small.bay), today=NEXT_DAY)

    assert [one["fact_id"] for one in taken(both)] == ["paid"]
    assert schema.check(both) == []


def test_money_can_be_said_of_a_closed_horse_and_is_taken_in_at_once(both: Database) -> None:
    small, visit = planned(both)
    close(both)

    with both.writing() as unit:
        service.put_right(unit.session, visit, [paid(small.bay)], today=NEXT_DAY)

    assert [one["client_id"] for one in taken(both)] == [small.owner]
    assert schema.check(both) == []


def test_money_that_was_taken_in_stands(both: Database) -> None:
    small, visit = planned(both)
    say(both, visit, paid(small.bay))
    close(both)
    less = Said(
        id="less",
        subject=str(small.bay),
        sort=FactSort.PAID,
        data=CASH | {"amount": 100},
        corrects="paid",
    )

    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.put_right(unit.session, visit, [less], today=NEXT_DAY)
    assert refused.value.code == "billing.money_taken"
    say(both, visit, less)
    with both.writing() as unit:
        service.apply_late(unit.session, visit, str(small.bay), today=NEXT_DAY)

    assert [one["amount"] for one in taken(both)] == [6_300]
    assert schema.check(both) == []


def test_one_farrier_closes_his_own_day(both: Database) -> None:
    small, visit = planned(both)
    say(both, visit, paid(small.bay))
    with both.writing() as unit:
        mate = practice.save_farrier(
            unit.session, FarrierDetails(name="Kerra Moyle", place_id=small.truck)
        )

    with pytest.raises(Refused) as refused:
        close(both, mate)
    assert refused.value.code == "billing.nothing_to_close"
    assert close(both, small.farrier) == 2
    assert [one["fact_id"] for one in taken(both)] == ["paid"]


def test_a_day_that_cannot_be_found_is_refused(database: Database) -> None:
    planned(database)

    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.put_right(unit.session, 99, [], today=DAY)

    assert refused.value.code == "record.missing"
