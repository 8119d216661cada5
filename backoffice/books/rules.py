"""What did a supplier charge, and which of it is stock? What is a day's help owed?"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from backoffice.errors import Refused

PAID_BY = ("cash", "card", "transfer", "cheque", "unpaid")
NOT_SORTED = ""  # the words of an expense that no line says yet


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """A line of a supplier's bill: singles for a place, or an expense in words."""

    sort: str
    amount: int
    item_id: int | None = None
    place_id: int | None = None
    qty: int = 0
    what: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierBillNew:
    """A supplier's bill to enter once: its total, and as many of its lines as are known."""

    supplier_id: int | None
    day: date
    reference: str
    total: int
    paid_by: str
    lines: tuple[BillLine, ...]
    file_id: int | None = None


def unsorted(total: int, lines: Sequence[BillLine]) -> int:
    """Give what of a total no line says yet.

    Units: minor units.
    Raises: Refused if the lines come to more than the total, or one is below nothing.
    Source: docs/rules/books.md#what-no-line-says-yet
    """
    if total < 0 or any(line.amount < 0 for line in lines):
        raise Refused("money.negative", field="total")
    left = total - sum(line.amount for line in lines)
    if left < 0:
        raise Refused("books.lines_over_total", field="total", over_cents=-left)
    return left


def still_unsorted(left: int, lines: Sequence[BillLine]) -> int:
    """Give what of a bill no line says yet, once these lines are said of what was left.

    Units: minor units.
    Raises: Refused without a line, for one below nothing, and beyond what was left.
    Source: docs/rules/books.md#said-later
    """
    if not lines:
        raise Refused("books.nothing_said")
    if any(line.amount < 0 for line in lines):
        raise Refused("money.negative")
    after = left - sum(line.amount for line in lines)
    if left <= 0:
        raise Refused("books.all_sorted")
    if after < 0:
        raise Refused("books.lines_over_left", left_cents=left, over_cents=-after)
    return after


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPaid:
    """A day's pay that stands: nobody took it back."""

    id: int
    farrier_id: int
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PayChange:
    """What has to be written for a day: pay taken back, and pay that is owed from now on."""

    take_back: tuple[DayPaid, ...]
    owe: int | None


def pay_change(
    standing: Sequence[DayPaid], farrier_id: int | None, day_pay: int | None
) -> PayChange:
    """Decide what a day's pay becomes when this apprentice, or nobody, came along.

    A day is owed once: pay that stands for him stays as it is, another's is taken back.
    Units: minor units; None is no pay set, and owes nothing.
    Source: docs/rules/books.md#a-day-along
    """
    paid = any(one.farrier_id == farrier_id for one in standing)
    return PayChange(
        take_back=tuple(one for one in standing if one.farrier_id != farrier_id),
        owe=day_pay if farrier_id is not None and not paid and day_pay else None,
    )
