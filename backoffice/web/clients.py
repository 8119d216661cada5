"""Clients: who is billed, how to reach them, and what they owe."""

from dataclasses import dataclass

from flask import Blueprint, url_for
from werkzeug.wrappers import Response

from backoffice.billing import queries as billing
from backoffice.billing.queries import BillLine, ReadyBill
from backoffice.clients import queries, service
from backoffice.clients.queries import ClientCard, ClientLine
from backoffice.clients.rules import ClientDetails, client_label, horse_label
from backoffice.pricing import queries as pricing
from backoffice.pricing.queries import AgreedLine
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, CountField, LinesField, TextField, TickField
from backoffice.web.generic import Link, Row
from backoffice.web.records import (
    RecordForm,
    form_page,
    keep,
    list_page,
    looked_up,
    page_no,
    with_hidden,
)
from backoffice.web.roles import allow, once
from backoffice.web.shell import render
from backoffice.web.writing import reading

pages = Blueprint("clients", __name__)

SHOWN_BILLS = 12
BILL_WHEN = ("on_the_spot", "tonight", "weekly", "monthly")
BILL_HOW = ("paper", "text", "email")


class ClientForm(RecordForm):
    """Someone who is billed."""

    name = TextField("Name")
    address = LinesField("Address")
    phone = TextField("Telephone")
    email = TextField("E-mail")
    bill_when = ChoiceField(
        "Billed", [(word, "{bill_when." + word + "}") for word in BILL_WHEN], needed=True
    )
    bill_how = ChoiceField(
        "The bill goes", [(word, "{bill_how." + word + "}") for word in BILL_HOW], needed=True
    )
    terms_days = CountField("Days to pay", most=365)
    sort = ChoiceField(
        "Who this is",
        [("private", "{client.private}"), ("business", "{client.business}")],
        needed=True,
    )
    notes = LinesField("Notes")
    hidden = TickField("Put away: no longer a client")


@pages.get("/clients")
@allow("owner", "field", "books")
def index() -> Response:
    """List clients and what they owe."""
    say = caller().speech.say
    with reading() as session:
        listed = queries.client_list(session, looked_up(), page_no(), hidden=with_hidden())
        owed = billing.owed(session, [line.id for line in listed.rows])
    edits = caller().role != "field"
    return list_page(
        listed,
        tuple(_row(line, owed[line.id] if edits else 0) for line in listed.rows),
        title=say("clients.title"),
        none=say("clients.none"),
        also=say("records.also_put_away"),
        add=Link(url=url_for("clients.new"), text=say("clients.add")) if edits else None,
    )


def _row(line: ClientLine, owed: int) -> Row:
    speech = caller().speech
    says = [line.phone, line.email, speech.say("records.put_away") if line.hidden else None]
    return Row(
        url=url_for("clients.show", client_id=line.id),
        name=client_label(speech, line.name),
        says=" · ".join(said for said in says if said),
        end=speech.money(abs(owed)) if owed else "",
        end_says=speech.say("clients.owes" if owed > 0 else "clients.in_credit"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseOf:
    """A horse a client pays for."""

    id: int
    name: str
    says: str
    life: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientPage:
    """A client with horses, bills and agreements; without the money for who works the horses."""

    card: ClientCard
    name: str
    horses: tuple[HorseOf, ...]
    sees_money: bool
    owed: int
    ready: ReadyBill | None
    bills: tuple[BillLine, ...]
    agreed: tuple[AgreedLine, ...]


@pages.get("/clients/<int:client_id>")
@allow("owner", "field", "books")
def show(client_id: int) -> Response:
    """Show one client."""
    speech, today, practice = caller().speech, caller().today, caller().practice
    sees_money = caller().role != "field"
    owed, ready = 0, None
    bills: tuple[BillLine, ...] = ()
    agreed: tuple[AgreedLine, ...] = ()
    with reading() as session:
        card = queries.client_card(session, client_id, today)
        if sees_money:
            owed = billing.owed(session, [client_id])[client_id]
            found = billing.ready_bills(
                session, includes_tax=practice.prices_include_tax, client_id=client_id
            )
            ready = found[0] if found else None
            bills = billing.bills_of_client(session, client_id)[:SHOWN_BILLS]
            agreed = pricing.agreed_with(session, client_id)
    horses = tuple(
        HorseOf(
            id=horse.id,
            name=horse_label(speech, horse.name, horse.words),
            says=" · ".join(said for said in (horse.type_name, horse.yard_name) if said),
            life=horse.life,
        )
        for horse in card.horses
    )
    return render(
        "clients/show.html",
        ClientPage(
            card=card,
            name=client_label(speech, card.details.name),
            horses=horses,
            sees_money=sees_money,
            owed=owed,
            ready=ready,
            bills=bills,
            agreed=agreed,
        ),
    )


@pages.get("/clients/new")
@allow("owner", "books")
def new() -> Response:
    """Ask for a new client."""
    return _page(ClientForm(obj=ClientDetails()), url_for("clients.index"))


def _page(form: ClientForm, back: str, status: int = 200) -> Response:
    speech = caller().speech
    is_new = form.version.data is None
    return form_page(
        form,
        title=speech.say("clients.new") if is_new else client_label(speech, form.name.data),
        under=speech.say("records.may_be_empty"),
        back=back,
        hints={
            "terms_days": speech.say("clients.terms_hint"),
            "bill_when": speech.say("clients.bill_when_hint"),
            "sort": speech.say("clients.sort_hint"),
        },
        status=status,
    )


@pages.post("/clients/new")
@allow("owner", "books")
@once
def create() -> Response:
    """Save a new client."""
    form = ClientForm.typed()
    return keep(
        form,
        lambda session: service.save_client(session, form.details(ClientDetails)),
        lambda client_id: url_for("clients.show", client_id=client_id),
        lambda status: _page(form, url_for("clients.index"), status),
    )


@pages.get("/clients/<int:client_id>/edit")
@allow("owner", "books")
def edit(client_id: int) -> Response:
    """Show a client to be changed."""
    with reading() as session:
        card = queries.client_card(session, client_id, caller().today)
    back = url_for("clients.show", client_id=client_id)
    return _page(ClientForm(obj=card.details), back)


@pages.post("/clients/<int:client_id>/edit")
@allow("owner", "books")
def save(client_id: int) -> Response:
    """Save what was changed in a client."""
    form, today = ClientForm.typed(), caller().today
    back = url_for("clients.show", client_id=client_id)
    return keep(
        form,
        lambda session: service.save_client(session, form.details(ClientDetails), client_id),
        lambda _id: back,
        lambda status: _page(form, back, status),
        now=lambda session: queries.client_card(session, client_id, today).details,
    )
