"""What is true of a day of an invented practice, whoever is told of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from backoffice.units import Foot, FootWork

Parts = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardTold:
    """Where horses stand."""

    name: str
    address: str
    gate_note: str | None
    ground: str | None
    miles: int
    call_out: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientTold:
    """Someone who is billed, on the day or once a month."""

    name: str
    sort: str
    bill_when: str
    bill_how: str
    phone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseTold:
    """A horse that comes to the practice, and who pays for it by which parts."""

    name: str
    kind: str
    yard: str
    payers: Parts
    cycle: int | None
    flag: tuple[str, str] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FootTold:
    """What was done to one foot, and what went on it; items by their keys."""

    done: FootWork
    shoe: str | None = None
    nail: str | None = None
    nails: int | None = None
    pad: str | None = None
    lost: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkTold:
    """What one horse got.

    ``extra`` horses were booked at the yard itself, ``finishes`` ends what was done in part before.
    """

    horse: str
    service: str
    outcome: str
    feet: Mapping[Foot, FootTold]
    minutes: int | None = None
    extra: bool = False
    finishes: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StopTold:
    """One farrier at one yard, perhaps with the apprentice."""

    farrier: str
    yard: str
    works: tuple[WorkTold, ...]
    helper: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryTold:
    """Singles that arrived for a truck: item, how many, and what they cost together."""

    supplier: str
    place: str
    lines: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpentTold:
    """Something paid for beside the stock."""

    supplier: str
    what: str
    amount: int
    paid_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolTold:
    """What happened to a tool of a truck; ``replaced`` by one of the same name."""

    place: str
    tool: str
    what: str
    cost: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PaidTold:
    """Money for the bill of a day: all that is open of it, or so many thousandths."""

    client: str
    billed: date
    method: str
    part: int = 1_000
    tip: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTold:
    """A day of the practice, in the order in which it is told; one still to come has only stops."""

    day: date
    to_come: bool = False
    yards: tuple[YardTold, ...] = ()
    clients: tuple[ClientTold, ...] = ()
    came: tuple[HorseTold, ...] = ()
    left: tuple[tuple[str, str], ...] = ()
    deliveries: tuple[DeliveryTold, ...] = ()
    spent: tuple[SpentTold, ...] = ()
    stops: tuple[StopTold, ...] = ()
    tools: tuple[ToolTold, ...] = ()
    counted: tuple[tuple[str, str, int], ...] = ()
    bills: tuple[str, ...] = ()
    paid: tuple[PaidTold, ...] = ()
    given_up: tuple[tuple[str, date], ...] = ()
