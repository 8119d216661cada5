"""The day: its stops and horses, what is said about each, and done for the day."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from backoffice.billing import service as billing
from backoffice.clients.rules import horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.tools import queries as tools
from backoffice.visits import queries, service
from backoffice.visits.queries import DayPage, DayWork
from backoffice.visits.rules import FactSort, Said
from backoffice.web import waiting
from backoffice.web.caller import caller
from backoffice.web.feet import FootDrawn, drawn
from backoffice.web.forms import CreatesForm, Form, new_key, refuse
from backoffice.web.free import frees
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.waiting import Lists
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("today", __name__)


WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfinished:
    """A day before that is not written up, in words."""

    day: date
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StandNote:
    """A stand to be looked at: before the next horse, or before it is used at all."""

    tool_id: int
    stop: bool
    says: str
    form_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TodayPage:
    """A day as it is worked through. ``fact_keys`` makes each tap count once.

    By their horse records: ``free`` says under which guarantee a lost shoe costs nothing,
    ``silent`` has those the rest may be said of, ``asking`` what is still to be said of others.
    """

    day: DayPage
    today: date
    open_days: tuple[Unfinished, ...]
    stands: tuple[StandNote, ...]
    lists: Lists
    names: Mapping[int, str]
    feet: Mapping[int, tuple[FootDrawn, ...]]
    fact_keys: Mapping[int, str]
    free: Mapping[int, str]
    silent: tuple[int, ...]
    asking: Mapping[int, str]
    form: Form

    @property
    def before(self) -> date:
        """The day before."""
        return self.day.day - timedelta(days=1)

    @property
    def after(self) -> date:
        """The day after."""
        return self.day.day + timedelta(days=1)


class DoneForm(CreatesForm):
    """Done for the day."""


@pages.get("/")
@allow("owner", "field", "books")
def show() -> Response:
    """Show today."""
    return _show(caller().today)


@pages.get("/day/<day:day>")
@allow("owner", "field", "books")
def day(day: date) -> Response:
    """Show any day."""
    return _show(day)


def _show(day: date, form: Form | None = None, status: int = 200) -> Response:
    speech, today = caller().speech, caller().today
    with reading() as session:
        page = queries.day_page(session, day)
        open_days = queries.open_days(session, today)
        stands = _stands(session) if day == today else ()
        lists = waiting.lists(session) if day == today else waiting.NOTHING
        works = [work for stop in page.stops for work in stop.works]
        lost = [work.id for work in works if work.lost_shoe and not work.closed and not work.told]
        free = frees(session, day, lost)
    return render(
        "today/show.html",
        TodayPage(
            day=page,
            today=today,
            open_days=tuple(_unfinished(one.day) for one in open_days if one.day != day),
            stands=stands,
            lists=lists,
            names={work.id: horse_label(speech, work.name, work.words) for work in works},
            feet={work.id: drawn(work.feet, speech) for work in works},
            fact_keys={work.id: new_key() for work in works},
            free=free,
            silent=tuple(work.id for work in works if _silent(work)),
            asking={
                work.id: speech.say("evening.which_lost", number=work.place_no)
                for work in works
                if _open(work) and work.lost_shoe
            },
            form=form or DoneForm(),
        ),
        status=status,
    )


def _unfinished(day: date) -> Unfinished:
    speech = caller().speech
    if caller().today - day >= WEEK:
        says = speech.say("today.day_not_finished", day=speech.long_day(day))
    else:
        weekday = speech.say(f"weekday.{day.weekday()}")
        says = speech.say("today.not_finished", weekday=weekday)
    return Unfinished(day=day, says=says)


def _stands(session: Session) -> tuple[StandNote, ...]:
    """Say which stands are to be looked at, by what was said since and by how they stand."""
    say, today = caller().speech.say, caller().today
    met = {(fact.data["tool"], fact.data["what"]) for fact in queries.stand_facts(session, today)}
    notes = []
    for tool in tools.tool_list(session, today):
        stop = tool.trouble == "do_not_use" or (tool.id, "fell") in met
        if tool.sort == "stand" and (stop or tool.trouble or (tool.id, "slipped") in met):
            says = say("today.stand.fell" if stop else "today.stand.slipped", stand=tool.name)
            note = StandNote(tool_id=tool.id, stop=stop, says=says, form_key=new_key())
            notes.append(note)
    return tuple(notes)


@pages.post("/day/<day:day>/rest-as-planned")
@allow("owner", "field")
def rest_as_planned(day: date) -> Response:
    """Say of every horse nothing was said about yet that it was done as planned.

    One that lost a shoe stays open: which, and whether it was found, is still to be said.
    """
    with writing() as unit:
        page = queries.day_page(unit.session, day)
        for stop in page.stops:
            said = [_as_planned(work, _key(work.id)) for work in stop.works if _silent(work)]
            if said:
                service.say(unit.session, stop.id, said)
        unit.see_other(url_for("today.day", day=day))
    return see_other(unit)


def _silent(work: DayWork) -> bool:
    return _open(work) and not work.lost_shoe


def _open(work: DayWork) -> bool:
    return work.outcome == "planned" and not work.closed


def _key(work_id: int) -> str:
    sent = request.form.get(f"fact-{work_id}", "")
    return f"table-{work_id}-{sent}" if sent.isalnum() and len(sent) <= 64 else new_key()


def _as_planned(work: DayWork, key: str) -> Said:
    return Said(id=key, subject=work.subject, sort=FactSort.AS_PLANNED)


@pages.post("/day/<day:day>/done")
@allow("owner")
@once
def done(day: date) -> Response:
    """Close the day and make its bills ready."""
    form = DoneForm.typed()
    try:
        with writing(*form.key()) as unit:
            closed = billing.close_day(unit.session, day, today=caller().today)
            unit.see_other(url_for("money.index"))
    except Refused as refused:
        refuse(form, refused)
        return _show(day, form, 409)
    flash("today.closed", horses=closed)
    return see_other(unit)
