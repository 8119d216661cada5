"""The load list: what a truck takes along on a day, what is missing, and where others are."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from backoffice.clients.rules import horse_label
from backoffice.planning import queries
from backoffice.planning.queries import LoadLine, LoadList
from backoffice.web.caller import caller
from backoffice.web.generic import Link
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.stock import in_words
from backoffice.web.writing import reading

pages = Blueprint("load", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """An item on the list, in words: what is needed, what is there, what is missing, where else."""

    item_id: int
    name: str
    need: str
    here: str
    short: str
    elsewhere: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """A horse of which something is not known yet."""

    work_id: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A truck whose list may be looked at."""

    link: Link
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPage:
    """What a truck takes along on a day."""

    day: date
    place: str
    under: str
    written_up: bool
    views: tuple[View, ...]
    unfinished: tuple[tuple[date, str], ...]
    things: tuple[Thing, ...]
    short: int
    elsewhere: bool
    open: tuple[Open, ...]
    odd: tuple[Thing, ...]
    none_along: tuple[Thing, ...]


@pages.get("/day/<day:day>/load")
@allow("owner", "field")
def show(day: date) -> Response:
    """Show what to load for a day; ``truck`` chooses another than that of the first stop."""
    chosen = request.args.get("truck", "")
    truck = int(chosen) if chosen.isdecimal() and len(chosen) < 16 else None
    with reading() as session:
        found = queries.load_list(session, day, truck)
    return render("load/show.html", _page(found))


def _page(found: LoadList) -> LoadPage:
    speech = caller().speech
    under = speech.say("planning.nobody")
    if found.horses:
        under = speech.say("planning.whole_day", horses=found.horses, stops=found.stops)
    elif found.written_up:
        under = speech.say("planning.written_up")
    return LoadPage(
        day=found.day,
        place=found.place.name,
        under=under,
        written_up=found.written_up,
        views=tuple(
            View(
                link=Link(url=url_for("load.show", day=found.day, truck=truck.id), text=truck.name),
                here=truck.id == found.place.id,
            )
            for truck in found.trucks
        ),
        unfinished=tuple(
            (day, speech.say("planning.not_finished", long=speech.long_day(day)))
            for day in found.unfinished
        ),
        things=_things(found.lines),
        short=sum(bool(line.short) for line in found.lines),
        elsewhere=any(line.short != 0 or line.elsewhere for line in found.lines),
        open=tuple(
            Open(
                work_id=horse.work_id,
                says=speech.say(
                    f"planning.unknown.{horse.what}",
                    name=horse_label(speech, horse.name, horse.words),
                ),
            )
            for horse in found.not_known
        ),
        odd=_things(found.odd),
        none_along=_things(found.none_along),
    )


def _things(lines: Iterable[LoadLine]) -> tuple[Thing, ...]:
    """Word the lines, what is missing first."""
    return tuple(_thing(line) for line in sorted(lines, key=lambda line: not line.short))


def _thing(line: LoadLine) -> Thing:
    say, item = caller().speech.say, line.item

    def says(qty: int) -> str:
        return in_words(qty, item.pack, item.sort)

    others = ", ".join(
        say("planning.elsewhere", place=place, says=says(qty)) for place, qty in line.elsewhere
    )
    missing = line.short or line.short is None
    return Thing(
        item_id=item.id,
        name=item.label,
        need=says(line.need),
        here=say("planning.truck_not_counted") if line.here is None else says(line.here),
        short=say("planning.short", says=says(line.short)) if line.short else "",
        elsewhere=others or (say("planning.nowhere") if missing else ""),
    )
