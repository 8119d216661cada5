"""Who does horses, and what carries the shoes."""

from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.practice import queries, service
from backoffice.practice.queries import FarrierLine, PlaceLine
from backoffice.practice.rules import FarrierDetails, PlaceDetails
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    MoneyField,
    SelectId,
    TextField,
    TickField,
)
from backoffice.web.office.blueprint import pages
from backoffice.web.records import RecordForm, form_page, keep
from backoffice.web.roles import allow, once
from backoffice.web.shell import render
from backoffice.web.writing import reading


@dataclass(frozen=True, slots=True, kw_only=True)
class PeoplePage:
    """Who does horses and who learns to, and what carries the shoes."""

    people: tuple[FarrierLine, ...]
    places: tuple[PlaceLine, ...]


@pages.get("/office/people")
@allow("owner")
def people() -> Response:
    """Show farriers, trucks and the shop."""
    with reading() as session:
        people = queries.farriers(session, hidden=True)
        people += queries.farriers(session, "apprentice", hidden=True)
        places = queries.places(session, hidden=True)
    return render("office/people.html", PeoplePage(people=people, places=places))


class FarrierForm(RecordForm):
    """Someone who does horses, or learns to."""

    name = TextField("Name", needed=True)
    sort = ChoiceField(
        "What he or she is",
        [("farrier", "{person.farrier}"), ("apprentice", "{person.apprentice}")],
        needed=True,
    )
    day_pay = MoneyField("Pay for a day")
    place_id = SelectId("Usual {truck}", needed=True)
    hidden = TickField("Put away: no longer works here")


def _farrier_page(form: FarrierForm, status: int = 200) -> Response:
    say = caller().speech.say
    new = form.version.data is None
    return form_page(
        form,
        title=say("office.new_farrier") if new else form.name.data or say("to.office.people"),
        back=url_for("office.people"),
        hints={"day_pay": say("office.day_pay_hint")},
        status=status,
    )


@pages.get("/office/people/new")
@allow("owner")
def new_farrier() -> Response:
    """Ask for a new farrier."""
    form = FarrierForm(data={"sort": "farrier"})
    with reading() as session:
        form.place_id.offer(queries.place_choices(session))
    return _farrier_page(form)


@pages.post("/office/people/new")
@allow("owner")
@once
def create_farrier() -> Response:
    """Save a new farrier."""
    form = FarrierForm.typed()
    with reading() as session:
        form.place_id.offer(queries.place_choices(session))
    return keep(
        form,
        lambda session: service.save_farrier(session, form.details(FarrierDetails)),
        lambda _id: url_for("office.people"),
        lambda status: _farrier_page(form, status),
    )


@pages.get("/office/people/<int:farrier_id>")
@allow("owner")
def edit_farrier(farrier_id: int) -> Response:
    """Show a farrier to be changed."""
    with reading() as session:
        form = FarrierForm(obj=queries.farrier(session, farrier_id))
        form.place_id.offer(queries.place_choices(session))
    return _farrier_page(form)


@pages.post("/office/people/<int:farrier_id>")
@allow("owner")
def save_farrier(farrier_id: int) -> Response:
    """Save what was changed in a farrier."""
    form = FarrierForm.typed()
    with reading() as session:
        form.place_id.offer(queries.place_choices(session))
    return keep(
        form,
        lambda session: service.save_farrier(session, form.details(FarrierDetails), farrier_id),
        lambda _id: url_for("office.people"),
        lambda status: _farrier_page(form, status),
        now=lambda session: queries.farrier(session, farrier_id),
    )


class PlaceForm(RecordForm):
    """A truck or the shop."""

    name = TextField("Name", needed=True)
    sort = ChoiceField(
        "What it is", [("truck", "{place.truck}"), ("shop", "{place.shop}")], needed=True
    )
    hidden = TickField("Put away: no longer used")


def _place_page(form: PlaceForm, status: int = 200) -> Response:
    say = caller().speech.say
    new = form.version.data is None
    return form_page(
        form,
        title=say("office.new_place") if new else form.name.data or say("to.office.people"),
        under=say("office.place_under"),
        back=url_for("office.people"),
        status=status,
    )


@pages.get("/office/trucks/new")
@allow("owner")
def new_place() -> Response:
    """Ask for a new truck."""
    return _place_page(PlaceForm(data={"sort": "truck"}))


@pages.post("/office/trucks/new")
@allow("owner")
@once
def create_place() -> Response:
    """Save a new truck or shop."""
    form = PlaceForm.typed()
    return keep(
        form,
        lambda session: service.save_place(session, form.details(PlaceDetails)),
        lambda _id: url_for("office.people"),
        lambda status: _place_page(form, status),
    )


@pages.get("/office/trucks/<int:place_id>")
@allow("owner")
def edit_place(place_id: int) -> Response:
    """Show a truck or the shop to be changed."""
    with reading() as session:
        details = queries.place(session, place_id)
    return _place_page(PlaceForm(obj=details))


@pages.post("/office/trucks/<int:place_id>")
@allow("owner")
def save_place(place_id: int) -> Response:
    """Save what was changed in a truck or the shop."""
    form = PlaceForm.typed()
    return keep(
        form,
        lambda session: service.save_place(session, form.details(PlaceDetails), place_id),
        lambda _id: url_for("office.people"),
        lambda status: _place_page(form, status),
        now=lambda session: queries.place(session, place_id),
    )
