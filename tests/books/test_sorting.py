"""Saying later what a supplier's bill was, on both engines."""

from datetime import date
from threading import Thread

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.books import queries, service
from backoffice.books.models import SupplierBillLine
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.daybook import service as daybook
from backoffice.daybook.models import Entry
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.stock import queries as stock
from backoffice.stock.models import Lot
from backoffice.words import Speech
from tests.factories import Small, small_practice

DAY, TODAY = date(2026, 3, 17), date(2026, 3, 20)


def counter_bill(both: Database, total: int = 21_240, *lines: BillLine) -> tuple[Small, int]:
    """A bill entered at the counter: paid by card, its total, and whatever was said at once."""
    with both.writing() as unit:
        small = small_practice(unit.session)
        new = SupplierBillNew(
            supplier_id=None, day=DAY, reference="", total=total, paid_by="card", lines=lines
        )
        return small, service.record_bill(unit.session, new)


def shoes(small: Small, amount: int = 11_400, qty: int = 20) -> BillLine:
    return BillLine(sort="stock", item_id=small.shoe, place_id=small.truck, qty=qty, amount=amount)


def nails(small: Small, amount: int = 5_000) -> BillLine:
    return BillLine(sort="stock", item_id=small.nail, place_id=small.truck, qty=500, amount=amount)


def diesel(amount: int) -> BillLine:
    return BillLine(sort="expense", what="Diesel", amount=amount)


def sort_it(both: Database, bill_id: int, *lines: BillLine) -> None:
    with both.writing() as unit:
        service.sort_bill(unit.session, bill_id, lines, today=TODAY)


def test_a_total_at_the_counter_is_one_expense_not_sorted_yet(both: Database) -> None:
    _, bill_id = counter_bill(both)

    with both.reading() as session:
        card = queries.bill_card(session, bill_id)
        assert card is not None
        assert (card.line.unsorted, card.parts) == (21_240, ())
    assert schema.check(both) == []


def test_lines_said_later_come_out_of_what_is_not_sorted_yet(both: Database) -> None:
    small, bill_id = counter_bill(both)

    sort_it(both, bill_id, shoes(small), nails(small))
    with both.reading() as session:
        card = queries.bill_card(session, bill_id)
        assert card is not None
        assert card.line.unsorted == 21_240 - 11_400 - 5_000
        # 20 shoes and 250 nails stood on the truck before.
        assert [
            stock.item_card(session, one).places[0].qty for one in (small.shoe, small.nail)
        ] == [
            40,
            750,
        ]
    assert schema.check(both) == []

    sort_it(both, bill_id, diesel(4_840))
    with both.reading() as session:
        card = queries.bill_card(session, bill_id)
        assert card is not None
        assert card.line.unsorted == 0
        assert [(part.what, part.qty, part.amount) for part in card.parts] == [
            ("", 20, 11_400),
            ("", 500, 5_000),
            ("Diesel", None, 4_840),
        ]
        amounts = sa.select(SupplierBillLine.amount).order_by(SupplierBillLine.id)
        assert session.scalars(amounts).all() == [21_240, 11_400, 5_000, -16_400, 4_840, -4_840]
    assert schema.check(both) == []


def test_a_delivery_said_later_has_an_event_of_its_own_on_the_day_of_the_bill(
    both: Database,
) -> None:
    small, bill_id = counter_bill(both)
    sort_it(both, bill_id, shoes(small))

    with both.reading() as session:
        row = session.execute(
            sa.select(Entry.id, Entry.day, Entry.sort, SupplierBillLine.entry_id)
            .join(Lot, Lot.entry_id == Entry.id)
            .join(SupplierBillLine, SupplierBillLine.lot_id == Lot.id)
        ).one()
    assert (row.day, row.sort, row.entry_id) == (DAY, "delivery", row.id)


def test_what_is_said_of_a_closed_period_is_entered_on_its_first_open_day(both: Database) -> None:
    small, bill_id = counter_bill(both)
    with both.writing() as unit:
        daybook.lock(unit.session, date(2026, 3, 18), "the quarter is handed in")
    sort_it(both, bill_id, shoes(small))

    with both.reading() as session:
        last = sa.select(Entry.day).order_by(Entry.id.desc()).limit(1)
        assert session.scalars(last).one() == date(2026, 3, 19)
    assert schema.check(both) == []


def test_a_bill_dated_ahead_is_sorted_today(both: Database) -> None:
    small, bill_id = counter_bill(both)
    with both.writing() as unit:
        service.sort_bill(unit.session, bill_id, [shoes(small)], today=date(2026, 3, 16))

    with both.reading() as session:
        last = sa.select(Entry.day).order_by(Entry.id.desc()).limit(1)
        assert session.scalars(last).one() == date(2026, 3, 16)


