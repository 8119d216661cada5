"""What is owed from before the program was used: shown, paid and taken back as a bill is."""

from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.billing import queries, service
from backoffice.billing.service import OldBalance
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.words import Speech
from tests.billing.steps import DAY, card, pay
from tests.factories import Small, small_practice

FEBRUARY = date(2026, 2, 2)


def owing(database: Database, *amounts: int) -> Small:
    """The owner owes these from before, under 2025-1, 2025-2 and so on."""
    with database.writing() as unit:
        small = small_practice(unit.session)
        old = [
            OldBalance(
                client_id=small.owner, reference=f"2025-{number}", amount=amount, day=FEBRUARY
            )
            for number, amount in enumerate(amounts, 1)
        ]
        assert service.open_balance(unit.session, old, today=DAY) == len(amounts)
    return small


def test_what_is_owed_from_before_stands_among_what_is_owed_since_its_own_day(
    both: Database,
) -> None:
    small = owing(both, 5_800)

    with both.reading() as session:
        (bill,) = queries.open_bills(session)
        assert queries.owed(session, [small.owner]) == {small.owner: 5_800}
        assert (bill.sort, bill.number, bill.issued, bill.open) == (
            "opening", "old-1", FEBRUARY, 5_800,
        )  # fmt: skip
        assert queries.oldest_due(session, [small.owner]) == {small.owner: bill.due}
    found = card(both, bill.id).printed
    assert (found.note, found.buyer) == ("2025-1", ("Wenna Harrow", "Alder Row"))
    assert found.days[0].horses[0].lines[0].text == "Owed from before: 2025-1"
    assert schema.check(both) == []


def test_a_payment_settles_it_and_it_is_not_counted_twice(both: Database) -> None:
    small = owing(both, 5_800, 3_000)

    pay(both, small.owner, 6_000)

    with both.reading() as session:
        (left,) = queries.open_bills(session)
        assert (left.number, left.open) == ("old-2", 2_800)
        assert queries.owed(session, [small.owner]) == {small.owner: 2_800}
    assert schema.check(both) == []


def test_money_that_waits_is_set_against_it(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
    pay(both, small.owner, 1_000)
    with both.writing() as unit:
        old = [OldBalance(client_id=small.owner, reference="17", amount=5_800)]
        service.open_balance(unit.session, old, today=DAY)

    with both.reading() as session:
        assert [bill.open for bill in queries.open_bills(session)] == [4_800]
    assert schema.check(both) == []


def test_an_old_reference_of_a_client_is_written_down_once(both: Database) -> None:
    small = owing(both, 5_800)
    same = OldBalance(client_id=small.owner, reference=" 2025-1 ", amount=9_900)
    other = OldBalance(client_id=small.other, reference="2025-1", amount=100)
    with both.writing() as unit:
        assert service.open_balance(unit.session, [same], today=DAY) == 0
        assert service.open_balance(unit.session, [same, other, other], today=DAY) == 1

    with both.reading() as session:
        assert queries.owed(session, [small.owner, small.other]) == {
            small.owner: 5_800,
            small.other: 100,
        }


@pytest.mark.parametrize(
    ("code", "changed"),
    [
        ("text.needed", {"reference": " "}),
        ("billing.nothing_owed", {"amount": 0}),
        ("money.negative", {"amount": -5}),
        ("billing.owed_to_come", {"day": date(2026, 3, 18)}),
    ],
)
def test_what_cannot_be_owed_is_refused(
    database: Database, code: str, changed: dict[str, object]
) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
    values: dict[str, object] = {"client_id": small.owner, "reference": "17", "amount": 5_800}
    old = [OldBalance(**values | changed)]  # type: ignore[arg-type]
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.open_balance(unit.session, old, today=DAY)
    assert refused.value.code == code
    with database.reading() as session:
        assert session.scalar(sa.text("SELECT count(*) FROM entry WHERE sort = 'issue'")) == 0


def test_what_is_not_owed_after_all_is_taken_back_but_never_billed_anew(both: Database) -> None:
    small = owing(both, 5_800)
    with both.reading() as session:
        (bill,) = queries.open_bills(session)
    with pytest.raises(Refused, match=r"record\.missing"), both.writing() as unit:
        service.fix_bill(unit.session, bill.id, today=DAY)
    with both.writing() as unit:
        service.credit(unit.session, bill.id, today=DAY, reason="paid in cash in January")

    with both.reading() as session:
        assert queries.owed(session, [small.owner]) == {small.owner: 0}
        assert queries.open_bills(session) == ()
    assert schema.check(both) == []


def test_bills_have_their_own_numbers_beside_what_is_owed_from_before(both: Database) -> None:
    owing(both, 5_800, 3_000)

    with both.reading() as session:
        assert queries.next_number(session, "bills") is None
        assert queries.next_number(session, "opening") == 3


@pytest.mark.parametrize(
    ("code", "statement"),
    [
        ("check.open", "DELETE FROM receivable"),
        ("check.open", "UPDATE receivable SET open = 1"),
        ("check.open", "UPDATE receivable SET due = '2020-01-01'"),
        ("check.open", "UPDATE receivable SET client_id = client_id + 1"),
        ("check.balance", "UPDATE balance SET owed = 0"),
        ("check.from_before", "UPDATE document SET sort = 'invoice'"),
        ("check.from_before", "UPDATE document_line SET client_id = client_id + 1"),
        ("check.chain", "UPDATE document SET body = replace(body, '5800', '5900')"),
        ("check.particulars", "UPDATE particulars SET text = replace(text, '2025-1', '2025-9')"),
    ],
)
def test_a_balance_from_before_that_does_not_hold_is_found(
    database: Database, code: str, statement: str
) -> None:
    owing(database, 5_800)
    with database.writer.begin() as connection:
        for trigger in list(schema.found_triggers(connection)):
            connection.exec_driver_sql(f"DROP TRIGGER {trigger}")
        connection.exec_driver_sql(statement)

    found = schema.check(database)

    assert code in {one.code for one in found}
    assert all(Speech().say(one.code, **one.facts) for one in found)
