"""Where on a sheet does a list stand, and of what kind is it?"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import Cell, Doubt, Grid, Note, Options, Value
from backoffice.interchange.rules.headings import (
    KINDS,
    Match,
    best_kinds,
    column_fits,
    heading_key,
    is_heading,
    is_month,
)
from backoffice.interchange.rules.trade import feet_of, like_kind
from backoffice.interchange.rules.values import plain_text, said

LOOKED_AT = 60  # rows under a heading that tell what its columns hold
_TOTAL = re.compile(
    r"(?:grand |sub ?-?)?(?:total|totals|sum|summe|gesamt|zwischensumme|somme|suma|totaal|som)\b.*"
    r"|value|stock value|wert|balance|average|carried forward|ubertrag|in all",
)
_YEAR = re.compile(r"(?<!\d)(20\d\d|19\d\d)(?!\d)")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a list: what stands under each meaning, and where."""

    sheet: str
    no: int
    values: dict[str, Value]
    places: dict[str, int]

    def at(self, name: str) -> Cell:
        """Give the cell of one meaning, or the first of the row."""
        first = min(self.places.values(), default=0)
        return Cell(self.sheet, self.no, self.places.get(name, first) + 1)

    def text(self, name: str) -> str | None:
        """Give the text under a meaning, or None where nothing is said."""
        return said(self.values.get(name))

    @property
    def alone(self) -> bool:
        """Whether a single cell of the row says something."""
        return sum(self.text(name) is not None for name in self.values) == 1


@dataclass(frozen=True, slots=True)
class Block:
    """A list found on a sheet, with its headings; ``year`` is the one its title names."""

    kind: str
    sheet: str
    head_no: int
    headings: dict[str, str]
    rows: tuple[Row, ...]
    year: int | None = None


@dataclass(slots=True)
class Found:
    """All lists of a workbook, and what was left out on the way."""

    blocks: list[Block] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Start:
    row: int
    left: int
    right: int
    match: Match
    heads: tuple[Value, ...]


def find_blocks(grids: Sequence[Grid], options: Options) -> Found:
    """Find every list on every sheet by its heading row, wherever it stands.

    Title rows, blank rows, repeated headings and totals are left out; what lies on a sheet and
    belongs to no list is named. Where two kinds fit a heading equally well it is asked.
    Source: docs/rules/interchange.md#finding-lists
    """
    found = Found()
    for grid in grids:
        if not any(said(value) for row in grid.rows for value in row):
            continue
        width = max(len(row) for row in grid.rows)
        rows = [tuple(row) + (None,) * (width - len(row)) for row in grid.rows]
        starts = _starts(grid.sheet, rows, options, found)
        if not starts:
            corner = next((value for row in rows for value in row if said(value)), None)
            note = Note(Cell(grid.sheet, 1, 1), plain_text(corner), "read.unread.sheet_unknown")
            found.notes.append(note)
        for start in starts:
            _read(grid, rows, start, starts, found)
    return found


def _starts(
    sheet: str, rows: Sequence[Sequence[Value]], options: Options, found: Found
) -> list[_Start]:
    starts: list[_Start] = []
    filled = _filled(rows)
    for no, row in enumerate(rows):
        for left, right in _segments(row, no, filled):
            heads = row[left:right]
            inside = any(one.left < right and left < one.right for one in starts)
            if not _may_head(heads, inside=inside):
                continue
            title = _title(sheet, rows, no, left, right)
            if right - left == 1:
                title = f"{title} {heading_key(heads[0])}"
            below = [one[left:right] for one in rows[no + 1 : no + 1 + LOOKED_AT]]
            last, heads = _with_second(no, heads, below)
            if last > no:
                below = below[1:]
            special = _pivot(heads) or (None if inside else _matrix(heads, below))
            kinds = (special,) if special else best_kinds(heads, below, title)
            if kinds:
                match = _chosen(sheet, no, kinds, plain_text(heads[0]), options, found)
                starts.append(_Start(last, left, right, match, tuple(heads)))
    return starts


