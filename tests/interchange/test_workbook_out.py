"""The workbook everything is taken out to: the practice's words, real dates, sums that agree."""

import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import openpyxl
import pytest
import sqlalchemy as sa

from backoffice.billing.models import Document, Payment, Receivable
from backoffice.billing.service import OldBalance, close_day, open_balance
from backoffice.books.models import PayOwed, SupplierBill
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.interchange import service
from backoffice.interchange.document.sheets import Column, Sheet, fit, write
from backoffice.interchange.rules import understand
from backoffice.interchange.rules.brought import Options
from backoffice.interchange.workbook import read_grids
from backoffice.practice import service as practice
from backoffice.practice.rules import PracticeDetails
from backoffice.stock.models import LotLeft
from backoffice.units import Foot
from backoffice.visits import service as works
from backoffice.visits.models import Result
from backoffice.visits.service import PastJob, record_history
from tests.billing.steps import DAY, pay
from tests.conftest import skip
from tests.factories import feet_said, fronts_on, new_shoe, plan, small_practice
from tests.interchange.practices import HOSTILE, make_hostile, worked

NOON = datetime(2026, 3, 17, 12, 0, 0, 5, tzinfo=UTC)
US = [
    "Clients", "Barns", "Horses", "Price list", "Past work", "Bills", "Payments", "Shelf", "Tools",
    "Money out",
]  # fmt: skip


def taken_out(database: Database, tmp_path: Path) -> Path:
    with database.reading() as session:
        service.take_out(session, tmp_path / "out")
    return tmp_path / "out" / "practice.xlsx"


def column(sheet: Any, heading: str) -> list[Any]:
    """Give the cells under a heading that hold something."""
    (found,) = [cell.column for cell in sheet[1] if cell.value == heading]
    cells = [row[found - 1] for row in sheet.iter_rows(min_row=2)]
    return [cell for cell in cells if cell.value is not None]


def cents(sheet: Any, heading: str) -> int:
    return sum(int(Decimal(str(cell.value)).scaleb(2)) for cell in column(sheet, heading))


def everything(path: Path) -> Iterator[Any]:
    for sheet in openpyxl.load_workbook(path):
        for row in sheet.iter_rows():
            yield from row


def test_its_sums_are_those_of_the_books(both: Database, tmp_path: Path) -> None:
    worked(both)
    book = openpyxl.load_workbook(taken_out(both, tmp_path))

    def total(what: Any) -> int:
        with both.reading() as session:
            return int(session.scalar(sa.select(sa.func.sum(what))) or 0)

    assert cents(book["Past work"], "Charged") == total(Result.net) == 2 * 5_800 + 1_000
    assert cents(book["Bills"], "Total") == total(Document.gross)
    assert cents(book["Bills"], "Still open") == total(Receivable.open)
    assert cents(book["Payments"], "Received") == total(Payment.amount) == 2_050
    assert cents(book["Payments"], "Tip") == 200
    assert cents(book["Shelf"], "Worth") == total(LotLeft.cost)
    spent = total(SupplierBill.total) + total(PayOwed.amount)
    assert cents(book["Money out"], "Amount") == spent == 15_000 + 6_050


def test_a_row_of_each_sheet_says_what_was_entered(database: Database, tmp_path: Path) -> None:
    worked(database)
    book = openpyxl.load_workbook(taken_out(database, tmp_path))

    def rows(name: str) -> list[tuple[Any, ...]]:
        return list(book[name].iter_rows(min_row=2, values_only=True))

    day = datetime(2026, 3, 17)  # noqa: DTZ001 (a cell of a workbook has no zone)
    assert rows("Clients")[1][:5] == ("Wenna Harrow", None, None, None, "Alder Row")
    assert rows("Barns") == [("Larkmoss", None, None, 10, 10, None)]
    shared = next(row for row in rows("Horses") if row[0] == "Tolliver")
    assert shared[1:5] == ("Wenna Harrow 1 / Corbin Ash 1", None, "Larkmoss", "Stock horse")
    assert ("Trim", None, None, datetime(2026, 1, 5), None, 58) in rows("Price list")  # noqa: DTZ001
    worked_on = next(row for row in rows("Past work") if row[1] == "Bramble")
    assert worked_on[:10] == (
        day, "Bramble", "Larkmoss", "Stock horse", "Trim", "done", "trim", "trim", "trim", "trim",
    )  # fmt: skip
    assert worked_on[10:14] == (63, "Wenna Harrow", "1", "Idris Thorn")
    paid = (day, "Wenna Harrow", 20.5, 2, 0, "cash", "R-412", "1")
    assert rows("Payments") == [paid]
    assert rows("Shelf")[0][:6] == ("shoe", "Shoe", "1", "front or hind", "Truck A", 40)
    assert [row[2:4] for row in rows("Money out")] == [
        ("Shoe 1", 114), ("Diesel", 30), ("Rasp", 4), ("not said yet", 2), ("a day along", 60.5),
    ]  # fmt: skip


