"""What day is it, for a business? Calendar dates, never moments."""

from datetime import date

from backoffice.errors import Refused

FIRST_YEAR = 1990
LAST_YEAR = 2100


def parse_day(text: str) -> date:
    """Read a date written YYYY-MM-DD, as date fields send it.

    Raises: Refused if it is no date or its year is far off.
    """
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise Refused("day.unreadable", typed=text) from None
    return sensible(day)


def sensible(day: date) -> date:
    """Give the day back unless its year cannot be meant.

    Raises: Refused before 1990 and after 2100.
    """
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise Refused("day.far_off", year=day.year)
    return day
