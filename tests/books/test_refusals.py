"""What a supplier's bill may not say, on SQLite."""

from datetime import date

import pytest

from backoffice.books import queries, service
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.words import Speech
from tests.factories import small_practice

FUEL = BillLine(sort="expense", what="Diesel", amount=100)


@pytest.mark.parametrize(
    ("total", "paid_by", "line", "code"),
    [
        (100, "card", BillLine(sort="gift", what="a cap", amount=100), "choice.unknown"),
        (100, "barter", FUEL, "choice.unknown"),
        (99, "card", FUEL, "books.lines_over_total"),
        (-1, "card", FUEL, "money.negative"),
        (100, "card", BillLine(sort="expense", what="back", amount=-1), "money.negative"),
        (100, "card", BillLine(sort="expense", what="a\0b", amount=1), "text.control"),
        (
            100,
            "card",
            BillLine(sort="stock", item_id=1, place_id=1, qty=0, amount=1),
            "count.too_small",
        ),
    ],
)
def test_a_bill_that_cannot_be_right_is_refused_and_nothing_is_kept(
    database: Database, total: int, paid_by: str, line: BillLine, code: str
) -> None:
    with database.writing() as unit:
        small_practice(unit.session)
    bill = SupplierBillNew(
        supplier_id=None,
        day=date(2026, 3, 17),
        reference="A-1",
        total=total,
        paid_by=paid_by,
        lines=(line,),
    )
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.record_bill(unit.session, bill)

    assert refused.value.code == code
    assert Speech().say(code, **refused.value.facts)
    with database.reading() as session:
        assert queries.bill_list(session).rows == ()
