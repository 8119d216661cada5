"""Prices agreed with one client."""

from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries as clients
from backoffice.clients.queries import ClientCard
from backoffice.clients.rules import client_label
from backoffice.db import Session
from backoffice.pricing import queries, service
from backoffice.pricing.queries import AgreedLine
from backoffice.web.caller import caller
from backoffice.web.forms import (
    DayField,
    Form,
    MoneyField,
    SelectId,
)
from backoffice.web.generic import FormPage
from backoffice.web.prices.blueprint import pages
from backoffice.web.records import (
    keep,
)
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading


class AgreeForm(Form):
    """A price agreed with a client."""

    service = SelectId("What for", needed=True)
    amount = MoneyField("Price", needed=True)
    from_day = DayField("From which day", needed=True)
    until_day = DayField("Until which day")


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreedPage(FormPage):
    """What is agreed with a client, and the form to agree another."""

    lines: tuple[AgreedLine, ...]


@pages.get("/prices/agreed/<int:client_id>")
@allow("owner", "books")
def agree(client_id: int) -> Response:
    """Show what is agreed with a client, and ask for another."""
    form = AgreeForm(data={"from_day": caller().today})
    with reading() as session:
        card, lines = _agreed(session, client_id, form)
    return _agreed_page(card, lines, form)


def _agreed(
    session: Session, client_id: int, form: AgreeForm
) -> tuple[ClientCard, tuple[AgreedLine, ...]]:
    form.service.offer((line.id, line.name) for line in queries.services(session))
    card = clients.client_card(session, client_id, caller().today)
    return card, queries.agreed_with(session, client_id)


def _agreed_page(
    card: ClientCard, lines: tuple[AgreedLine, ...], form: AgreeForm, status: int = 200
) -> Response:
    speech = caller().speech
    page = AgreedPage(
        title=speech.say("prices.agreed_with", name=client_label(speech, card.details.name)),
        under=speech.say("prices.agreed_under"),
        form=form,
        submit=speech.say("prices.agree"),
        back=url_for("clients.show", client_id=card.id),
        hints={"until_day": speech.say("prices.until_hint")},
        lines=lines,
    )
    return render("prices/agreed.html", page, status=status)


@pages.post("/prices/agreed/<int:client_id>")
@allow("owner", "books")
def save_agreed(client_id: int) -> Response:
    """Save a price agreed with a client."""
    form = AgreeForm.typed()
    with reading() as session:
        card, lines = _agreed(session, client_id, form)

    def save(session: Session) -> int:
        service.agree_price(
            session,
            client_id,
            form.service.data or 0,
            form.from_day.data or caller().today,
            form.amount.data or 0,
            until_day=form.until_day.data,
        )
        return client_id

    return keep(
        form,
        save,
        lambda _id: url_for("clients.show", client_id=client_id),
        lambda status: _agreed_page(card, lines, form, status),
    )
