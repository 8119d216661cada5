"""How is money counted? In whole minor units (cents, pence), rounded one way, split to the cent."""

import re
from collections.abc import Sequence

from backoffice.errors import Refused

# ISO 4217, the minor units of the currencies a practice may choose.
MINOR_UNITS = {
    "AUD": 2, "CAD": 2, "CHF": 2, "CZK": 2, "DKK": 2, "EUR": 2, "GBP": 2, "HUF": 2, "ISK": 0,
    "JPY": 0, "KRW": 0, "KWD": 3, "BHD": 3, "TND": 3, "NOK": 2, "NZD": 2, "PLN": 2, "SEK": 2,
    "USD": 2, "ZAR": 2, "CLF": 4,
}  # fmt: skip

PPM = 1_000_000
LARGEST = 10_000_000_000  # no practice writes a bill beyond this; a slipped finger does


def half_up(numerator: int, denominator: int) -> int:
    """Divide two whole numbers, ties away from zero.

    Rounding: half up on the magnitude, as EN 16931 rounds amounts (2.5 -> 3, -2.5 -> -3).
    Source: docs/rules/money.md#half-up
    """
    if denominator <= 0:
        raise ValueError("the denominator is positive")
    sign = -1 if numerator < 0 else 1
    return sign * ((2 * abs(numerator) + denominator) // (2 * denominator))


def apply_rate(cents: int, rate_ppm: int) -> int:
    """Take a rate in parts per million of an amount.

    Units: minor units in and out; 7.125 % is 71,250 ppm.
    Rounding: half up on the magnitude.
    Source: docs/rules/money.md#rates
    """
    return half_up(cents * rate_ppm, PPM)


def split(whole: int, parts: Sequence[int]) -> tuple[int, ...]:
    """Split an amount over integer parts so that the shares sum to the whole.

    Units: minor units; ``parts`` are weights (1:1:1, 60:40) in named order, at least one above 0.
    Rounding: floors of the magnitude, then one unit each in the order named, weights of 0 get
    none.
    Source: docs/rules/money.md#splits
    """
    total = sum(parts)
    if total <= 0 or min(parts) < 0:
        raise Refused("shares.make_nothing")
    sign = -1 if whole < 0 else 1
    shares = [abs(whole) * part // total for part in parts]
    left = abs(whole) - sum(shares)
    for place, part in enumerate(parts):
        if part and left:
            shares[place] += 1
            left -= 1
    return tuple(sign * share for share in shares)


_AMOUNT = re.compile(r"(?P<sign>-?)(?P<whole>\d{1,3}(?:,\d{3})+|\d+)?(?:\.(?P<minor>\d*))?")


def parse_money(text: str, currency: str) -> int:
    """Read an amount as people type it: ``120``, ``1,234.50``, ``$58``.

    Units: minor units of the currency (ISO 4217).
    Raises: Refused if it is no amount, has more decimals than the currency, or is absurdly large.
    Source: docs/rules/money.md#reading-an-amount
    """
    typed = text.strip().lstrip("$£€").replace("\u2212", "-").strip()
    found = _AMOUNT.fullmatch(typed)
    if found is None or not (found["whole"] or found["minor"]) or not typed.isascii():
        raise Refused("money.unreadable", typed=text)
    decimals = MINOR_UNITS[currency]
    minor = found["minor"] or ""
    if len(minor) > decimals:
        raise Refused("money.too_many_decimals", typed=text, decimals=decimals)
    digits = (found["whole"] or "0").replace(",", "") + minor.ljust(decimals, "0")
    cents = int(digits[:20]) if len(digits) <= 20 else LARGEST + 1
    if cents > LARGEST:
        raise Refused("money.too_large", typed=text)
    return -cents if found["sign"] else cents


def plain(cents: int, currency: str) -> str:
    """Write an amount as a plain decimal, ``1234.50``, for fields and files.

    Source: docs/rules/money.md#reading-an-amount
    """
    decimals = MINOR_UNITS[currency]
    sign = "-" if cents < 0 else ""
    digits = str(abs(cents)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}" if decimals else sign + digits
