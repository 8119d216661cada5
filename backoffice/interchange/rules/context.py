"""What has been noted and asked so far, while a workbook is being understood?"""

from dataclasses import dataclass, field, replace
from datetime import date

from backoffice.interchange.rules.blocks import Block, Row
from backoffice.interchange.rules.brought import Cell, Doubt, Note, Options, Value
from backoffice.interchange.rules.dates import Order, column_order, read_day
from backoffice.interchange.rules.values import plain_text, read_amount, said


@dataclass(slots=True)
class Reading:
    """One reading of a workbook: what is given, and the notes and doubts that gather."""

    options: Options
    today: date
    currency: str
    notes: list[Note] = field(default_factory=list)
    doubts: dict[str, Doubt] = field(default_factory=dict)
    asked: set[tuple[str, str, int]] = field(default_factory=set)
    orders: dict[tuple[str, int, str], Order] = field(default_factory=dict)

    def note(self, row: Row, name: str, code: str, /, **facts: object) -> None:
        """Note something about one cell; the same about the same cell only once."""
        self.note_at(row.at(name), row.values.get(name), code, **facts)

    def note_at(self, at: Cell, value: Value, code: str, /, **facts: object) -> None:
        """Note something about a place."""
        self.notes.append(Note(at, plain_text(value)[:200], code, facts))

    def ask(
        self,
        option: str,
        code: str,
        row: Row | None = None,
        /,
        *,
        choices: tuple[str, ...],
        rows: int = 1,
        **facts: object,
    ) -> str | None:
        """Give the answer to a question, or put it; put for a further row it counts that too."""
        told = self.options.answer(option)
        if told is not None and (told in choices or not choices):
            return told
        if row is not None:
            facts |= {"sheet": row.sheet, "row": row.no}
        asked = self.doubts.get(option)
        if asked is None:
            asked = Doubt(code=code, option=option, facts=facts, choices=choices, rows=0)
        if row is None or (option, row.sheet, row.no) not in self.asked:
            self.doubts[option] = replace(asked, rows=asked.rows + rows)
        if row is not None:
            self.asked.add((option, row.sheet, row.no))
        return None

    def day(
        self, block: Block, row: Row, name: str, *, past: bool = True, coarse: bool = False
    ) -> date | None:
        """Read the day under a meaning, in the order its column decides, else as was answered."""
        value = row.values.get(name)
        if said(value) is None:
            if "?" in plain_text(value):
                self.note(row, name, "read.find_out.asked")
            return None
        order = self._order(block, name, past=past).order
        told = self.options.date_order
        read = read_day(value, self.today, order=order or told, year=block.year, coarse=coarse)
        if read.code == "read.unread.date_order_unknown":
            self.ask(
                "date-order",
                "read.doubt.date_order",
                row,
                choices=("mdy", "dmy"),
                heading=block.headings[name],
                value=plain_text(value),
            )
        elif read.code:
            self.note(row, name, read.code, on_day=read.day)
        return read.day

    def amount(self, row: Row, name: str) -> int | None:
        """Read the amount under a meaning, in minor units."""
        value = row.values.get(name)
        if said(value) is None:
            return None
        read = read_amount(value, self.currency)
        if read.code:
            self.note(row, name, read.code)
        return read.cents

    def _order(self, block: Block, name: str, *, past: bool) -> Order:
        key = (block.sheet, block.head_no, name)
        if key not in self.orders:
            values = [row.values.get(name) for row in block.rows]
            self.orders[key] = column_order(values, self.today, past=past)
        return self.orders[key]
