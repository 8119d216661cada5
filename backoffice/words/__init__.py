"""What is it called where this farrier works? Codes become sentences, in the words chosen.

Rows store a code and its facts, never a sentence, so a bill or a page can follow the practice's
words. Each module here holds the sentences of one capability: ``US`` complete, ``UK`` only where
the words differ. ``{horses:horse|horses}`` picks by number; a fact ending in ``_cents`` is shown
as money, one ending in ``_day`` as a date, ``foot`` by its name.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from string import Formatter

from babel.dates import format_date
from babel.numbers import format_currency

from backoffice.money import plain
from backoffice.words import (
    billing,
    books,
    bringing,
    clients,
    common,
    evening,
    interchange,
    pages,
    pages_records,
    pages_shelf,
    planning,
    practice,
    pricing,
    reports,
    said,
    sheet,
    stock,
    taking_out,
    tools,
    visits,
    web,
)

_PARTS = (
    common, practice, clients, stock, tools, pricing, visits, billing, books, planning, reports,
    web, pages, pages_records, pages_shelf, sheet, said, evening,
    taking_out, bringing, interchange,
)  # fmt: skip
US: dict[str, str] = {}
UK: dict[str, str] = {}
for _part in _PARTS:
    US |= _part.US
    UK |= _part.US | _part.UK
CATALOGUE = {"us": US, "uk": UK}
_LOCALE = {"us": "en_US", "uk": "en_GB"}
_SHORT = {"us": "EEE, MMM d, y", "uk": "EEE d MMM y"}
_LONG = {"us": "EEEE, MMMM d, y", "uk": "EEEE d MMMM y"}


class _Sentence(Formatter):
    def format_field(self, value: object, format_spec: str) -> str:
        if "|" in format_spec:
            one, many = format_spec.split("|", 1)
            return one if value in (1, -1) else many
        return str(super().format_field(value, format_spec))


@lru_cache(maxsize=4_096)
def _money(cents: int, currency: str, words: str) -> str:
    return format_currency(Decimal(plain(cents, currency)), currency, locale=_LOCALE[words])


@lru_cache(maxsize=4_096)
def _date(day: date, pattern: str, words: str) -> str:
    return format_date(day, pattern, locale=_LOCALE[words])


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech:
    """The words, money and dates of one practice or one client."""

    words: str = "us"
    currency: str = "USD"

    def say(self, code: str, **facts: object) -> str:
        """Word a code with its facts; an unknown code is a mistake of ours and raises KeyError."""
        said = {name: self._fact(name, value) for name, value in facts.items()}
        return _Sentence().vformat(CATALOGUE[self.words][code], (), said)

    def money(self, cents: int) -> str:
        """Write an amount with its currency sign, ``$1,234.50``."""
        return _money(cents, self.currency, self.words)

    def day(self, day: date) -> str:
        """Write a date as short as can be read, ``Tue, Mar 17, 2026``."""
        return _date(day, _SHORT[self.words], self.words)

    def long_day(self, day: date) -> str:
        """Write a date in full, ``Tuesday, March 17, 2026``."""
        return _date(day, _LONG[self.words], self.words)

    def foot(self, foot: str) -> str:
        """Name a foot the way this practice does, ``LF`` or ``NF``."""
        return self.say(f"foot.{foot}")

    def _fact(self, name: str, value: object) -> object:
        if name.endswith("_cents") and isinstance(value, int):
            return self.money(value)
        if name.endswith("_day") and isinstance(value, date):
            return self.day(value)
        if name.endswith("_day") and isinstance(value, str):
            return self.day(date.fromisoformat(value))
        if name == "foot":
            return self.foot(str(value))
        return value
