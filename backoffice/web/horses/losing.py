"""A shoe was lost: the horse goes on today's round."""

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries
from backoffice.errors import Refused
from backoffice.planning import service
from backoffice.practice import queries as practice
from backoffice.web.caller import caller
from backoffice.web.forms import refuse
from backoffice.web.horses.blueprint import pages
from backoffice.web.horses.calling import LostForm
from backoffice.web.horses.looking import horse_page, name_of
from backoffice.web.roles import allow
from backoffice.web.shell import flash
from backoffice.web.writing import reading, see_other, writing


@pages.post("/horses/<int:horse_id>/lost-shoe")
@allow("owner", "field")
def put_on_today(horse_id: int) -> Response:
    """Put a horse that lost a shoe on today's round."""
    form, today = LostForm.typed(), caller().today
    with reading() as session:
        name = name_of(queries.horse_card(session, horse_id, today))
        form.farrier.offer(practice.farrier_choices(session))
    if not form.validate() or form.farrier.data is None:
        return horse_page(horse_id, form, 422)
    try:
        with writing() as unit:
            service.put_lost_shoe(unit.session, horse_id, form.farrier.data, today=today)
            unit.see_other(url_for("today.day", day=today))
    except Refused as refused:
        refuse(form, refused)
        return horse_page(horse_id, form, 409)
    flash("planning.put_on_today", name=name)
    return see_other(unit)
