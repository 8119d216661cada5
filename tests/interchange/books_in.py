"""Workbooks made for a test: sheets of rows, saved and read back as the program reads them."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from openpyxl import Workbook

from backoffice.interchange.rules import understand
from backoffice.interchange.rules.brought import Brought, Grid, Options, Value
from backoffice.interchange.workbook import read_grids

TODAY = date(2026, 11, 26)
Sheets = Mapping[str, Sequence[Sequence[Value]]]


def saved(
    folder: Path, sheets: Sheets, *, merged: Mapping[str, Sequence[str]] | None = None
) -> Path:
    """Save sheets of rows as a workbook, with the areas that are merged on each."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
        for area in (merged or {}).get(title, ()):
            sheet.merge_cells(area)
    path = folder / "old.xlsx"
    book.save(path)
    return path


def understood(
    path: Path, *, currency: str = "USD", date_order: str | None = None,
    shoes: str | None = None, **answers: str,
) -> Brought:  # fmt: skip
    """Read a file and understand it, with answers given beforehand."""
    options = Options(date_order=date_order, shoes=shoes, answers=answers)
    return understand(read_grids(path), options, TODAY, currency)


def from_rows(rows: Sequence[Sequence[Value]], sheet: str = "Sheet1", **more: str) -> Brought:
    """Understand rows as if they stood on one sheet."""
    grid = Grid(sheet, tuple(tuple(row) for row in rows))
    return understand([grid], Options(answers=more), TODAY, "USD")


def codes(brought: Brought) -> set[str]:
    """Give the codes of what was noted, without their first word."""
    return {note.code.removeprefix("read.") for note in brought.notes}


def options_asked(brought: Brought) -> list[str]:
    """Give what is asked, in order."""
    return [doubt.option for doubt in brought.doubts]