def _with_second(
    no: int, heads: Sequence[Value], below: Sequence[Sequence[Value]]
) -> tuple[int, Sequence[Value]]:
    """Put a second row of headings under the first: ``Shoes`` over ``Front`` and ``Hind``."""
    second = below[0] if below else ()
    there = [value for value in second if value is not None]
    if not there or second[0] is not None or not all(is_heading(value) for value in there):
        return no, heads
    return no + 1, [under or head for head, under in zip(heads, second, strict=True)]


def _chosen(
    sheet: str, no: int, kinds: Sequence[Match], first: str, options: Options, found: Found
) -> Match:
    equal = [kind for kind in kinds if kind.score == kinds[0].score]
    if len(equal) == 1:
        return equal[0]
    option = f"list:{sheet}:{no + 1}"
    told = next((kind for kind in equal if kind.kind == options.answer(option)), None)
    if told is None:
        facts = {"sheet": sheet, "row": no + 1, "value": first}
        names = tuple(sorted(kind.kind for kind in equal))
        doubt = Doubt(
            code="read.doubt.list", option=option, facts=facts, choices=names, rows=LOOKED_AT
        )
        found.doubts.append(doubt)
    return told or equal[0]


def _filled(rows: Sequence[Sequence[Value]]) -> list[list[int]]:
    """Give for each column the rows in which it holds something."""
    width = len(rows[0])
    return [
        [no for no, row in enumerate(rows) if row[column] is not None] for column in range(width)
    ]


def _segments(
    row: Sequence[Value], no: int, filled: Sequence[Sequence[int]]
) -> Iterator[tuple[int, int]]:
    """Part a row where a column is empty from here on down: lists may stand side by side."""
    left: int | None = None
    for column, value in enumerate(row):
        after = bisect_right(filled[column], no)
        later = filled[column][after] if after < len(filled[column]) else None
        gap = value is None and (later is None or later > no + LOOKED_AT)
        if gap and left is not None:
            yield left, column
            left = None
        elif left is None and value is not None:
            left = column
    if left is not None:
        yield left, len(row)


def _may_head(heads: Sequence[Value], *, inside: bool) -> bool:
    """Say whether a row may be a heading: mostly words, one of them known for certain.

    Under a heading already found it takes two, and half of the row.
    """
    there = [value for value in heads if said(value) is not None]
    months = sum(is_month(value) is not None for value in there)
    words = sum(isinstance(value, str) or is_month(value) is not None for value in there)
    if not there or 4 * words < 3 * len(there) or max(map(_length, there)) > 60:
        return False
    certain = sum(is_heading(value) for value in there)
    if not inside and not certain:
        return sum(_names_work(value) for value in there) >= 2
    if inside:
        return (certain >= 2 and 2 * certain >= len(there)) or (months >= 3 and certain >= 1)
    return certain >= 1


def _length(value: Value) -> int:
    return len(plain_text(value))


def _pivot(heads: Sequence[Value]) -> Match | None:
    """Take a heading with a column for each month for a year's work, horse by horse."""
    months = {no: month for no, head in enumerate(heads) if (month := is_month(head))}
    if len(months) < 3 or len(set(months.values())) < 3:
        return None
    columns = {f"month {no}": no for no in months}
    named = {name: column for column in KINDS["jobs"].columns if (name := column.name)}
    for name in ("horse", "client"):
        words = named[name].words.split("|")
        free = [no for no in range(len(heads)) if no not in columns.values()]
        place = next((no for no in free if heading_key(heads[no]) in words), None)
        if place is not None:
            columns[name] = place
    return Match("pivot", 0, len(months), columns) if "horse" in columns else None


def _names_work(value: Value) -> bool:
    return isinstance(value, str) and feet_of(value) != (None, None)