def test_a_horse_is_shown_as_it_is_shod(both: Database, tmp_path: Path) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(unit.session, small, DAY, small.stray, small.bay, service=small.fronts)
        odd = fronts_on(small) | {Foot.LF: replace(new_shoe(small), shoe=None)}
        facts = [feet_said(small.stray, fronts_on(small)), feet_said(small.bay, odd)]
        works.say(unit.session, visit, facts)
        close_day(unit.session, DAY, today=DAY)
        client = ClientDetails(name="Corbin Ash", bill_when="monthly", terms_days=30)
        clients.save_client(unit.session, client)
    book = openpyxl.load_workbook(taken_out(both, tmp_path))

    shod = {row[0]: row[5:9] for row in book["Horses"].iter_rows(min_row=2, values_only=True)}
    assert shod["Stray"] == ("1", None, "Nail 5", "Fronts + trim hinds")
    assert shod["Bramble"][0] == "LF not known yet, RF 1"
    assert "monthly, 30 days" in [cell.value for cell in column(book["Clients"], "Terms")]


def test_what_was_brought_in_from_before_goes_by_its_old_number(
    both: Database, tmp_path: Path
) -> None:
    small = worked(both)
    with both.writing() as unit:
        old = OldBalance(client_id=small.other, reference="2025/17", amount=4_000)
        open_balance(unit.session, [old], today=DAY)
        job = PastJob(
            farrier_id=small.farrier, yard_id=small.yard, day=date(2025, 11, 3),
            horse_id=small.stray, service_id=small.trim, price=5_500,
        )  # fmt: skip
        record_history(unit.session, [job], today=DAY)
    pay(both, small.other, 4_000)
    book = openpyxl.load_workbook(taken_out(both, tmp_path))

    owed = [row for row in book["Bills"].iter_rows(values_only=True) if row[1] == "brought over"]
    assert [(row[0], row[4], row[7], row[8]) for row in owed] == [("2025/17", "Corbin Ash", 40, 0)]
    assert column(book["Payments"], "For bill")[-1].value == "2025/17"
    first = next(book["Past work"].iter_rows(min_row=2, values_only=True))
    assert (first[1], first[4:6], first[10]) == ("Stray", ("Trim", "from before"), 55)


def test_it_is_laid_out_to_be_read(database: Database, tmp_path: Path) -> None:
    worked(database)
    book = openpyxl.load_workbook(taken_out(database, tmp_path))

    assert book.sheetnames == US
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert all(cell.font.bold for cell in sheet[1])
        assert all(sheet.column_dimensions[cell.column_letter].width >= 8 for cell in sheet[1])
    assert {cell.number_format for cell in column(book["Bills"], "Total")} == {"#,##0.00"}
    assert {cell.number_format for cell in column(book["Past work"], "Date")} == {"yyyy-mm-dd"}
    assert all(cell.is_date for cell in column(book["Payments"], "Date"))


def test_it_speaks_the_words_of_the_practice(database: Database, tmp_path: Path) -> None:
    worked(database, words="uk")
    book = openpyxl.load_workbook(taken_out(database, tmp_path))

    assert book.sheetnames == ["Clients", "Yards", *US[2:]]
    heads = [cell.value for cell in book["Past work"][1]]
    assert heads[2] == "Yard"
    assert heads[6:10] == ["NF", "OF", "NH", "OH"]
    assert "Call-out" in [cell.value for cell in book["Yards"][1]]


