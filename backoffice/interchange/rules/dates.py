"""Which day is meant? Dates as people type them, several ways in one column."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from backoffice.clients.rules import search_key
from backoffice.days import FIRST_YEAR, LAST_YEAR
from backoffice.interchange.rules.brought import Value

SERIALS = range(20_000, 80_000)
_SERIAL_START = date(1899, 12, 30)
# Names of the months as CLDR has them, without accents: English, German, French, Spanish, Dutch
# and Italian. Any beginning of at least three letters that fits one month only will do.
_MONTHS = (
    ("january", "januar", "janvier", "enero", "januari", "gennaio", "janner"),
    ("february", "februar", "fevrier", "febrero", "februari", "febbraio", "feber"),
    ("march", "marz", "mars", "marzo", "maart", "maerz", "mrt", "mrz"),
    ("april", "april", "avril", "abril", "aprile"),
    ("may", "mai", "mayo", "mei", "maggio"),
    ("june", "juni", "juin", "junio", "giugno"),
    ("july", "juli", "juillet", "julio", "luglio"),
    ("august", "aout", "agosto", "augustus"),
    ("september", "septembre", "septiembre", "settembre", "setiembre"),
    ("october", "oktober", "octobre", "octubre", "ottobre"),
    ("november", "novembre", "noviembre"),
    ("december", "dezember", "decembre", "diciembre", "dicembre"),
)
_WEEKDAYS = (
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
    "montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonnabend", "sonntag",
    "lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi", "dimanche",
    "lunes", "martes", "miercoles", "jueves", "viernes", "sabado", "domingo",
    "maandag", "dinsdag", "woensdag", "donderdag", "vrijdag", "zaterdag", "zondag",
)  # fmt: skip
# What stands around a day, and weekdays in two letters.
_SMALL = frozenset({
    "st", "nd", "rd", "th", "of", "the", "de", "del", "le", "la", "el",
    "den", "am", "vom", "er", "on", "mo", "di", "mi", "do", "fr", "sa", "so",
})  # fmt: skip
_PARTED = re.compile(r"(\d{1,2})\s*([/.\-])\s*(\d{1,2})(?:\s*\2\s*(\d{4}|\d{2})?)?")
_YEAR_FIRST = re.compile(r"(\d{4})[/.](\d{1,2})[/.](\d{1,2})")
_MONTH_YEAR = re.compile(r"(\d{1,2})\s*[/.\-]\s*(\d{4})|(\d{4})-(\d{1,2})")
_TIME = re.compile(r"[T ]\d{1,2}:\d{2}.*$")


@dataclass(frozen=True, slots=True)
class Day:
    """A day as read; ``code`` says what had to be assumed, or why there is none."""

    day: date | None
    code: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """Which comes first in a column: ``mdy``, ``dmy``, or None with rows that need it."""

    order: str | None
    undecided: int
    example: str = ""


def month_named(word: str) -> int | None:
    """Give the month a word names, 1 to 12, or None.

    Units: a whole name in one of six languages, or its beginning of three letters or more.
    Source: docs/rules/interchange.md#dates
    """
    key = search_key(word).rstrip(".")
    if len(key) < 3:
        return None
    found = {
        no for no, names in enumerate(_MONTHS, 1) for name in names if name.startswith(key)
    } | {no for no, names in enumerate(_MONTHS, 1) if key in names}
    whole = {no for no, names in enumerate(_MONTHS, 1) if key in names}
    found = whole or found
    return found.pop() if len(found) == 1 else None


def column_order(values: Iterable[Value], today: date, *, past: bool) -> Order:
    """Say whether month or day comes first in a column, if its own rows decide it.

    A part above 12 decides, and so does a reading that would lie ahead of today where only the
    past can stand. Rows that contradict each other decide nothing.
    Source: docs/rules/interchange.md#month-or-day-first
    """
    votes: set[str] = set()
    undecided, example = 0, ""
    for value in values:
        parts = _parts(value)
        if parts is None or parts[1] == ".":
            continue
        first, _, second, year = parts
        if first > 12 or second > 12:
            votes.add("dmy" if first > 12 else "mdy")
        elif first != second:
            undecided += 1
            example = example or str(value).strip()
            if past and year is not None:
                mdy, dmy = _real(year, first, second), _real(year, second, first)
                if mdy and dmy and (mdy > today) != (dmy > today):
                    votes.add("dmy" if mdy > today else "mdy")
    if len(votes) == 1:
        return Order(votes.pop(), 0)
    return Order(None, undecided, example)


def read_day(
    value: Value, today: date, *, order: str | None, year: int | None = None, coarse: bool = False
) -> Day:
    """Read one cell as a day.

    ISO 8601 (calendar and week dates), real dates, spreadsheet day numbers, names of months,
    numbers parted by strokes or points. Without a year it is the year given, else the last such
    day up to today. ``coarse`` also takes a month or a year alone, as its first day.
    Source: docs/rules/interchange.md#dates
    """
    if isinstance(value, datetime):
        value = value.date()
    if isinstance(value, date):
        return _kept(value)
    if isinstance(value, bool) or value is None:
        return Day(None, "read.unread.date_unreadable")
    if isinstance(value, int | float):
        return _from_number(value, coarse=coarse)
    text = _TIME.sub("", value.strip()).strip()
    try:
        return _kept(date.fromisoformat(text))
    except ValueError:
        pass
    if found := _YEAR_FIRST.fullmatch(text):
        return _kept(_real(int(found[1]), int(found[2]), int(found[3])))
    if parts := _parts(text):
        return _from_parts(parts, today, order, year)
    if text.isascii() and text.isdigit() and len(text) <= 6:
        return _from_number(int(text), coarse=coarse)
    if found := _MONTH_YEAR.fullmatch(text):
        month, of = (found[1], found[2]) if found[1] else (found[4], found[3])
        return _coarse(_real(int(of), int(month), 1), "month", allowed=coarse)
    return _from_words(text, today, year, coarse=coarse)


def _parts(value: Value) -> tuple[int, str, int, int | None] | None:
    """Take a text like 3/4/26 apart: first, sign, second, year."""
    if not isinstance(value, str) or not value.isascii():
        return None
    found = _PARTED.fullmatch(_TIME.sub("", value.strip()).strip())
    if found is None:
        return None
    return int(found[1]), found[2], int(found[3]), _full_year(found[4])


def _full_year(text: str | None) -> int | None:
    if text is None:
        return None
    return int(text) if len(text) == 4 else (2000 if int(text) < 70 else 1900) + int(text)


def _from_parts(
    parts: tuple[int, str, int, int | None], today: date, order: str | None, year: int | None
) -> Day:
    first, sign, second, own = parts
    if sign == ".":
        order = "dmy"  # points are written day first: DIN 5008, CLDR
    elif first > 12:
        order = "dmy"
    elif second > 12 or first == second:
        order = "mdy"
    if order is None:
        return Day(None, "read.unread.date_order_unknown")
    month, day = (first, second) if order == "mdy" else (second, first)
    if own is not None:
        return _kept(_real(own, month, day))
    return _without_year(month, day, today, year)


def _from_number(value: float, *, coarse: bool) -> Day:
    if value in range(FIRST_YEAR, LAST_YEAR + 1):
        return _coarse(_real(int(value), 1, 1), "year", allowed=coarse)
    if SERIALS.start <= value < SERIALS.stop:
        found = _kept(_SERIAL_START + timedelta(days=int(value)))
        return Day(found.day, found.code or "read.changed.date_serial")
    return Day(None, "read.unread.date_unreadable")


def _from_words(text: str, today: date, year: int | None, *, coarse: bool) -> Day:
    months: list[int] = []
    numbers: list[str] = []
    for token in re.findall(r"[^\W\d_]+|\d+", search_key(text)):
        if token.isascii() and token.isdigit():
            numbers.append(token)
        elif token in _SMALL or (len(token) >= 2 and any(d.startswith(token) for d in _WEEKDAYS)):
            if (month := month_named(token)) and token not in _SMALL and not months:
                months.append(month)
        elif month := month_named(token):
            months.append(month)
        else:
            return Day(None, "read.unread.date_unreadable")
    if len(months) != 1 or not numbers or len(numbers) > 2 or max(map(len, numbers)) > 4:
        return Day(None, "read.unread.date_unreadable")
    long = [number for number in numbers if len(number) == 4]
    if len(numbers) == 1:
        if long:
            return _coarse(_real(int(long[0]), months[0], 1), "month", allowed=coarse)
        return _without_year(months[0], int(numbers[0]), today, year)
    own, day = (numbers[0], numbers[1]) if numbers[0] in long else (numbers[1], numbers[0])
    if len(own) not in (2, 4) or len(day) > 2:
        return Day(None, "read.unread.date_unreadable")
    return _kept(_real(_full_year(own) or 0, months[0], int(day)))


def _without_year(month: int, day: int, today: date, year: int | None) -> Day:
    """Take the year given, else the last time this day came round."""
    years: Iterator[int] = iter([year] if year else range(today.year, today.year - 9, -1))
    for tried in years:
        found = _real(tried, month, day)
        if found and (year or found <= today):
            return Day(found, "read.changed.date_year_assumed")
    return Day(None, "read.unread.date_unreadable")


def _coarse(day: date | None, what: str, *, allowed: bool) -> Day:
    if not allowed or day is None:
        return Day(None, "read.unread.date_no_day")
    found = _kept(day)
    return Day(found.day, found.code or f"read.changed.date_{what}_only")


def _real(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _kept(day: date | None) -> Day:
    if day is None:
        return Day(None, "read.unread.date_unreadable")
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        return Day(None, "read.unread.date_far_off")
    return Day(day)
