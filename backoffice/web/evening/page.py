"""The evening page: every day that is not written up, or one day by itself."""

from dataclasses import dataclass
from datetime import date

from flask import request
from werkzeug.wrappers import Response

from backoffice.days import parse_day
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.visits import queries as visits
from backoffice.visits.queries import OpenDay
from backoffice.web.caller import caller
from backoffice.web.evening.blueprint import pages
from backoffice.web.evening.sheets import FarrierSheet, Trouble, Wrote, sheets_of
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading

MOST_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningPage:
    """Sheets to type in; ``here`` is the place of the one the cursor stands in.

    ``said_at`` is the place of the one something was sent for just before.
    """

    today: date
    alone: date | None
    sheets: tuple[FarrierSheet, ...]
    here: int
    said_at: int | None
    later: tuple[OpenDay, ...]


@pages.get("/evening")
@allow("owner", "field")
def show() -> Response:
    """Show every day that is not written up, the oldest first, and today."""
    return show_days(None)


@pages.get("/day/<day:day>/evening")
@allow("owner", "field")
def day(day: date) -> Response:
    """Show one day."""
    return show_days(day)


def show_days(alone: date | None, trouble: Trouble | None = None, status: int = 200) -> Response:
    """Draw the page, with what was refused beside what was typed.

    The cursor stands where something was sent for last, else in the first open sheet.
    """
    today, wrote = caller().today, _wrote(alone)
    with reading() as session:
        late = () if alone else visits.open_days(session, today)
        days = [alone] if alone else [*(one.day for one in late[:MOST_DAYS]), today]
        people = practice.farriers(session, "apprentice")
        names = {person.id: person.name for person in people}
        sheets = [sheet for one in days for sheet in sheets_of(session, one, names, trouble, wrote)]
    last = (trouble.day, trouble.farrier_id) if trouble else (wrote.day, wrote.farrier_id)
    places = [nth for nth, sheet in enumerate(sheets) if (sheet.day, sheet.farrier_id) == last]
    still_open = [nth for nth, sheet in enumerate(sheets) if sheet.open]
    page = EveningPage(
        today=today,
        alone=alone,
        sheets=tuple(sheets),
        here=next(iter([*places, *still_open]), 0),
        said_at=next(iter(places), None),
        later=late[MOST_DAYS:],
    )
    return render("evening/show.html", page, status=status)


def _wrote(alone: date | None) -> Wrote:
    """Read from the address what was written down just before."""
    sent = request.args
    farrier, lines = sent.get("farrier", ""), sent.get("wrote", "")
    try:
        on = parse_day(sent["on"]) if "on" in sent else alone
    except Refused:
        on = alone
    return Wrote(
        day=on,
        farrier_id=int(farrier) if _is_number(farrier) else None,
        lines=frozenset(int(line) for line in lines.split("-") if _is_number(line)),
    )


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= 15
