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
    """Sheets to type in; ``here`` is the place of the one the cursor stands in."""

    today: date
    alone: date | None
    sheets: tuple[FarrierSheet, ...]
    here: int
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
    """Draw the page, with what was refused beside what was typed."""
    today, wrote = caller().today, _wrote(alone)
    with reading() as session:
        late = () if alone else visits.open_days(session, today)
        days = [alone] if alone else [*(one.day for one in late[:MOST_DAYS]), today]
        people = practice.farriers(session, "apprentice")
        names = {person.id: person.name for person in people}
        sheets = [sheet for one in days for sheet in sheets_of(session, one, names, trouble, wrote)]
    page = EveningPage(
        today=today,
        alone=alone,
        sheets=tuple(sheets),
        here=_here(sheets, trouble, wrote),
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


def _here(sheets: list[FarrierSheet], trouble: Trouble | None, wrote: Wrote) -> int:
    """Let the cursor stand where something was typed last, else in the first open sheet."""
    last = (trouble.day, trouble.farrier_id) if trouble else (wrote.day, wrote.farrier_id)
    places = [place for place, sheet in enumerate(sheets) if (sheet.day, sheet.farrier_id) == last]
    still_open = [place for place, sheet in enumerate(sheets) if sheet.open]
    return next(iter([*places, *still_open]), 0)
