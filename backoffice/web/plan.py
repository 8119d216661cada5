"""Planning: which horses are due, and putting the horses of a yard on a day."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from flask import Blueprint, request, url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries as clients
from backoffice.clients.rules import horse_label, yard_label
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.pricing import queries as pricing
from backoffice.visits import queries, service
from backoffice.visits.queries import DueHorse, ToRebook
from backoffice.web.caller import caller
from backoffice.web.forms import DayField, Form, SelectId, TickField, refuse
from backoffice.web.roles import allow
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("plan", __name__)

AHEAD = timedelta(days=14)


class StopForm(Form):
    """Horses of a yard put on a farrier's day."""

    day = DayField("On which day", needed=True)
    farrier = SelectId("Who goes", needed=True)


class HorseForm(Form):
    """One horse of the yard: does it come along, and for what."""

    tick = TickField("Put on the day")
    service = SelectId("What is planned", unknown="as planned for next time")


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """A horse that is due, as it is read."""

    horse_id: int
    name: str
    due_day: date | None
    late: bool
    last_day: date | None
    service: str
    missed: date | None = None
    planned_day: date | None = None
    to_finish: bool = False
    form: HorseForm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DueYard:
    """A yard and its horses that are due."""

    yard_id: int | None
    name: str
    horses: tuple[DueLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPage:
    """Who is due within two weeks, by yard."""

    today: date
    until: date
    missed: tuple[ToRebook, ...]
    yards: tuple[DueYard, ...]
    choices: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardPlanPage:
    """The horses of one yard, to be put on a day."""

    yard: DueYard
    form: StopForm


@pages.get("/plan")
@allow("owner", "field")
def show() -> Response:
    """Show who is due, by yard; with a yard chosen, its horses to put on a day."""
    chosen = request.args.get("yard", "")
    if chosen.isdecimal() and len(chosen) < 16:
        return _yard(int(chosen))
    today = caller().today
    with reading() as session:
        due = queries.due_list(session, today + AHEAD)
        missed = queries.to_rebook(session, today)
        choices = clients.yard_choices(session, caller().speech)
    return render(
        "plan/show.html",
        PlanPage(
            today=today,
            until=today + AHEAD,
            missed=tuple(horse for horse in missed if horse.yard_id is not None),
            yards=_by_yard(due),
            choices=choices,
        ),
    )


def _by_yard(due: Sequence[DueHorse]) -> tuple[DueYard, ...]:
    yards: dict[int | None, list[DueHorse]] = {}
    for horse in due:
        yards.setdefault(horse.yard_id, []).append(horse)
    return tuple(
        DueYard(
            yard_id=yard_id,
            name=yard_label(caller().speech, horses[0].yard_name),
            horses=tuple(_line(horse) for horse in horses),
        )
        for yard_id, horses in yards.items()
    )


def _line(
    horse: DueHorse,
    form: HorseForm | None = None,
    missed: date | None = None,
    *,
    to_finish: bool = False,
) -> DueLine:
    speech = caller().speech
    return DueLine(
        horse_id=horse.horse_id,
        name=horse_label(speech, horse.name, horse.words),
        due_day=horse.due_day,
        late=horse.due_day is not None and horse.due_day < caller().today,
        last_day=horse.last_day,
        service=horse.service_name or speech.say("unknown"),
        missed=missed,
        planned_day=horse.planned_day,
        to_finish=to_finish,
        form=form,
    )


def _yard(yard_id: int, form: StopForm | None = None, status: int = 200) -> Response:
    sent = request.form if form is not None else None
    with reading() as session:
        card = clients.yard_card(session, yard_id, caller().today)
        due = queries.due_list(session, caller().today, yard_id)
        missed = {one.horse_id: one.day for one in queries.to_rebook(session, caller().today)}
        begun = {one.horse_id for one in queries.to_finish(session)}
        farriers = [(row.id, row.name) for row in practice.farriers(session)]
        services = [(row.id, row.name) for row in pricing.services(session)]
    asked = request.args.get("horse", "")
    if form is None:
        first = farriers[0][0] if farriers else None
        form = StopForm(data={"day": caller().today + timedelta(days=1), "farrier": first})
    form.farrier.offer(farriers)
    lines = []
    for horse in sorted(due, key=lambda horse: horse.horse_id not in missed):
        waits = horse.planned_day is None and horse.horse_id not in begun
        ticked = (waits and _is_due(horse)) or asked == str(horse.horse_id)
        line = HorseForm(formdata=sent, prefix=f"h{horse.horse_id}-", data={"tick": ticked})
        line.service.offer(services)
        to_finish = horse.horse_id in begun
        lines.append(_line(horse, line, missed.get(horse.horse_id), to_finish=to_finish))
    name = yard_label(caller().speech, card.details.name)
    page = YardPlanPage(yard=DueYard(yard_id=yard_id, name=name, horses=tuple(lines)), form=form)
    return render("plan/yard.html", page, status=status)


def _is_due(horse: DueHorse) -> bool:
    return horse.due_day is not None and horse.due_day <= caller().today + AHEAD


@pages.post("/plan/<int:yard_id>")
@allow("owner", "field")
def put(yard_id: int) -> Response:
    """Put the ticked horses of a yard on a day."""
    form = StopForm.typed()
    with reading() as session:
        due = queries.due_list(session, caller().today, yard_id)
        form.farrier.offer([(row.id, row.name) for row in practice.farriers(session)])
        services = [(row.id, row.name) for row in pricing.services(session)]
    ticked: dict[int, int | None] = {}
    for horse in due:
        line = HorseForm(formdata=request.form, prefix=f"h{horse.horse_id}-")
        line.service.offer(services)
        if line.tick.data and line.validate():
            ticked[horse.horse_id] = line.service.data
    if not form.validate() or form.day.data is None or form.farrier.data is None:
        return _yard(yard_id, form, 422)
    stop = service.NewStop(
        farrier_id=form.farrier.data,
        yard_id=yard_id,
        day=form.day.data,
        horses=tuple(ticked),
        services=ticked,
    )
    try:
        with writing() as unit:
            service.plan_stop(unit.session, stop, today=caller().today)
            unit.see_other(url_for("today.day", day=form.day.data))
    except Refused as refused:
        refuse(form, refused)
        return _yard(yard_id, form, 409)
    flash("plan.put", horses=len(ticked), on_day=form.day.data)
    return see_other(unit)
