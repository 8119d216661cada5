"""The answers the lists ask for: when a horse is finished, and whether what came late counts."""

from dataclasses import dataclass
from datetime import date, timedelta

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.billing import service as billing
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.visits import queries, service
from backoffice.visits.queries import WorkCard
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, CreatesForm, DayField, TextField, refuse
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.telling import card_of, name_of, naming_bills
from backoffice.web.writing import reading, see_other, writing

SATURDAY = 5


class FinishForm(CreatesForm):
    """The day a horse done in part is finished."""

    day = DayField("On which day", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishPage:
    """A horse done in part, and its two answers."""

    card: WorkCard
    name: str
    feet: str
    wanted: date
    form: FinishForm


def next_working_day(today: date) -> date:
    """Give tomorrow, or Monday from a Friday on."""
    day = today + timedelta(days=1)
    while day.weekday() >= SATURDAY:
        day += timedelta(days=1)
    return day


@pages.get("/horse-record/<int:work_id>/finish")
@allow("owner", "field")
def finish(work_id: int) -> Response:
    """Ask for the day a horse done in part is finished."""
    return _finish_page(work_id, FinishForm(data={"day": next_working_day(caller().today)}))


def _finish_page(work_id: int, form: FinishForm, status: int = 200) -> Response:
    speech = caller().speech
    with reading() as session:
        card = card_of(session, work_id)
        days = practice.settings(session)["finish_days"]
    left = [speech.foot(line.foot) for line in card.work.feet if line.done == "not_done"]
    page = FinishPage(
        card=card,
        name=name_of(card),
        feet=", ".join(left),
        wanted=card.day + timedelta(days=days),
        form=form,
    )
    return render("visits/finish.html", page, status=status)


@pages.post("/horse-record/<int:work_id>/finish")
@allow("owner", "field")
@once
def plan_finish(work_id: int) -> Response:
    """Put the finish of a horse on a day."""
    form = FinishForm.typed()
    if not form.validate() or form.day.data is None:
        return _finish_page(work_id, form, 422)
    day = form.day.data
    try:
        with writing(*form.key()) as unit:
            service.plan_finish(unit.session, work_id, day, today=caller().today)
            unit.see_other(url_for("today.day", day=day))
    except Refused as refused:
        if refused.code == "record.missing":
            raise
        refuse(form, refused)
        return _finish_page(work_id, form, 409)
    flash("visits.finish_planned", on_day=day)
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/unfinished")
@allow("owner")
@once
def leave_unfinished(work_id: int) -> Response:
    """Let a horse done in part stay as it is."""
    with writing(*CreatesForm.typed().key()) as unit:
        card_of(unit.session, work_id)
        service.leave_unfinished(unit.session, work_id)
        unit.see_other(url_for("visits.work", work_id=work_id))
    return see_other(unit)


class LateForm(CreatesForm):
    """Whether what was said late about a horse, or about the stop itself, counts."""

    subject = TextField("subject")
    what = ChoiceField(
        "What", [("apply", "{visits.late.apply}"), ("drop", "{visits.late.drop}")], needed=True
    )


@pages.post("/stop/<int:visit_id>/late")
@allow("owner")
@once
def late(visit_id: int) -> Response:
    """Take in what was said late, or leave everything as it is."""
    form = LateForm.typed()
    if not form.validate():
        raise Refused("choice.unknown")
    subject = form.subject.data or ""
    with writing(*form.key()) as unit:
        if visit_id not in queries.visits_of(unit.session, [visit_id]):
            raise Refused("record.missing")
        if form.what.data == "apply":
            with naming_bills(unit.session):
                billing.apply_late(unit.session, visit_id, subject, today=caller().today)
        else:
            service.drop_late(unit.session, visit_id, subject)
        unit.see_other(url_for("today.show", _anchor="to-find-out"))
    flash(f"visits.late.{form.what.data}_done")
    return see_other(unit)
