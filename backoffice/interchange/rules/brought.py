"""What does an old workbook say, once it is understood? Each finding knows where it stood."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from backoffice.units import Foot

Value = str | int | float | bool | date | datetime | None

DATE_ORDERS = ("mdy", "dmy")
SHOES = ("pairs", "singles")


@dataclass(frozen=True, slots=True)
class Cell:
    """Where something stood: row and column count from 1, as people see them."""

    sheet: str
    row: int
    column: int

    @property
    def address(self) -> str:
        """Name the cell as a spreadsheet does, ``B12``."""
        letters, left = "", self.column
        while left:
            left, letter = divmod(left - 1, 26)
            letters = chr(65 + letter) + letters
        return f"{letters}{self.row}"


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet as plain values; ``carried`` are the cells a merged cell above or beside fills.

    ``unanswered`` are formulas whose result is not stored in the file. Both count from 1.
    """

    sheet: str
    rows: tuple[tuple[Value, ...], ...]
    carried: frozenset[tuple[int, int]] = frozenset()
    unanswered: frozenset[tuple[int, int]] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the farrier said beforehand; ``answers`` are by the option of the doubt they settle."""

    date_order: str | None = None
    shoes: str | None = None
    answers: Mapping[str, str] = field(default_factory=dict)

    def answer(self, option: str) -> str | None:
        """Give what was said to one question, or None."""
        told = {"date-order": self.date_order, "shoes": self.shoes}.get(option)
        return told or self.answers.get(option)


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtClient:
    """Someone who is billed; ``bill_when`` is on_the_spot, tonight, weekly or monthly."""

    at: Cell
    name: str
    phone: str | None = None
    email: str | None = None
    address: str | None = None
    bill_when: str | None = None
    terms_days: int | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtYard:
    """Where horses stand; miles from home, one way."""

    at: Cell
    name: str
    address: str | None = None
    miles: int | None = None


@dataclass(frozen=True, slots=True)
class BroughtShoe:
    """What one foot wears; the size is text, ``nails`` is the kind of nail."""

    foot: Foot
    size: str
    pattern: str | None = None
    nails: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtHorse:
    """A horse: its ``clients`` are names and integer parts, the owner first.

    ``like`` is what its kind means (pony, riding, stock, sport, draft, donkey, foal), ``fronts``
    and ``hinds`` what its usual work does to them (new, reset, trim, pulled, none); ``flags`` are
    handling notes, flag and words.
    """

    at: Cell
    name: str
    clients: tuple[tuple[str, int], ...] = ()
    yard: str | None = None
    kind: str | None = None
    like: str | None = None
    cycle_days: int | None = None
    wears: tuple[BroughtShoe, ...] = ()
    usual: str | None = None
    fronts: str | None = None
    hinds: str | None = None
    last_day: date | None = None
    flags: tuple[tuple[str, str], ...] = ()
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtPrice:
    """A price in minor units; without a kind it is for every horse. ``fronts`` None: an extra."""

    at: Cell
    service: str
    amount: int
    fronts: str | None = None
    hinds: str | None = None
    kind: str | None = None
    like: str | None = None
    from_day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtStock:
    """An item in stock, counted in singles by place; None is not counted there.

    ``sort`` is shoe, nail, pad, packing, rasp or other; ``pack`` is how many singles come in one
    (2 for a pair), and ``cost`` what ``cost_for`` singles cost, in minor units.
    """

    at: Cell
    sort: str
    name: str
    size: str = ""
    truck: int | None = None
    shop: int | None = None
    pack: int | None = None
    cost: int | None = None
    cost_for: int = 1
    supplier: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtTool:
    """A tool; ``sort`` is knife, rasp, nippers, clinchers, hammer, stand, forge, gas or other."""

    at: Cell
    sort: str
    name: str
    bought: date | None = None
    price: int | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtJob:
    """A past job. The horse and client are those of a ``BroughtHorse``; paid None is not said."""

    at: Cell
    day: date
    horse: str
    client: str | None
    what: str
    fronts: str | None = None
    hinds: str | None = None
    amount: int | None = None
    paid: int | None = None
    method: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtSpending:
    """Money out; ``paid_by`` is how it was paid, as ``method`` of a job."""

    at: Cell
    day: date
    supplier: str | None
    what: str | None
    amount: int
    paid_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtOwed:
    """What a client still owes from before, in minor units, with the old reference."""

    at: Cell
    client: str
    reference: str
    amount: int
    day: date | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """Something that was changed, left out or not understood, where it stood and why."""

    at: Cell
    value: str
    code: str
    facts: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """What must be answered before anything is brought in.

    ``option`` is the key of the answer, ``choices`` what may be answered (none: any text), and
    ``rows`` how many rows it settles.
    """

    code: str
    option: str
    facts: Mapping[str, object] = field(default_factory=dict)
    choices: tuple[str, ...] = ()
    rows: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """All that was understood; with doubts left nothing may be brought in."""

    clients: tuple[BroughtClient, ...] = ()
    yards: tuple[BroughtYard, ...] = ()
    horses: tuple[BroughtHorse, ...] = ()
    prices: tuple[BroughtPrice, ...] = ()
    stock: tuple[BroughtStock, ...] = ()
    tools: tuple[BroughtTool, ...] = ()
    jobs: tuple[BroughtJob, ...] = ()
    spending: tuple[BroughtSpending, ...] = ()
    owed: tuple[BroughtOwed, ...] = ()
    notes: tuple[Note, ...] = ()
    doubts: tuple[Doubt, ...] = ()
