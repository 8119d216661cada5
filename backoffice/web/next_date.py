"""Before leaving a yard: one next date for its horses, and a notice of it to pin up."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from backoffice.clients.rules import horse_label, yard_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.planning import queries, rules, service
from backoffice.planning.queries import Leaving, LeavingHorse
from backoffice.web.caller import caller
from backoffice.web.forms import DayField, Form, TickField, refuse
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("next_date", __name__)


class NextDateForm(Form):
    """The next date of a yard."""

    day = DayField("Next time here", needed=True)


class TickForm(Form):
    """Whether a horse gets that date."""

    tick = TickField("Gets this date")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A horse of the stop; without a form it cannot be given a date."""

    name: str
    says: str
    form: TickForm | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextDatePage:
    """The horses of a stop, to be given their next date."""

    visit_id: int
    day: date
    yard: str
    form: NextDateForm
    lines: tuple[Line, ...]
    set_before: bool


@pages.get("/day/<day:day>/stop/<int:visit_id>/next-date")
@allow("owner", "field")
def show(day: date, visit_id: int) -> Response:
    """Ask for the next date of the horses of a stop."""
    with reading() as session:
        stop = _stop(session, day, visit_id)
    proposed = stop.day + timedelta(days=stop.days)
    form = NextDateForm(data={"day": proposed})
    return _page(stop, form, _ticks(stop, (proposed - stop.day).days))


def _stop(session: Session, day: date, visit_id: int) -> Leaving:
    stop = queries.leaving(session, visit_id)
    if stop.day != day:
        raise Refused("record.missing")
    return stop


def _ticks(stop: Leaving, days: int | None = None) -> list[TickForm | None]:
    """Give each horse its box: as typed, or before that as its outcome and its cycle have it."""
    return [
        TickForm(
            formdata=request.form if days is None else None,
            prefix=f"h{horse.horse_id}-",
            data={"tick": days and rules.comes_along(horse.outcome, horse.own_days, days)},
        )
        if horse.horse_id is not None
        else None
        for horse in stop.horses
    ]


def _page(
    stop: Leaving, form: NextDateForm, ticks: Sequence[TickForm | None], status: int = 200
) -> Response:
    speech = caller().speech
    page = NextDatePage(
        visit_id=stop.visit_id,
        day=stop.day,
        yard=yard_label(speech, stop.yard_name),
        form=form,
        lines=tuple(
            Line(
                name=horse_label(speech, horse.name, horse.words),
                says=_says(stop, horse),
                form=tick,
            )
            for horse, tick in zip(stop.horses, ticks, strict=True)
        ),
        set_before=any(horse.set_day for horse in stop.horses),
    )
    return render("next_date/show.html", page, status=status)


def _says(stop: Leaving, horse: LeavingHorse) -> str:
    say = caller().speech.say
    if horse.horse_id is None:
        return say("planning.why.nameless")
    if horse.outcome in ("absent", "part"):
        return say(f"planning.why.{horse.outcome}")
    if horse.set_day is not None:
        return say("planning.down_for", set_day=horse.set_day)
    if not rules.comes_along(horse.outcome, horse.own_days, stop.days):
        own_day = rules.own_next_day(stop.day, horse.own_days, horse.usual_days)
        return say("planning.why.own", days=horse.own_days, own_day=own_day)
    return ""


@pages.post("/day/<day:day>/stop/<int:visit_id>/next-date")
@allow("owner", "field")
def set_date(day: date, visit_id: int) -> Response:
    """Set the next date of the ticked horses, and show the notice of it."""
    form = NextDateForm.typed()
    with reading() as session:
        stop = _stop(session, day, visit_id)
    ticks = _ticks(stop)
    ticked = [
        horse.horse_id
        for horse, tick in zip(stop.horses, ticks, strict=True)
        if horse.horse_id is not None and tick is not None and tick.tick.data
    ]
    chosen = form.day.data
    if not form.validate() or chosen is None:
        return _page(stop, form, ticks, 422)
    try:
        with writing() as unit:
            service.set_next_date(unit.session, visit_id, ticked, chosen)
            unit.see_other(url_for("next_date.notice", day=day, visit_id=visit_id))
    except Refused as refused:
        refuse(form, refused)
        return _page(stop, form, ticks, 409)
    return see_other(unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticePage:
    """What is pinned up at a yard: when its horses come round, and no prices."""

    visit_id: int
    day: date
    yard: str
    dates: tuple[tuple[date, tuple[str, ...]], ...]
    practice: str
    phone: str


@pages.get("/day/<day:day>/stop/<int:visit_id>/next-date/notice")
@allow("owner", "field")
def notice(day: date, visit_id: int) -> Response:
    """Show the notice to pin up: the dates set for the horses of a stop."""
    speech, practice = caller().speech, caller().practice
    with reading() as session:
        stop = _stop(session, day, visit_id)
    dates: defaultdict[date, list[str]] = defaultdict(list)
    for horse in stop.horses:
        if horse.set_day is not None:
            dates[horse.set_day].append(horse_label(speech, horse.name, horse.words))
    page = NoticePage(
        visit_id=visit_id,
        day=day,
        yard=yard_label(speech, stop.yard_name),
        dates=tuple((on, tuple(names)) for on, names in sorted(dates.items())),
        practice=practice.name,
        phone=practice.phone,
    )
    return render("next_date/notice.html", page)
