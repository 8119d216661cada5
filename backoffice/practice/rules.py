"""What does a practice start with, what may be typed into a record, and which day is it?"""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, Generic, TypeVar

from backoffice.errors import Refused
from backoffice.money import LARGEST

LINE = 200
NOTE = 4_000
MOST = 1_000_000  # no count of a practice goes beyond this; a slipped finger does
PAGE = 200

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed(Generic[T]):
    """One page of a list, and whether another follows."""

    rows: tuple[T, ...]
    page: int
    more: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeDetails:
    """The business as its edit form shows it; without a version it is not set up yet."""

    name: str = ""
    address: str = ""
    phone: str = ""
    email: str = ""
    how_to_pay: str = ""
    country: str = "US"
    currency: str = "USD"
    zone: str = "America/New_York"
    words: str = "us"
    paper: str = "us-letter"
    prices_include_tax: bool = False
    tax_number: str = ""
    demo_today: date | None = None
    version: int | None = None


STARTING = {
    "us": PracticeDetails(),
    "uk": PracticeDetails(
        country="GB",
        currency="GBP",
        zone="Europe/London",
        words="uk",
        paper="a4",
        prices_include_tax=True,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceDetails:
    """A truck or the shop as its edit form shows it."""

    name: str
    sort: str = "truck"
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FarrierDetails:
    """Someone who does horses or learns to, as his edit form shows him."""

    name: str
    place_id: int | None
    sort: str = "farrier"
    day_pay: int | None = None
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True)
class Setting:
    """One default: what it is counted in, its values, why, and the bounds of a changed one."""

    name: str
    unit: str
    us: int
    uk: int
    why: str
    least: int = 0
    most: int = MOST


SETTINGS = (
    Setting("nail_waste_ppm", "ppm", 60_000, 60_000,
            "bent and dropped nails, 6 in 100, as the trade reckons", most=1_000_000),
    Setting("hour_cents", "cents", 4_500, 4_500,
            "one farrier's hour; asked once in words"),
    Setting("mile_thousandths", "thousandths of a cent", 72_500, 45_000,
            "the standard rate of 2026; in the UK the approved 45p",
            most=100_000_000),
    Setting("setup_minutes", "minutes", 15, 15,
            "unloading, talking, loading again at each yard"),
    Setting("apprentice_ppm", "ppm", 100_000, 100_000,
            "an apprentice along saves a tenth of the time", most=1_000_000),
    Setting("guarantee_days", "days", 14, 30,
            "a shoe lost sooner was the farrier's to keep on, if the horse is on schedule"),
    Setting("guarantee_owed_days", "days", 30, 30,
            "no free shoe while a bill is older than this"),
    Setting("minimum_cents", "cents", 0, 0,
            "not set at first; what the horses of a stop lack to it is added once"),
    Setting("finish_days", "days", 10, 10,
            "a horse done in part is wanted back within this time"),
    Setting("terms_private_days", "days", 0, 14,
            "paid on the day; in the UK two weeks are usual"),
    Setting("terms_monthly_days", "days", 15, 30,
            "monthly accounts get longer"),
    Setting("chase_days", "days past due", 7, 7,
            "a week's grace before a bill is shown as late"),
    Setting("ground_ordinary", "thousandths", 1_000, 1_000,
            "the measure of all others", least=1),
    Setting("ground_mud", "thousandths", 1_100, 1_100,
            "mud and manure pit a blade", least=1),
    Setting("ground_dry", "thousandths", 1_500, 1_300,
            "late summer feet like stone halve the life of nippers and rasps", least=1),
    Setting("ground_sand", "thousandths", 1_400, 1_400,
            "grit kills a rasp", least=1),
    Setting("cycle_shod_days", "days", 42, 42,
            "six weeks; used where neither horse nor type says", least=1),
    Setting("cycle_trim_days", "days", 56, 56,
            "eight weeks; used where neither horse nor type says", least=1),
    Setting("knife_edge", "thousandths of a horse", 15_000, 15_000,
            "touched up every 12 to 20 horses", least=1),
    Setting("rasp_life", "thousandths of a horse", 34_000, 34_000,
            "25 to 45 horses a rasp", least=1),
    Setting("look_days", "days", 30, 30,
            "stand, gas and hammers get a monthly look", least=1),
)  # fmt: skip
_BY_NAME = {setting.name: setting for setting in SETTINGS}


@dataclass(frozen=True, slots=True)
class Settings:
    """Every setting by name: the farrier's own value, or the default of his country's words."""

    words: str
    changed: Mapping[str, int]

    def __getitem__(self, name: str) -> int:
        """Give one setting; an unknown name is a mistake of ours."""
        default = _BY_NAME[name]
        return self.changed.get(name, default.uk if self.words == "uk" else default.us)


def known_setting(name: str, value: int) -> None:
    """Refuse a setting there is not, and a value that cannot be meant."""
    setting = _BY_NAME.get(name)
    if setting is None:
        raise Refused("setting.unknown", name=name)
    whole(value, name, least=setting.least, most=setting.most)


def details_of(kind: type[T], row: Any) -> T:
    """Read a record's details, the dataclass its edit form shows, off what has the same names."""
    return kind(**{field.name: getattr(row, field.name) for field in fields(kind)})  # type: ignore[arg-type]


def today_of(practice: PracticeDetails, real_today: date) -> date:
    """Give the day the practice lives in: the demo stands still, all others have today."""
    return practice.demo_today or real_today


def line(text: str | None, field: str) -> str | None:
    """Take a line of text as typed, stripped; nothing typed is not known yet.

    Raises: Refused for control characters and beyond 200 characters.
    """
    return _kept((text or "").replace("\t", " "), field, LINE, allowed="")


def note(text: str | None, field: str) -> str | None:
    """Take a text of several lines as typed, stripped; nothing typed is not known yet.

    Raises: Refused for control characters other than newline and tab, and beyond 4,000
    characters.
    """
    return _kept((text or "").replace("\r\n", "\n"), field, NOTE, allowed="\n\t")


def needed(text: str | None, field: str) -> str:
    """Take a line of text that a record cannot do without.

    Raises: Refused as ``line`` does, and if nothing was typed.
    """
    kept = line(text, field)
    if kept is None:
        raise Refused("text.needed", field=field)
    return kept


def _kept(text: str, field: str, most: int, *, allowed: str) -> str | None:
    kept = text.strip()
    if any(unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in kept):
        raise Refused("text.control", field=field)
    if len(kept) > most:
        raise Refused("text.too_long", field=field, most=most)
    return kept or None


def whole(value: int, field: str, *, least: int = 0, most: int = MOST) -> int:
    """Take a count.

    Raises: Refused below the least and above the most that can be meant.
    """
    if value < 0:
        raise Refused("count.negative", field=field)
    if value < least:
        raise Refused("count.too_small", field=field, least=least)
    if value > most:
        raise Refused("count.too_large", field=field, typed=value)
    return value


def amount(cents: int, field: str) -> int:
    """Take an amount of money that cannot be below nothing.

    Raises: Refused below nothing and beyond what a practice ever writes.
    """
    if cents < 0:
        raise Refused("money.negative", field=field)
    if cents > LARGEST:
        raise Refused("money.too_large", field=field)
    return cents


def choice(word: str, words: tuple[str, ...], field: str) -> str:
    """Take one of a few words.

    Raises: Refused for any other.
    """
    if word not in words:
        raise Refused("choice.unknown", field=field)
    return word
