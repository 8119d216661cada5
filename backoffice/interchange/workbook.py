"""What stands in a workbook? Sheets of plain values, read within bounds whatever the file is."""

import csv
import re
import struct
import warnings
import zlib
from collections import Counter
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import IO, Any
from zipfile import BadZipFile, ZipFile

from backoffice.errors import Refused
from backoffice.interchange.rules.brought import Grid, Value

LARGEST_FILE = 30_000_000  # bytes
LARGEST_UNPACKED = 200_000_000  # bytes, all parts
LARGEST_PARSED = 60_000_000  # bytes, the parts that are parsed
LARGEST_CSV = 20_000_000  # bytes
MOST_PARTS = 2_000
MOST_ROWS = 20_000  # on one sheet
MOST_COLUMNS = 200
MOST_CELLS = 400_000  # in one workbook
LONGEST_TEXT = 10_000

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_LOCKED = "EncryptedPackage".encode("utf-16-le")
_CHUNK = 1 << 20
# A cell that holds something: its tag is not closed at once.
_CELL = re.compile(rb"<(?:\w+:)?c(?:\s[^<>]*?)?(?<!/)>")
_AT = re.compile(rb'\sr="([A-Z]{1,3})(\d{1,7})"')
_ANY_CELL = re.compile(rb"<(?:\w+:)?(?:c|si|xf)[\s/>]")
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^<>]*?ref="([A-Z]{1,3}\d{1,7}):([A-Z]{1,3}\d{1,7})"')
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_PADDED = re.compile(r"0{2,}")


def read_grids(path: Path) -> tuple[Grid, ...]:
    """Read every sheet of an .xlsx workbook, or the one of a .csv file.

    A number shown with leading zeros (format ``00``) is given as the text that is shown; merged
    cells are filled. Anything else keeps its type.
    Raises: Refused if it is no workbook, is locked with a password, or is larger than any
    practice's.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(8)
    except OSError:
        raise Refused("workbook.not_there", file=str(path)) from None
    if size == 0:
        raise Refused("workbook.empty", file=path.name)
    if size > LARGEST_FILE:
        raise Refused("workbook.too_large", file=path.name)
    if head == _OLE:
        locked = _LOCKED in path.read_bytes()
        raise Refused("workbook.locked" if locked else "workbook.old_kind", file=path.name)
    if head.startswith(b"PK"):
        return _read_xlsx(path)
    return (_read_csv(path),)


def _read_xlsx(path: Path) -> tuple[Grid, ...]:
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    raw = path.read_bytes()
    sheets = _Looked(raw, path.name)
    # Whatever a damaged file makes the libraries raise.
    broken = (
        ArithmeticError, AssertionError, AttributeError, BadZipFile, EOFError, LookupError,
        NotImplementedError, OSError, RuntimeError, SyntaxError, TypeError, ValueError,
        InvalidFileException, struct.error, zlib.error,
    )  # fmt: skip
    try:
        if not openpyxl.DEFUSEDXML:
            raise RuntimeError("defusedxml is not in use")
        sheets.look()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return tuple(_grids(raw, sheets))
    except Refused:
        raise
    except broken:
        raise Refused("workbook.unreadable", file=path.name) from None


class _Looked:
    """What a first look at the packed bytes tells, before anything is parsed."""

    def __init__(self, raw: bytes, name: str) -> None:
        self.raw = raw
        self.name = name
        self.merged: dict[str, list[tuple[int, int, int, int]]] = {}
        self.formulas = False
        self._rows = 0
        self._cells = 0

    def look(self) -> None:
        """Refuse what is locked, blown up or far larger than any practice's workbook."""
        with ZipFile(BytesIO(self.raw)) as packed:
            parts = packed.infolist()
            if any(part.flag_bits & 1 for part in parts):
                raise Refused("workbook.locked", file=self.name)
            names = [part.filename.lower() for part in parts]
            if not any(name.startswith("xl/") for name in names):
                raise Refused("workbook.not_one", file=self.name)
            unpacked = sum(part.file_size for part in parts)
            parsed = [part for part in parts if part.filename.lower().endswith((".xml", ".rels"))]
            if (
                unpacked > LARGEST_UNPACKED
                or sum(part.file_size for part in parsed) > LARGEST_PARSED
                or len(parts) > MOST_PARTS
                or len(set(names)) < len(parts)
            ):
                raise Refused("workbook.too_large", file=self.name)
            for part in parsed:
                with packed.open(part) as unpacking:
                    merged = self.merged.setdefault(part.filename, [])
                    for text in _whole_tags(unpacking):
                        self._count(text)
                        merged += [_area(first, last) for first, last in _MERGED.findall(text)]

    def _count(self, text: bytes) -> None:
        """Count what would be kept in memory, and look how far it reaches."""
        self._rows += len(_ROW.findall(text))
        self._cells += len(_ANY_CELL.findall(text))
        self.formulas = self.formulas or bool(_FORMULA.search(text))
        if self._rows > MOST_CELLS or self._cells > MOST_CELLS:
            raise Refused("workbook.too_large", file=self.name)
        for tag in _CELL.findall(text):
            at = _AT.search(tag)
            if at and (int(at[2]) > MOST_ROWS or _column(at[1]) > MOST_COLUMNS):
                cell = (at[1] + at[2]).decode()
                raise Refused("workbook.far_cell", file=self.name, cell=cell)