def test_a_gift_on_a_bill_comes_for_nothing(both: Database) -> None:
    small, bill_id = counter_bill(both)
    sort_it(both, bill_id, shoes(small, amount=0, qty=2))

    with both.reading() as session:
        card = queries.bill_card(session, bill_id)
        assert card is not None
        assert card.line.unsorted == 21_240
    assert schema.check(both) == []


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ((), "books.nothing_said"),
        ((diesel(21_241),), "books.lines_over_left"),
        ((diesel(21_000), diesel(241)), "books.lines_over_left"),
        ((diesel(-1),), "money.negative"),
        ((BillLine(sort="expense", what=" ", amount=1),), "text.needed"),
        ((BillLine(sort="stock", qty=1, amount=1),), "choice.unknown"),
        ((BillLine(sort="stock", item_id=1, place_id=1, amount=1),), "count.too_small"),
    ],
)
def test_what_a_bill_cannot_have_been_is_refused(
    both: Database, lines: tuple[BillLine, ...], code: str
) -> None:
    _, bill_id = counter_bill(both)
    with pytest.raises(Refused) as refused:
        sort_it(both, bill_id, *lines)

    assert refused.value.code == code
    assert Speech().say(code, **refused.value.facts)
    with both.reading() as session:
        assert queries.unsorted_of(session, bill_id) == 21_240
        assert session.scalar(sa.select(sa.func.count()).select_from(SupplierBillLine)) == 1


def test_a_bill_of_which_all_is_said_takes_no_more(both: Database) -> None:
    _, bill_id = counter_bill(both, 500, diesel(500))

    for amount in (1, 0):
        with pytest.raises(Refused, match=r"books\.all_sorted"):
            sort_it(both, bill_id, diesel(amount))


def test_a_bill_there_is_not_is_missing(both: Database) -> None:
    with pytest.raises(Refused, match=r"record\.missing"):
        sort_it(both, 7, diesel(1))


def test_two_people_sorting_one_bill_cannot_go_beyond_it(both: Database) -> None:
    _, bill_id = counter_bill(both, 1_000)
    refused: list[str] = []

    def say() -> None:
        try:
            sort_it(both, bill_id, diesel(600))
        except Refused as one:
            refused.append(one.code)

    threads = [Thread(target=say) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert refused == ["books.lines_over_left"] * 2
    assert schema.check(both) == []


def test_bills_not_sorted_yet_stand_first_and_each_bill_once(both: Database) -> None:
    counter_bill(both, 100, diesel(100))
    with both.writing() as unit:
        for day, total in ((1, 200), (3, 300), (2, 400)):
            said = (diesel(300),) if total == 300 else (diesel(50), diesel(60))
            new = SupplierBillNew(
                supplier_id=None,
                day=date(2026, 3, day),
                reference="",
                total=total,
                paid_by="cash",
                lines=said,
            )
            service.record_bill(unit.session, new)

    with both.reading() as session:
        rows = queries.bill_list(session).rows
    assert [(row.total, row.unsorted) for row in rows] == [
        (400, 290),
        (200, 90),
        (100, 0),
        (300, 0),
    ]


PLANTED = {
    "UPDATE lot SET entry_id = (SELECT min(id) FROM entry) WHERE cost = 11400": {
        "check.delivery_cost"
    },
    "UPDATE lot SET cost = 11500 WHERE cost = 11400": {"check.delivery_cost"},
    "DELETE FROM supplier_bill_line WHERE sort = 'stock'": {
        "check.supplier_bill", "check.sorted_uneven", "check.delivery_unbilled"
    },
    "UPDATE supplier_bill_line SET amount = amount + 1 WHERE amount < 0": {
        "check.supplier_bill", "check.sorted_uneven"
    },
    "UPDATE supplier_bill_line SET amount = CASE WHEN amount < 0 THEN -30000 ELSE 18600 END"
    " WHERE entry_id IS NOT NULL AND sort = 'expense'": {"check.sorted_beyond"},
}  # fmt: skip


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(database: Database, fault: str) -> None:
    small, bill_id = counter_bill(database)
    sort_it(database, bill_id, shoes(small), diesel(1_000))
    assert schema.check(database) == []
    with database.writer.begin() as connection:
        for table in ("lot", "supplier_bill_line"):
            for verb in ("DELETE", "UPDATE"):
                connection.exec_driver_sql(f"DROP TRIGGER keep_{table}_{verb}")
        connection.exec_driver_sql(fault)

    found = {broken.code for broken in schema.check(database)}

    assert PLANTED[fault] <= found
    for code in PLANTED[fault]:
        assert Speech().say(code, bill=1, delivery=1)
