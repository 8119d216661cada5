"""How are things counted? Shoes and nails in singles, wear in thousandths, sizes as text."""

import re
from enum import StrEnum

THOUSAND = 1_000


class Foot(StrEnum):
    """The four feet in the order people name them."""

    LF = "LF"
    RF = "RF"
    LH = "LH"
    RH = "RH"

    @property
    def front(self) -> bool:
        """Whether this is a front foot."""
        return self in (Foot.LF, Foot.RF)


class FootWork(StrEnum):
    """What was done to one foot."""

    NEW = "new"
    RESET = "reset"
    TRIM = "trim"
    PULLED = "pulled"
    NONE = "none"
    NOT_DONE = "not_done"

    @property
    def shod(self) -> bool:
        """Whether a shoe was nailed on."""
        return self in (FootWork.NEW, FootWork.RESET)

    @property
    def worked(self) -> bool:
        """Whether the foot was worked on at all."""
        return self not in (FootWork.NONE, FootWork.NOT_DONE)


_ZEROS = re.compile(r"0+")
_NUMBER = re.compile(r"(?P<whole>\d+)(?P<rest>.*)")


def size_key(text: str) -> str:
    """Give the key a shoe size sorts by: 000 before 00 before 0 before 1 before 10.

    Sizes are text, and 000, 00 and 0 are three sizes. Common practice of the trade: each further
    zero is one size smaller.
    Source: docs/rules/stock.md#sizes
    """
    size = text.strip().upper()
    if _ZEROS.fullmatch(size):
        return f"1:{9 - min(len(size), 9)}"
    found = _NUMBER.fullmatch(size)
    if found and not size.startswith("0"):
        return f"2:{int(found['whole']):06d}:{found['rest']}"
    return f"3:{size}"
