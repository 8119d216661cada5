"""A supplier's bill, entered once, on both engines."""

from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.books import queries, service
from backoffice.books.rules import BillLine, SupplierBillNew, unsorted
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.stock.models import OnHand
from tests.factories import Small, small_practice

DAY = date(2026, 3, 17)


def bill(small: Small, total: int, *lines: BillLine) -> SupplierBillNew:
    return SupplierBillNew(
        supplier_id=None, day=DAY, reference="A-1", total=total, paid_by="card", lines=lines
    )


def shoes(small: Small, qty: int, amount: int) -> BillLine:
    return BillLine(sort="stock", item_id=small.shoe, place_id=small.truck, qty=qty, amount=amount)


def test_a_bill_becomes_a_delivery_an_expense_and_something_to_sort(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        made = service.record_bill(
            unit.session,
            bill(
                small,
                15_000,
                shoes(small, 20, 11_400),
                BillLine(sort="expense", what="Diesel", amount=3_000),
            ),
        )
    with both.reading() as session:
        card = queries.bill_card(session, made)
        assert card is not None
        assert [(part.sort, part.what, part.qty, part.amount) for part in card.parts] == [
            ("stock", "", 20, 11_400),
            ("expense", "Diesel", None, 3_000),
        ]
        assert card.line.unsorted == 600
        held = sa.select(OnHand.qty).where(OnHand.item_id == small.shoe)
        assert session.scalars(held).one() == 40
    assert schema.check(both) == []


def test_lines_over_the_total_are_refused_and_nothing_is_saved(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.record_bill(unit.session, bill(small, 100, shoes(small, 2, 101)))

    assert refused.value.facts == {"over_cents": 1}
    with both.reading() as session:
        assert queries.bill_list(session).rows == ()


@pytest.mark.parametrize(
    ("line", "field"),
    [
        (BillLine(sort="expense", what=" ", amount=1), "what"),
        (BillLine(sort="stock", item_id=None, place_id=1, qty=1, amount=1), "item"),
    ],
)
def test_a_line_that_says_nothing_is_refused(
    database: Database, line: BillLine, field: str
) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.record_bill(unit.session, bill(small, 10, line))

    assert refused.value.field == field


def test_what_no_line_says_is_the_rest_of_the_total() -> None:
    line = BillLine(sort="expense", what="x", amount=400)

    assert unsorted(1_000, [line, line]) == 200
    with pytest.raises(Refused):
        unsorted(-1, [])


def test_a_delivery_that_lost_its_bill_line_is_found_by_the_check(database: Database) -> None:
    with database.writing() as unit:
        small = small_practice(unit.session)
        service.record_bill(unit.session, bill(small, 1_100, shoes(small, 2, 1_100)))
    with database.writer.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER keep_supplier_bill_line_DELETE")
        connection.exec_driver_sql("DELETE FROM supplier_bill_line")

    found = {broken.code for broken in schema.check(database)}

    assert {"check.supplier_bill", "check.delivery_unbilled", "check.trigger"} <= found