def test_a_practice_with_nothing_in_it_has_all_sheets(both: Database, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(taken_out(both, tmp_path))

    assert book.sheetnames == US
    assert {sheet.max_row for sheet in book} == {1}


def test_hostile_text_in_every_column_stays_text(database: Database, tmp_path: Path) -> None:
    worked(database)
    make_hostile(database)
    path = taken_out(database, tmp_path)

    seen = set()
    for cell in everything(path):
        assert cell.data_type in ("s", "n", "d"), (cell.coordinate, cell.value)
        if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@")):
            assert cell.quotePrefix
            seen.add(cell.value[0])
    assert seen == {"=", "+", "-", "@"}
    with ZipFile(path) as package:
        pages = [name for name in package.namelist() if name.startswith("xl/worksheets/")]
        assert len(pages) == len(US)
        assert [name for name in pages if b"<f" in package.read(name)] == []


@pytest.mark.parametrize("text", HOSTILE)
def test_a_text_comes_back_as_it_was(text: str, tmp_path: Path) -> None:
    sheet = Sheet("One", (Column("Text"),), [(text,)])
    write(tmp_path / "one.xlsx", [sheet], "USD", NOON)

    found = openpyxl.load_workbook(tmp_path / "one.xlsx")["One"]["A2"]
    unfit = {"a\x0bb": "a\ufffdb", "\ufffe": "\ufffd", "\r=1": "\n=1", "line\r\nline": "line\nline"}
    assert (found.value, found.data_type) == (unfit.get(text, text), "s")


def test_a_text_longer_than_a_cell_is_cut(tmp_path: Path) -> None:
    assert len(fit("x" * 40_000)) == 32_767


@pytest.mark.parametrize(
    ("currency", "minor", "stored", "shown"),
    [
        ("USD", 5_875, "58.75", "#,##0.00"),
        ("USD", -10, "-0.1", "#,##0.00"),
        ("JPY", 5_875, "5875", "#,##0"),
        ("KWD", 5_875, "5.875", "#,##0.000"),
        ("USD", 999_999_999_901, "9999999999.01", "#,##0.00"),
    ],
)
def test_an_amount_is_stored_to_the_last_cent(
    currency: str, minor: int, stored: str, shown: str, tmp_path: Path
) -> None:
    sheet = Sheet("One", (Column("Amount", "amount"),), [(minor,)])
    write(tmp_path / "one.xlsx", [sheet], currency, NOON)

    with ZipFile(tmp_path / "one.xlsx") as package:
        written = package.read("xl/worksheets/sheet1.xml").decode()
    assert f"<v>{stored}</v>" in written
    assert openpyxl.load_workbook(tmp_path / "one.xlsx")["One"]["A2"].number_format == shown


def test_each_part_bears_the_time_the_books_were_last_written_to(tmp_path: Path) -> None:
    sheet = Sheet("One", (Column("Day", "day"),), [(date(2026, 3, 17),), (None,)])
    write(tmp_path / "one.xlsx", [sheet], "USD", NOON)
    write(tmp_path / "two.xlsx", [sheet], "USD", NOON)

    with ZipFile(tmp_path / "one.xlsx") as package:
        assert {part.date_time for part in package.infolist()} == {(2026, 3, 17, 12, 0, 0)}
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    properties = openpyxl.load_workbook(tmp_path / "one.xlsx").properties
    assert properties.created == properties.modified == NOON.replace(tzinfo=None, microsecond=0)


def test_it_is_understood_by_what_reads_workbooks_in(database: Database, tmp_path: Path) -> None:
    worked(database)
    grids = read_grids(taken_out(database, tmp_path))

    assert [grid.sheet for grid in grids] == US
    found = understand(grids, Options(shoes="singles"), today=DAY, currency="USD")
    assert {one.name for one in found.clients} == {"Wenna Harrow", "Corbin Ash"}
    assert {one.name: one.clients for one in found.horses} == {
        "Bramble": (("Wenna Harrow", 1),),
        "Tolliver": (("Wenna Harrow", 1), ("Corbin Ash", 1)),
        "Stray": (),
    }
    assert [(one.name, one.miles) for one in found.yards] == [("Larkmoss", 10)]
    assert {(one.service, one.amount) for one in found.prices} >= {("Trim", 5_800)}
    on_hand = {(one.sort, one.size): one.truck for one in found.stock}
    assert on_hand == {("shoe", "1"): 40, ("nail", "5"): 250}
    assert sum(one.amount or 0 for one in found.jobs) == 2 * 5_800 + 1_000
    assert {one.day for one in found.jobs} == {DAY}
    assert sum(one.amount for one in found.spending) == 15_000 + 6_050
    assert [(one.client, one.reference) for one in found.owed] == [("Wenna Harrow", "1")]


def test_no_workbook_library_is_imported_before_a_workbook_is_made() -> None:
    asked = "import sys, backoffice.cli; print('openpyxl' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)

    assert said.stdout == "False\n"


def test_an_independent_spreadsheet_shows_the_same_texts(
    database: Database, tmp_path: Path
) -> None:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        skip("LibreOffice is not installed; openpyxl alone has read the workbook")
    with database.writing() as unit:
        practice.save_practice(unit.session, PracticeDetails(name="Marlpit Forge"))
        clients.save_client(unit.session, ClientDetails(name="=1+1"))
    path = taken_out(database, tmp_path)
    subprocess.run(
        [office, "--headless", "--convert-to", "csv", "--outdir", str(tmp_path), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip

    assert "=1+1" in (tmp_path / "practice.csv").read_text(encoding="utf-8")
