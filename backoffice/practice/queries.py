"""What is the business called, what did it set, who works for it, and with which trucks?"""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.practice import rules
from backoffice.practice.models import Farrier, Place, Practice, Setting
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails, Settings
from backoffice.words import Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine:
    """A truck or the shop in a list."""

    id: int
    name: str
    sort: str
    hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FarrierLine:
    """A farrier or an apprentice in a list, and the truck he usually rides in."""

    id: int
    name: str
    sort: str
    day_pay: int | None
    place_id: int
    place_name: str
    hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingLine:
    """One setting as it stands, beside its default."""

    name: str
    unit: str
    value: int
    default: int


def practice(session: Session) -> PracticeDetails:
    """Give the details of the business; before it is set up, those it would start with."""
    row = session.get(Practice, 1)
    if row is None:
        return PracticeDetails()
    return rules.details_of(PracticeDetails, row)


def speech(session: Session) -> Speech:
    """Give the words, money and dates this practice uses."""
    found = practice(session)
    return Speech(words=found.words, currency=found.currency)


def settings(session: Session) -> Settings:
    """Give every setting as it stands."""
    changed = session.execute(select(Setting.name, Setting.value))
    return Settings(practice(session).words, dict(changed.all()))


def setting_lines(session: Session) -> tuple[SettingLine, ...]:
    """List every setting beside its default."""
    stands = settings(session)
    defaults = Settings(stands.words, {})
    return tuple(
        SettingLine(name=s.name, unit=s.unit, value=stands[s.name], default=defaults[s.name])
        for s in rules.SETTINGS
    )


def places(session: Session, *, hidden: bool = False) -> tuple[PlaceLine, ...]:
    """List the trucks and the shop, the oldest first."""
    rows = select(Place).order_by(Place.id).limit(rules.PAGE)
    if not hidden:
        rows = rows.where(Place.hidden == 0)
    return tuple(
        PlaceLine(id=row.id, name=row.name, sort=row.sort, hidden=row.hidden)
        for row in session.scalars(rows)
    )


def place(session: Session, place_id: int) -> PlaceDetails:
    """Give a place as its edit form shows it."""
    row = session.get(Place, place_id)
    if row is None:
        raise Refused("record.missing")
    return rules.details_of(PlaceDetails, row)


def farriers(
    session: Session, sort: str = "farrier", *, hidden: bool = False
) -> tuple[FarrierLine, ...]:
    """List the farriers, or the apprentices, the oldest first."""
    rows = (
        select(Farrier, Place.name)
        .join(Place, Place.id == Farrier.place_id)
        .where(Farrier.sort == sort)
        .order_by(Farrier.id)
    )
    if not hidden:
        rows = rows.where(Farrier.hidden == 0)
    return tuple(
        FarrierLine(
            id=row.id,
            name=row.name,
            sort=row.sort,
            day_pay=row.day_pay,
            place_id=row.place_id,
            place_name=truck,
            hidden=row.hidden,
        )
        for row, truck in session.execute(rows.limit(rules.PAGE))
    )


def farrier(session: Session, farrier_id: int) -> FarrierDetails:
    """Give a farrier as his edit form shows him."""
    row = session.get(Farrier, farrier_id)
    if row is None:
        raise Refused("record.missing")
    return rules.details_of(FarrierDetails, row)


def place_choices(session: Session) -> tuple[tuple[int, str], ...]:
    """Give the places a form may offer."""
    return tuple((found.id, found.name) for found in places(session))


def farrier_choices(session: Session) -> tuple[tuple[int, str], ...]:
    """Give the farriers a form may offer."""
    return tuple((found.id, found.name) for found in farriers(session))
