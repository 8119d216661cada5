"""What does one cell say? Text, amounts, counts and phone numbers as people type them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import Value
from backoffice.money import LARGEST, MINOR_UNITS

_NOTHING = frozenset({
    "", "-", "--", "---", "–", "—", ".", "/", "?", "??", "???", "n/a", "na", "none", "tbd", "tba",
    "unknown", "not known", "nicht bekannt", "unbekannt", "inconnu", "x?", "#n/a", "nil",
})  # fmt: skip
YES = frozenset({
    "yes", "y", "x", "ok", "paid", "full", "in full", "all", "done", "✓", "✔", "true", "ja", "j",
    "bezahlt", "oui", "o", "paye", "si", "pagado", "betaald",
})  # fmt: skip
NO = frozenset({
    "no", "n", "not paid", "unpaid", "open", "owes", "false", "nein", "offen", "non", "impaye",
    "nee", "niet betaald",
})  # fmt: skip
_SIGNS = re.compile(
    r"(?i:usd|gbp|eur|chf|cad|aud|nzd|zar|sek|nok|dkk|pln|czk|kr\.?|us\$|zł)|[$£€¥]"
)
_DIGITS = re.compile(
    r"(?P<sign>[-−(]?)\s*(?P<digits>\d[\d.,'’ \u00a0\u202f]*)(?P<rest>.*)", re.DOTALL
)
_ROUND_END = re.compile(r"[.,][-–—]+$")
_HALVES = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
_TERM = re.compile(
    r"(?:(?P<whole>\d+)\s+)?(?P<top>\d+)/(?P<bottom>\d+)|(?P<plain>\d+(?:[.,]\d+)?)"
    r"|(?P<word>half|halbe?|demi|medio|media|one|a)\b"
)
UNITS = {
    "box": {"box", "boxes", "bx", "pack", "packs", "packet", "pkt", "carton", "schachtel", "karton",
            "boite", "boites", "caja", "cajas", "doos", "dozen"},
    "pair": {"pair", "pairs", "pr", "prs", "paar", "paire", "paires", "par", "pares", "set of 2"},
    "single": {"single", "singles", "each", "ea", "pc", "pcs", "piece", "pieces", "stuck", "stk",
               "st", "shoe", "shoes", "nail", "nails", "piece(s)", "unidad", "loose", "odd"},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount in minor units as read; ``code`` says what was left out, or why there is none."""

    cents: int | None
    code: str = ""