def _matrix(heads: Sequence[Value], below: Sequence[Sequence[Value]]) -> Match | None:
    """Take services over amounts for a price list with a row for each kind of horse."""
    priced = [
        no
        for no, head in enumerate(heads)
        if _names_work(head) and column_fits([row[no] for row in below], "money")
    ]
    words = {search_key(plain_text(heads[no])) for no in priced}
    if len(words) < 2 or words <= {"front", "fronts", "hind", "hinds", "shoes", "shoe"}:
        return None
    kinds = [no for no in range(len(heads)) if no not in priced]
    if not kinds or not any(like_kind(plain_text(row[kinds[0]])) for row in below):
        return None
    columns = {f"price {plain_text(heads[no])}": no for no in priced}
    return Match("matrix", 0, len(priced), columns | {"kind": kinds[0]})


def _title(sheet: str, rows: Sequence[Sequence[Value]], no: int, left: int, right: int) -> str:
    """Give the words that name a list: those of its sheet and of single cells just above it."""
    words = [sheet]
    for above in rows[max(no - 4, 0) : no]:
        there = [value for value in above if said(value) is not None]
        if len(there) == 1 and there[0] in above[left:right]:
            words.append(plain_text(there[0]))
    return " ".join(re.findall(r"[^\W_]+", search_key(" ".join(words))))


def _read(
    grid: Grid,
    rows: Sequence[Sequence[Value]],
    start: _Start,
    starts: Sequence[_Start],
    found: Found,
) -> None:
    """Read the rows of one list until the next heading over the same columns."""
    sheet, match = grid.sheet, start.match
    below = [other for other in starts if other.row > start.row]
    over = [other.row for other in below if other.left < start.right and start.left < other.right]
    end = min(over, default=len(rows))
    heads = start.heads
    places = {name: no + start.left for name, no in match.columns.items()}
    places |= _price_columns(match, heads, start.left)
    body = []
    for no in range(start.row + 1, end):
        part = rows[no][start.left : start.right]
        there = [value for value in part if said(value) is not None]
        if not there:
            continue
        label = search_key(plain_text(there[0]))
        cell = Cell(sheet, no + 1, start.left + 1 + next(i for i, v in enumerate(part) if said(v)))
        if _TOTAL.fullmatch(label) and (len(there) < len(part) or len(part) < 3):
            found.notes.append(Note(cell, plain_text(there[0]), "read.unread.total_row"))
        elif len(there) == 1 and _section(rows, part, no, end):
            found.notes.append(Note(cell, plain_text(there[0]), "read.unread.title_row"))
        else:
            values = {name: rows[no][place] for name, place in places.items()}
            body.append(Row(sheet, no + 1, values, places))
            found.notes += _unanswered(grid, body[-1])
    for no, head in enumerate(heads):
        if no + start.left not in places.values() and said(head) is not None:
            at = Cell(sheet, start.row + 1, no + start.left + 1)
            note = Note(at, plain_text(head), "read.unread.column_unread")
            found.notes.append(note)
    headings = {name: plain_text(heads[place - start.left]) for name, place in places.items()}
    year = _YEAR.search(_title(sheet, rows, start.row, start.left, start.right))
    of = int(year[1]) if year else None
    found.blocks.append(Block(match.kind, sheet, start.row + 1, headings, tuple(body), of))


def _section(rows: Sequence[Sequence[Value]], part: Sequence[Value], no: int, end: int) -> bool:
    """Say whether a row with one cell is a heading in between: a month, or the next title."""
    value = next(value for value in part if said(value) is not None)
    if is_month(value) and isinstance(value, str):
        return True
    below = rows[no + 1 : end]
    return end < len(rows) and all(sum(said(v) is not None for v in row) <= 1 for row in below)


def _price_columns(match: Match, heads: Sequence[Value], left: int) -> dict[str, int]:
    """Take every further column of a price list: one price for each kind of horse named."""
    if match.kind != "prices":
        return {}
    first = match.columns["price"]
    return {
        f"price {plain_text(head)}": no + left
        for no, head in enumerate(heads)
        if no not in match.columns.values() and no != first and said(head) is not None
    }


def _unanswered(grid: Grid, row: Row) -> list[Note]:
    return [
        Note(row.at(name), "", "read.unread.formula_unanswered")
        for name, place in row.places.items()
        if (row.no, place + 1) in grid.unanswered
    ]
