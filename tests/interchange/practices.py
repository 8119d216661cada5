"""Practices to take out: one with something in every sheet, and one where every text is hostile."""

from datetime import date

import sqlalchemy as sa

from backoffice import schema
from backoffice.books import service as books
from backoffice.books.rules import BillLine, SupplierBillNew
from backoffice.db import Database, Text
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from tests.billing.steps import DAY, closed_trims, issued, pay
from tests.factories import Small

HOSTILE = (
    '=HYPERLINK("http://example.org";"look")', "+1+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1",
    "\uff1d1", "'=1", "#N/A", "=", "a\x0bb", 'x",=1', "line\r\nline", "<f>1</f>", "_x0041_",
    "\ufffe",
)  # fmt: skip
FIXED = {  # texts that are no text of people: keys, and words and JSON the program reads back
    "practice.country", "practice.currency", "practice.zone", "document.body", "price_line.reason",
    "price_line.facts", "fact.data", "fact.subject", "fact.sort", "work.subject", "setting.name",
}  # fmt: skip


def worked(database: Database, **more: object) -> Small:
    """A small practice with a closed day, a paid bill, money out and an apprentice along."""
    small = closed_trims(database, shared=True, **more)
    issued(database, small.owner)
    pay(database, small.owner, 2_050, tip=200, receipt="R-412")
    with database.writing() as unit:
        lines = (
            BillLine(sort="stock", item_id=small.shoe, place_id=small.truck, qty=20, amount=11_400),
            BillLine(sort="expense", what="Diesel", amount=3_000),
        )
        made = SupplierBillNew(
            supplier_id=None, day=DAY, reference="A-1", total=15_000, paid_by="card", lines=lines
        )
        bill_id = books.record_bill(unit.session, made)
        rasp = BillLine(sort="expense", what="Rasp", amount=400)
        books.sort_bill(unit.session, bill_id, (rasp,), today=DAY)
        learner = FarrierDetails(
            name="Perran", sort="apprentice", place_id=small.truck, day_pay=6_050
        )
        apprentice = practice.save_farrier(unit.session, learner)
        books.come_along(unit.session, date(2026, 3, 17), apprentice, today=DAY)
    return small


def make_hostile(database: Database) -> int:
    """Put a hostile text into every text of every row, past all guards; give how many."""
    put = 0
    with database.writer.begin() as connection:
        for name in schema.found_triggers(connection):
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        for table in schema.TABLES.values():
            texts = [
                column
                for column in table.columns
                if isinstance(column.type, Text) and f"{table.name}.{column.name}" not in FIXED
            ]
            key = list(table.primary_key.columns)
            if schema.kind_of(table) == "plumbing" or not texts:
                continue
            for row in connection.execute(sa.select(*key)).all():
                here = sa.and_(*(one == value for one, value in zip(key, row, strict=True)))
                values = {}
                for column in texts:
                    values[column.name] = f"{HOSTILE[put % len(HOSTILE)]}"
                    if column.unique or _is_key(table, column):
                        values[column.name] += f" {put}"
                    put += 1
                connection.execute(sa.update(table).where(here).values(values))
    return put


def _is_key(table: sa.Table, column: sa.Column[object]) -> bool:
    unique = [one for one in table.constraints if isinstance(one, sa.UniqueConstraint)]
    return any(column.name in one.columns for one in unique)
