"""The end of the evening: the rest as planned, and done for the day."""

from datetime import date

from flask import request
from werkzeug.wrappers import Response

from backoffice.billing import service as billing
from backoffice.clients.rules import horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.visits import queries as visits
from backoffice.visits.service.entering import rest_as_planned
from backoffice.web.caller import caller
from backoffice.web.evening.blueprint import pages
from backoffice.web.evening.entering import again, back, farrier_of
from backoffice.web.evening.sheets import SheetForm, Trouble
from backoffice.web.evening.wording import which_lost
from backoffice.web.forms import new_key, sent_key
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash
from backoffice.web.writing import see_other, writing


@pages.post("/day/<day:day>/evening/rest-as-planned")
@allow("owner", "field")
def rest(day: date) -> Response:
    """Say of every horse nothing was said about that it was done as planned."""
    farrier_id = farrier_of(SheetForm.typed())
    sent = request.form.get("fact", "")
    key = sent if sent.isalnum() and len(sent) <= 64 else new_key()
    with writing() as unit:
        horses = rest_as_planned(unit.session, day, farrier_id, key=key)
        still = _still_open(unit.session, day, farrier_id)
        unit.see_other(back(day, farrier_id))
    flash("evening.rest_written", horses=horses, still=still)
    return see_other(unit)


@pages.post("/day/<day:day>/evening/done")
@allow("owner")
@once
def done(day: date) -> Response:
    """Close a farrier's day, if so pressed after saying the rest was as planned."""
    form = SheetForm.typed()
    farrier_id = farrier_of(form)
    today = caller().today
    try:
        with writing(*form.key()) as unit:
            if request.form.get("rest"):
                rest_as_planned(unit.session, day, farrier_id, key=sent_key())
            horses = billing.close_day(unit.session, day, today=today, farrier_id=farrier_id)
            still = _still_open(unit.session, day, farrier_id)
            unit.see_other(back(day, farrier_id))
    except Refused as refused:
        says = caller().speech.say(refused.code, **refused.facts)
        return again(Trouble(day=day, farrier_id=farrier_id, typed="", says=says), 409)
    flash(
        "evening.closed_but" if still else "evening.closed", horses=horses, on_day=day, still=still
    )
    return see_other(unit)


def _still_open(session: Session, day: date, farrier_id: int) -> str:
    """Say of which horses it is still to be said which shoe was lost, each in a line of its own."""
    speech = caller().speech
    return "".join(
        f"\n{line.number} {horse_label(speech, line.name, line.words)}: {ask}"
        for sheet in visits.sheets(session, day, farrier_id, paper=False)
        for stop in sheet.stops
        for line in stop.lines
        if (ask := which_lost(line))
    )