def _whole_tags(unpacking: IO[bytes]) -> Iterator[bytes]:
    """Read in pieces that never end inside a tag."""
    rest = b""
    while chunk := unpacking.read(_CHUNK):
        text = rest + chunk
        cut = text.rfind(b"<")
        yield text[: max(cut, 0)]
        rest = text[cut:] if cut >= 0 else b""
    yield rest


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _area(first: bytes, last: bytes) -> tuple[int, int, int, int]:
    ends = [re.fullmatch(rb"([A-Z]+)(\d+)", end) for end in (first, last)]
    top, bottom = (end for end in ends if end)
    return int(top[2]), _column(top[1]), int(bottom[2]), _column(bottom[1])


def _grids(raw: bytes, looked: _Looked) -> Iterator[Grid]:
    import openpyxl

    book = openpyxl.load_workbook(BytesIO(raw), read_only=True, data_only=True)
    typed = openpyxl.load_workbook(BytesIO(raw), read_only=True) if looked.formulas else None
    try:
        for sheet in book.worksheets:
            rows = [
                [_value(cell) for cell in row]
                for row in sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS)
            ]
            while rows and not any(value is not None for value in rows[-1]):
                rows.pop()
            unanswered = _unanswered(rows, typed[sheet.title]) if typed else frozenset()
            part = str(vars(sheet)["_worksheet_path"]).lstrip("/")  # told nowhere else
            carried = _fill(rows, looked.merged.get(part, []))
            yield Grid(sheet.title, tuple(_trimmed(row) for row in rows), carried, unanswered)
    finally:
        book.close()
        if typed:
            typed.close()


def _unanswered(rows: list[list[Value]], sheet: Any) -> frozenset[tuple[int, int]]:
    """Find the formulas whose result was never stored."""
    return frozenset(
        (row_no, column)
        for row_no, (values, row) in enumerate(
            zip(rows, sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS), strict=False), 1
        )
        for column, (value, cell) in enumerate(zip(values, row, strict=False), 1)
        if value is None and cell.data_type == "f"
    )


def _trimmed(row: list[Value]) -> tuple[Value, ...]:
    last = max((no for no, value in enumerate(row, 1) if value is not None), default=0)
    return tuple(row[:last])


def _fill(
    rows: list[list[Value]], areas: list[tuple[int, int, int, int]]
) -> frozenset[tuple[int, int]]:
    """Write the value of a merged cell into every row it covers, in its first column."""
    carried = set()
    for top, left, bottom, _ in areas:
        if top > len(rows) or left > len(rows[top - 1]):
            continue
        for row_no in range(top + 1, min(bottom, len(rows)) + 1):
            row = rows[row_no - 1]
            if left <= len(row) and row[left - 1] is None:
                row[left - 1] = rows[top - 1][left - 1]
                carried.add((row_no, left))
    return frozenset(carried)


def _value(cell: Any) -> Value:
    value = cell.value
    if isinstance(value, str):
        return None if cell.data_type == "e" else value[:LONGEST_TEXT]
    if isinstance(value, int) and not isinstance(value, bool) and value >= 0:
        shown = cell.number_format or ""
        return str(value).zfill(len(shown)) if _PADDED.fullmatch(shown) else value
    if value is None or isinstance(value, bool | int | float | date):
        return value
    return str(value)


def _read_csv(path: Path) -> Grid:
    if path.stat().st_size > LARGEST_CSV:
        raise Refused("workbook.too_large", file=path.name)
    raw = path.read_bytes()
    text = _decoded(raw)
    if text is None or raw.startswith((b"%PDF", b"{\\rtf")):
        raise Refused("workbook.not_one", file=path.name)
    lines = text.splitlines()
    if len(lines) > MOST_ROWS:
        raise Refused("workbook.too_large", file=path.name)
    try:
        read = list(csv.reader(lines, delimiter=_delimiter(lines)))
    except csv.Error:
        raise Refused("workbook.unreadable", file=path.name) from None
    if any(len(row) > MOST_COLUMNS for row in read):
        raise Refused("workbook.too_large", file=path.name)
    rows = tuple(tuple(value[:LONGEST_TEXT] or None for value in row) for row in read)
    return Grid(path.stem, rows)


def _decoded(raw: bytes) -> str | None:
    """Read the bytes of a text: Unicode if they say so or fit, else as Windows wrote it."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    if b"\x00" in raw:
        return None
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1")


def _delimiter(lines: list[str]) -> str:
    """Find what parts the columns: the sign that stands equally often on most lines."""
    best, most = ",", (0, 0)
    for sign in (";", "\t", ",", "|"):
        counts = Counter(line.count(sign) for line in lines[:200] if sign in line)
        if counts:
            times, on = counts.most_common(1)[0]
            if (on, times) > most:
                best, most = sign, (on, times)
    return best
