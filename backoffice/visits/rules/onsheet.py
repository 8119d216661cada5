"""What do entries find on the sheet, and what may they come to?"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from backoffice.errors import Refused
from backoffice.pricing.rules import ServiceLine
from backoffice.units import Foot
from backoffice.visits.rules.entries import Entry
from backoffice.visits.rules.facts import FootState, Said

Named = tuple[tuple[int, str], ...]
FeetOn = Mapping[Foot, FootState]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shoe:
    """A shoe that may have gone on."""

    id: int
    name: str
    size: str
    pattern: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLine:
    """A line of the sheet as entries find it.

    ``wears`` has the shoes of the feet shod now, ``warnings`` what is held about handling it.
    """

    number: int
    work_id: int
    visit_id: int
    subject: str
    closed: bool
    words: str
    horse_id: int | None = None
    owner_id: int | None = None
    warnings: tuple[str, ...] = ()
    wears: FeetOn = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A farrier's day as entries find it; ``clients`` are those each typed name may mean."""

    lines: Mapping[int, OnLine]
    stops: Mapping[str, int]
    facts: Mapping[int, tuple[Said, ...]]
    shoes: tuple[Shoe, ...] = ()
    services: tuple[ServiceLine, ...] = ()
    clients: Mapping[str, Named] = field(default_factory=dict)
    knives: Named = ()
    stand: int | None = None
    apprentices: Named = ()

    def closed(self, visit_id: int) -> bool:
        """Whether any horse of a visit is written up."""
        return any(line.closed for line in self.lines.values() if line.visit_id == visit_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A fact to write down, and the horse it is about, if any.

    ``closed`` says that the horse, or the visit, is written up already.
    """

    visit_id: int
    subject: str
    said: Said
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """A warning to set on a horse."""

    visit_id: int
    subject: str
    horse_id: int
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewHorse:
    """A horse to add to a stop."""

    visit_id: int
    words: str
    service_id: int | None
    say: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Helper:
    """Who came along that day; None is nobody."""

    farrier_id: int | None


Step = Fact | Handling | NewHorse | Helper


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """An entry as it was understood, and what is to be written down for it, if anything is."""

    entry: Entry
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """An entry that was not understood, and why."""

    typed: str
    refused: Refused


def one_of(found: Named, typed: str, kind: str, offered: Named = ()) -> int:
    """Give the one meant: called exactly so, else the only one found.

    Raises: Refused with the names there are, where none or several may be meant.
    Source: docs/rules/entry.md#names
    """
    exact = [number for number, name in found if name.casefold() == typed.casefold()]
    if len(exact) == 1:
        return exact[0]
    if len(found) == 1:
        return found[0][0]
    names = ", ".join(name for _, name in (found or offered))
    raise Refused(f"entry.which_{kind}" if found else f"entry.no_{kind}", typed=typed, names=names)


def holding(named: Named, typed: str) -> Named:
    """Give those whose name holds what was typed.

    Source: docs/rules/entry.md#names
    """
    return tuple((number, name) for number, name in named if typed.casefold() in name.casefold())
