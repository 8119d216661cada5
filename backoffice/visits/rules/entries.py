"""What may be typed from the paper day sheet? One dataclass for each thing that can be said."""

from dataclasses import dataclass

from backoffice.units import Foot, FootWork


@dataclass(frozen=True, slots=True, kw_only=True)
class AsPlanned:
    """A line done as planned."""

    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed:
    """A horse that was not there, or not caught."""

    number: int
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OneEnd:
    """Only the fronts of a horse were done, or only its hinds."""

    number: int
    fronts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Otherwise:
    """What was done to some feet; what is None is as planned. ``shoe`` are words of its name."""

    number: int
    feet: tuple[Foot, ...]
    done: FootWork | None = None
    size: str | None = None
    nails: int | None = None
    shoe: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """A shoe that had come off: its own went back on, or a new one."""

    number: int
    feet: tuple[Foot, ...]
    found: bool = False
    size: str | None = None
    nails: int | None = None
    shoe: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerPays:
    """The owner pays today."""

    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pays:
    """A client, by a part of his name, pays today."""

    number: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceTold:
    """The price told at the yard, or its part of the call-out."""

    number: int
    say: int | None = None
    travel: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver:
    """Money handed over for a line; ``amount`` is without the tip."""

    number: int
    amount: int
    tip: int = 0
    receipt: str | None = None
    method: str = "cash"


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A note for the record, or a warning how the horse must be handled."""

    number: int
    text: str
    warning: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Took:
    """The minutes a horse took."""

    number: int
    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StandMet:
    """What the stand met with under this horse."""

    number: int
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """All that was said of a line is taken back."""

    number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """A horse that was not on the sheet, in free words, at a stop."""

    letter: str
    words: str
    service: str | None = None
    say: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundWas:
    """The ground at a stop."""

    letter: str
    ground: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Miles:
    """The odometer going out and coming in."""

    out: int
    back: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KnifeDull:
    """A knife, by a part of its name, went dull; without one, none did."""

    name: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CameAlong:
    """Whether an apprentice came along; which, by a part of the name, if there are several."""

    came: bool
    name: str | None = None


LineEntry = (
    AsPlanned
    | Missed
    | OneEnd
    | Otherwise
    | Lost
    | OwnerPays
    | Pays
    | PriceTold
    | HandedOver
    | Written
    | Took
    | StandMet
    | TakenBack
)
StopEntry = Extra | GroundWas
DayEntry = Miles | KnifeDull | CameAlong
Entry = LineEntry | StopEntry | DayEntry
