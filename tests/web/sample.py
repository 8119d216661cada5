"""A few pages of a business that keeps nothing but trucks, to try the web core on."""

import sqlite3
from dataclasses import dataclass

import sqlalchemy as sa
from flask import Blueprint, Flask, Response, url_for
from werkzeug.wrappers import Response as AnyResponse

from backoffice.db import OutcomeUnknown, Unit
from backoffice.errors import Refused
from backoffice.practice import queries, service
from backoffice.practice.rules import PlaceDetails
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    CreatesForm,
    DayField,
    Form,
    LinesField,
    MoneyField,
    SelectId,
    TextField,
    TickField,
    VersionField,
    refuse,
)
from backoffice.web.generic import FormPage, Link, ListPage, Row
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("sample", __name__, url_prefix="/sample")
SECRET = "the gate code is 4711"
outcomes: list[Exception] = []  # what the next saving ends in


class NewTruck(CreatesForm):
    name = TextField("Name of the {truck}", needed=True)


class Truck(Form):
    version = VersionField()
    name = TextField("Name", needed=True)

    def to_command(self) -> PlaceDetails:
        return PlaceDetails(name=self.name.data or "", version=self.version.data)


class Everything(Form):
    name = TextField("Name", needed=True, most=20)
    note = LinesField("Note")
    price = MoneyField("Price")
    owed = MoneyField("Owed", negative=True)
    pairs = CountField("Pairs", least=1, most=99)
    worked = DayField("Day")
    truck = SelectId("{truck}")
    home = SelectId("Home", needed=True)
    kind = ChoiceField("Kind", [("truck", "{truck}"), ("shop", "Shop")], needed=True)
    done = TickField("Done")


@dataclass(frozen=True)
class Words:
    text: str


@pages.get("/")
@allow("owner", "field", "books")
def index() -> Response:
    with reading() as session:
        places = queries.places(session)
    rows = tuple(Row(url=url_for("sample.edit", place_id=p.id), name=p.name) for p in places)
    add = Link(url=url_for("sample.new"), text="Add a truck")
    return render(
        "generic/list_page.html",
        ListPage(title="Trucks", rows=rows, none="No truck yet.", add=add, find=""),
    )


@pages.get("/new")
@allow("owner", "field")
def new() -> Response:
    return render("generic/form_page.html", FormPage(title="A truck", form=NewTruck()))


@pages.post("/new")
@allow("owner", "field")
@once
def create() -> AnyResponse:
    form = NewTruck.typed()
    page = FormPage(title="A truck", form=form)
    if not form.validate():
        return render("generic/form_page.html", page, status=422)
    try:
        with writing(*form.key()) as unit:
            details = PlaceDetails(name=form.name.data or "")
            place_id = service.save_place(unit.session, details)
            unit.see_other(url_for("sample.edit", place_id=place_id))
            _end(unit)
    except Refused as refused:
        refuse(form, refused)
        return render("generic/form_page.html", page, status=409)
    flash("setting.unknown", name=form.name.data)
    return see_other(unit)


def _end(unit: Unit) -> None:
    if outcomes:
        raise outcomes.pop()


@pages.get("/<int:place_id>")
def edit(place_id: int) -> Response:
    with reading() as session:
        details = queries.place(session, place_id)
    return render("generic/form_page.html", FormPage(title="A truck", form=Truck(obj=details)))


@pages.post("/<int:place_id>")
def save(place_id: int) -> AnyResponse:
    form = Truck.typed()
    with writing() as unit:
        service.save_place(unit.session, form.to_command(), place_id)
        unit.see_other(url_for("sample.index"))
    return see_other(unit)


@pages.get("/everything")
def everything() -> Response:
    form = Everything()
    form.truck.offer([(1, "Blue"), (2, "Red")])
    form.home.offer([(1, "Blue")])
    page = FormPage(title="Everything", form=form, hints={"price": "no sign"}, caution="Careful.")
    return render("generic/form_page.html", page)


@pages.get("/breaks")
@allow("owner")
def breaks() -> Response:
    raise RuntimeError(SECRET)


def full_disk() -> sa.exc.OperationalError:
    return _error("SQLITE_FULL")


def busy() -> sa.exc.OperationalError:
    return _error("SQLITE_BUSY")


def unknown(cause: Exception | None = None) -> OutcomeUnknown:
    error = OutcomeUnknown()
    error.__cause__ = cause
    return error


def _error(name: str) -> sa.exc.OperationalError:
    original = sqlite3.OperationalError(SECRET)
    original.sqlite_errorname = name
    return sa.exc.OperationalError("insert", {"note": SECRET}, original)


def stand_in(app: Flask) -> None:
    """Give the frame of every page the addresses it leads to, where they are not built yet."""
    for endpoint in (
        "today.show", "plan.show", "horses.index", "money.index", "shelf.index", "clients.index",
        "yards.index", "prices.index", "office.people", "suppliers.index", "office.business",
        "office.proof", "office.index",
    ):  # fmt: skip
        if endpoint not in app.view_functions:
            rule = "/" if endpoint == "today.show" else f"/stand-in/{endpoint}"
            app.add_url_rule(rule, endpoint, lambda: Response(""))
