"""The price list: services and what they cost from a day on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.pricing import queries, service
from backoffice.pricing.queries import PriceRow, PriceTable
from backoffice.pricing.rules import Dated, ServiceDetails, ServiceLine
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    DayField,
    Form,
    MoneyField,
    TextField,
    TickField,
)
from backoffice.web.generic import FormPage
from backoffice.web.prices.blueprint import pages
from backoffice.web.records import (
    RecordForm,
    form_page,
    keep,
)
from backoffice.web.roles import allow, once
from backoffice.web.shell import render
from backoffice.web.writing import reading

FOOT_PLANS = ("new", "reset", "trim", "pulled", "none")


@dataclass(frozen=True, slots=True, kw_only=True)
class PricesPage:
    """The price list in force, and what is no longer offered."""

    table: PriceTable
    today: date
    put_away: tuple[ServiceLine, ...]


@pages.get("/prices")
@allow("owner", "books")
def index() -> Response:
    """Show the price list in force today."""
    with reading() as session:
        table = queries.price_table(session, caller().today)
        all_services = queries.services_by_id(session)
    put_away = tuple(line for line in all_services.values() if line.hidden)
    page = PricesPage(table=table, today=caller().today, put_away=put_away)
    return render("prices/index.html", page)


class ServiceForm(RecordForm):
    """Something offered."""

    name = TextField("Name", needed=True)
    front = ChoiceField(
        "{prices.fronts}", [(plan, "{done." + plan + "}") for plan in FOOT_PLANS], needed=True
    )
    hind = ChoiceField(
        "{prices.hinds}", [(plan, "{done." + plan + "}") for plan in FOOT_PLANS], needed=True
    )
    minutes = CountField("Minutes it takes, as a rule", most=1_440, needed=True)
    place_no = CountField("Place on the list", needed=True)
    hidden = TickField("Put away: no longer offered")


def _service_page(form: ServiceForm, back: str, status: int = 200) -> Response:
    say = caller().speech.say
    new = form.version.data is None
    return form_page(
        form,
        title=say("prices.new_service") if new else form.name.data or say("prices.title"),
        back=back,
        hints={"minutes": say("prices.minutes_hint"), "place_no": say("prices.place_hint")},
        status=status,
    )


@pages.get("/prices/services/new")
@allow("owner", "books")
def new_service() -> Response:
    """Ask for a new service."""
    with reading() as session:
        place = len(queries.services_by_id(session)) + 1
    form = ServiceForm(data={"front": "trim", "hind": "trim", "place_no": place})
    return _service_page(form, url_for("prices.index"))


@pages.post("/prices/services/new")
@allow("owner", "books")
@once
def create_service() -> Response:
    """Save a new service; its prices come next."""
    form = ServiceForm.typed()
    return keep(
        form,
        lambda session: service.save_service(session, form.details(ServiceDetails)),
        lambda service_id: url_for("prices.of_service", service_id=service_id),
        lambda status: _service_page(form, url_for("prices.index"), status),
    )


@pages.get("/prices/services/<int:service_id>/edit")
@allow("owner", "books")
def edit_service(service_id: int) -> Response:
    """Show a service to be changed."""
    with reading() as session:
        details = queries.service_details(session, service_id)
    return _service_page(ServiceForm(obj=details), url_for("prices.index"))


@pages.post("/prices/services/<int:service_id>/edit")
@allow("owner", "books")
def save_service(service_id: int) -> Response:
    """Save what was changed in a service."""
    form = ServiceForm.typed()
    return keep(
        form,
        lambda session: service.save_service(session, form.details(ServiceDetails), service_id),
        lambda _id: url_for("prices.index"),
        lambda status: _service_page(form, url_for("prices.index"), status),
        now=lambda session: queries.service_details(session, service_id),
    )


class PricesForm(Form):
    """What a service costs from a day on; each kind of horse adds its field."""

    from_day = DayField("From which day", needed=True)
    any_kind = MoneyField("Any kind of horse")


@dataclass(frozen=True, slots=True, kw_only=True)
class ServicePage(FormPage):
    """The prices of one service, to be set anew."""

    service_id: int


Kinds = Sequence[tuple[int, str]]


def _prices_form(kinds: Kinds) -> type[PricesForm]:
    return type("KindPricesForm", (PricesForm,), {f"kind_{id}": MoneyField("") for id, _ in kinds})


def _name_kinds(form: PricesForm, kinds: Kinds) -> None:
    for type_id, name in kinds:
        form[f"kind_{type_id}"].label.text = name


def _row_of(table: PriceTable, service_id: int) -> PriceRow:
    return next((r for r in table.rows if r.service.id == service_id), None) or abort(404)


def _in_force(row: PriceRow) -> dict[int | None, Dated]:
    held: dict[int | None, Dated] = {None: row.any_kind} if row.any_kind else {}
    held.update(row.own.items())
    return held


@pages.get("/prices/services/<int:service_id>")
@allow("owner", "books")
def of_service(service_id: int) -> Response:
    """Show what a service costs, to be set from a day on."""
    today = caller().today
    with reading() as session:
        table = queries.price_table(session, today)
    row = _row_of(table, service_id)
    held = _in_force(row)
    typed: dict[str, object] = {"from_day": today}
    typed |= {_field(type_id): dated.amount for type_id, dated in held.items()}
    form = _prices_form(table.types)(data=typed)
    _name_kinds(form, table.types)
    return _prices_page(row, form, held)


def _field(type_id: int | None) -> str:
    return "any_kind" if type_id is None else f"kind_{type_id}"


def _prices_page(
    row: PriceRow, form: PricesForm, held: Mapping[int | None, Dated], status: int = 200
) -> Response:
    say = caller().speech.say
    hints = {
        _field(type_id): say("prices.holds_from", from_day=dated.from_day)
        for type_id, dated in held.items()
    }
    page = ServicePage(
        service_id=row.service.id,
        title=row.service.name,
        under=say("prices.service_under"),
        form=form,
        submit=say("prices.set"),
        back=url_for("prices.index"),
        hints={"from_day": say("prices.from_hint"), **hints},
    )
    return render("prices/service.html", page, status=status)


@pages.post("/prices/services/<int:service_id>")
@allow("owner", "books")
def set_prices(service_id: int) -> Response:
    """Set the prices that differ from those in force on that day."""
    with reading() as session:
        table = queries.price_table(session, caller().today)
    row = _row_of(table, service_id)
    form = _prices_form(table.types).typed()
    _name_kinds(form, table.types)

    def save_prices(session: Session) -> int:
        day = form.from_day.data or caller().today
        then = _in_force(_row_of(queries.price_table(session, day), service_id))
        for type_id in (None, *(type_id for type_id, _ in table.types)):
            amount = form[_field(type_id)].data
            held = then.get(type_id)
            if amount is not None and (held is None or held.amount != amount):
                service.set_price(session, service_id, type_id, day, amount)
        return service_id

    return keep(
        form,
        save_prices,
        lambda _id: url_for("prices.index"),
        lambda status: _prices_page(row, form, _in_force(row), status),
    )