def plain_text(value: Value) -> str:
    """Give a cell as one line of text: without double blanks, whole numbers without a point."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    if isinstance(value, date):
        return value.isoformat()[:10]
    kept = "".join(c for c in str("" if value is None else value) if c.isprintable() or c.isspace())
    return " ".join(kept.split())


def said(value: Value) -> str | None:
    """Give the text of a cell, or None where it says nothing: empty, a dash, a question mark."""
    text = plain_text(value)
    return None if text.casefold() in _NOTHING else text


def read_amount(value: Value, currency: str) -> Amount:
    """Read an amount: 120, ``$120``, ``1,250.00``, ``1.250,00``, ``120.-``, ``€ 58,50``.

    One point or comma before exactly three digits parts thousands, unless the currency has three
    decimals. Words after the number are left out and said; a rate (``1.50/mi``), an amount below
    nothing and an absurdly large one are no amounts.

    Units: minor units of the currency (ISO 4217).
    Rounding: half up; only a number that carries more decimals than the currency needs it.
    Source: docs/rules/interchange.md#amounts
    """
    if isinstance(value, bool | date):
        return Amount(None, "read.unread.amount_unreadable")
    if isinstance(value, int | float):
        text, rest = repr(value), ""
        if not re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", text):
            return Amount(None, "read.unread.amount_unreadable")
        return _minor(Decimal(text), currency, "")
    text = _ROUND_END.sub("", _SIGNS.sub("", said(value) or "").strip()).strip().lstrip("+ ")
    found = _DIGITS.fullmatch(text)
    if found is None or not text.replace("−", "-").strip().startswith(tuple("0123456789-(")):
        return Amount(None, "read.unread.amount_unreadable")
    rest = _ROUND_END.sub("", found["rest"].strip()).strip(" .-)–")
    if rest.startswith(("/", "%")) or search_key(rest).startswith(("per ", "pro ", "par ")):
        return Amount(None, "read.unread.amount_is_a_rate")
    digits = re.sub(r"['’\s]", "", found["digits"]).strip(".,")
    number = _decimal(digits, currency)
    if number is None:
        return Amount(None, "read.unread.amount_unreadable")
    code = "read.changed.amount_rest" if rest else ""
    return _minor(-number if found["sign"] else number, currency, code)


def _decimal(digits: str, currency: str) -> Decimal | None:
    """Tell the decimal sign from the one that parts thousands."""
    if not re.fullmatch(r"[\d.,]{1,30}", digits, re.ASCII):
        return None
    last = max(digits.rfind("."), digits.rfind(","))
    if last < 0:
        return Decimal(digits)
    sign, whole, minor = digits[last], digits[:last], digits[last + 1 :]
    other = "," if sign == "." else "."
    thousands = len(minor) == 3 and MINOR_UNITS[currency] != 3 and other not in whole
    if sign in whole or thousands:
        groups = re.split(r"[.,]", digits)
        fits = len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
        return Decimal("".join(groups)) if fits and other not in digits else None
    groups = whole.split(other)
    if len(groups) > 1 and (len(groups[0]) > 3 or any(len(group) != 3 for group in groups[1:])):
        return None
    return Decimal("".join(groups) + "." + minor) if groups != [""] else None


def _minor(number: Decimal, currency: str, code: str) -> Amount:
    if number < 0:
        return Amount(None, "read.unread.amount_below_nothing")
    if number.adjusted() > 12:
        return Amount(None, "read.unread.amount_too_large")
    exact = number.scaleb(MINOR_UNITS[currency])
    cents = int(exact.to_integral_value(ROUND_HALF_UP))
    if cents > LARGEST:
        return Amount(None, "read.unread.amount_too_large")
    return Amount(cents, code or ("read.changed.amount_rounded" if cents != exact else ""))


def read_count(value: Value) -> tuple[tuple[Fraction, str], ...] | None:
    """Read a quantity as terms of a number and its unit: ``1 1/2 box``, ``4 pairs + 1``, 0.25.

    Units: ``box``, ``pair``, ``single`` or nothing, as it is written beside the number.
    Source: docs/rules/interchange.md#counts
    """
    if isinstance(value, bool | date) or value is None:
        return None
    if isinstance(value, int | float):
        text = repr(value)
        return ((Fraction(text), ""),) if re.fullmatch(r"\d{1,9}(\.\d{1,6})?", text) else None
    for sign, words in _HALVES.items():
        value = value.replace(sign, words)
    text = search_key(value)
    terms = []
    for part in re.split(r"\+|,(?!\d)|\band\b|\bund\b|\bet\b|\by\b", text):
        found = _TERM.match(part.strip())
        if found is None or len(part) > 40:
            return None
        number = _number(found)
        unit = _unit(part.strip()[found.end() :])
        if number is None or unit is None:
            return None
        terms.append((number, unit))
    return tuple(terms) or None


def _number(found: re.Match[str]) -> Fraction | None:
    if found["bottom"]:
        if int(found["bottom"]) == 0:
            return None
        return int(found["whole"] or 0) + Fraction(int(found["top"]), int(found["bottom"]))
    if found["word"]:
        return Fraction(1) if found["word"] in ("one", "a") else Fraction(1, 2)
    return Fraction(found["plain"].replace(",", "."))


def _unit(rest: str) -> str | None:
    word = rest.strip(" .()").removeprefix("a ").removeprefix("of ").strip()
    if not word:
        return ""
    return next((unit for unit, words in UNITS.items() if word in words), None)


def unit_in(text: str) -> str:
    """Give the unit a text speaks of (``box``, ``pair``, ``single``), or nothing."""
    words = set(re.findall(r"[^\W\d_]+", search_key(text)))
    found = [unit for unit, names in UNITS.items() if words & names]
    if len(found) > 1 and "single" in found:
        found.remove("single")  # "shoes in pairs" speaks of pairs
    return found[0] if len(found) == 1 else ""


def pack_in(text: str) -> int | None:
    """Give how many singles a pack holds by its words: ``box of 10 pr`` is 20, ``box 250`` is 250.

    Units: singles; a pair is two.
    Source: docs/rules/interchange.md#counts
    """
    found = re.search(r"(\d{1,5})\s*([^\W\d_]+)?", search_key(text))
    if found is None:
        return 2 if unit_in(text) == "pair" else None
    each = 2 if unit_in(found[2] or "") == "pair" else 1
    return int(found[1]) * each or None


def lost_zero(numbers: Iterable[Value]) -> bool:
    """Say whether the numbers of a column are dialled with a 0 first, which numbers cannot keep.

    That is so where those written as text begin with one 0.
    Source: docs/rules/interchange.md#phone-numbers
    """
    texts = [re.sub(r"\D", "", one) for one in numbers if isinstance(one, str) and "+" not in one]
    dialled = [digits for digits in texts if len(digits) >= 7]
    zeros = [digits for digits in dialled if re.match(r"0[1-9]", digits)]
    return bool(zeros) and len(zeros) == len(dialled)


def read_phone(value: Value, *, zero: bool) -> tuple[str | None, str]:
    """Read a phone number as text, and say with a code what was put right.

    Source: docs/rules/interchange.md#phone-numbers
    """
    text = said(value)
    if text is None:
        return None, ""
    if isinstance(value, int | float):
        if not re.fullmatch(r"\d{5,15}", text):
            return None, "read.unread.phone_unreadable"
        return ("0" + text, "read.changed.phone_zero") if zero else (text, "")
    return text, ""
