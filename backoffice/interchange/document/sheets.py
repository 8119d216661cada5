"""Writing sheets as one workbook: real dates, real amounts, and no text that could ever run."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from backoffice.interchange.document.tables import RISKY
from backoffice.money import MINOR_UNITS

Sort = Literal["text", "day", "amount", "count", "horses"]
LONGEST = 32_767  # characters a cell of a workbook can hold
WIDTHS: dict[Sort, int] = {"text": 22, "day": 12, "amount": 12, "count": 10, "horses": 10}
# Characters XML 1.0 cannot hold; a new line may be written in three ways, and comes back as one.
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NEW_LINE = re.compile(r"\r\n?")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, what its cells are, and how wide it is if not as usual.

    An amount is given in minor units, horses in thousandths of one; None is an empty cell.
    """

    heading: str
    sort: Sort = "text"
    width: int = 0


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: its name on the tab, its columns, and its rows, which are read once."""

    title: str
    columns: tuple[Column, ...]
    rows: Iterable[Sequence[object]]


class _Steady(ZipFile):
    """A package whose parts all bear the time the books were last written to."""

    def __init__(self, path: Path, at: datetime, progress: Callable[[str, int], None]) -> None:
        super().__init__(path, "w", ZIP_DEFLATED)
        self._at = at.timetuple()[:6]
        self._progress, self._name = progress, path.name

    def _part(self, name: str) -> ZipInfo:
        part = ZipInfo(name, self._at)
        part.compress_type = ZIP_DEFLATED
        return part

    def writestr(
        self,
        zinfo_or_arcname: str | ZipInfo,
        data: Any,
        compress_type: int | None = None,
        compresslevel: int | None = None,
    ) -> None:
        """Add a part that was made in memory."""
        part = self._part(str(zinfo_or_arcname))
        super().writestr(part, data, compress_type, compresslevel)

    def write(self, filename: Any, arcname: Any = None, *_: Any, **__: Any) -> None:
        """Add a part that was made in a file."""
        with Path(filename).open("rb") as made, self.open(self._part(str(arcname)), "w") as part:
            while piece := made.read(1 << 16):
                self._progress(self._name, 0)
                part.write(piece)


def fit(text: str) -> str:
    """Give a text as a workbook can hold it: the whole of it, unless XML or its length forbid."""
    return _UNFIT.sub("\ufffd", _NEW_LINE.sub("\n", text))[:LONGEST]


def write(
    path: Path,
    sheets: Iterable[Sheet],
    currency: str,
    at: datetime,
    progress: Callable[[str, int], None] = lambda _what, _rows: None,
) -> None:
    """Write the sheets of a workbook; the same sheets make the same bytes.

    ``at`` is the time it bears. ``progress`` hears of each sheet, of every thousand rows, and
    when the sheets are packed into the file.
    """
    from openpyxl import Workbook
    from openpyxl.utils import get_column_letter
    from openpyxl.writer.excel import ExcelWriter

    book = Workbook(write_only=True)
    at = at.replace(tzinfo=None, microsecond=0)
    book.properties.created = book.properties.modified = at
    for sheet in sheets:
        page = book.create_sheet(sheet.title)
        page.freeze_panes = "A2"
        for number, column in enumerate(sheet.columns, 1):
            width = column.width or max(WIDTHS[column.sort], len(column.heading) + 3)
            page.column_dimensions[get_column_letter(number)].width = width
        writers = [_cells(page, column.sort, currency) for column in sheet.columns]
        page.append(_heads(page, sheet.columns))
        progress(sheet.title, 0)
        for number, row in enumerate(sheet.rows, 1):
            page.append([write(value) for write, value in zip(writers, row, strict=True)])
            if number % 1_000 == 0:
                progress(sheet.title, number)
    with _Steady(path, at, progress) as package:
        ExcelWriter(book, package).write_data()


def _heads(page: Any, columns: Sequence[Column]) -> Iterator[Any]:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    for column in columns:
        head = WriteOnlyCell(page, fit(column.heading))
        head.data_type = "s"
        head.font = Font(bold=True)
        yield head


def _cells(page: Any, sort: Sort, currency: str) -> Callable[[Any], Any]:
    """Give what turns the values of a column into cells; one cell serves all, row after row."""
    from openpyxl.cell import WriteOnlyCell

    decimals = MINOR_UNITS[currency]
    cell = WriteOnlyCell(page)
    if sort == "text":
        risky = WriteOnlyCell(page)
        risky.quotePrefix = True  # edited in a spreadsheet, it stays the text it is

        def text(value: str | None) -> Any:
            if not value:
                return None
            found = risky if value.startswith(RISKY) else cell
            found.value = fit(value)
            found.data_type = "s"
            return found

        return text
    cell.number_format = {
        "day": "yyyy-mm-dd",
        "amount": "#,##0." + "0" * decimals if decimals else "#,##0",
        "count": "0",
        "horses": "0.0",
    }[sort]
    places = {"amount": -decimals, "horses": -3}.get(sort)

    def plain(value: Any) -> Any:
        if value is None:
            return None
        cell.value = value if places is None else Decimal(value).scaleb(places)
        return cell

    return plain
