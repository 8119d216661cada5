"""What did a supplier charge, and which of it is stock?"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from backoffice.errors import Refused

PAID_BY = ("cash", "card", "transfer", "cheque", "unpaid")


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
