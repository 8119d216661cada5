"""Kinds of horse."""

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries as clients
from backoffice.clients import service as saving_clients
from backoffice.clients.rules import HorseTypeDetails
from backoffice.db import Session
from backoffice.practice.rules import Listed
from backoffice.visits import service as visits
from backoffice.web.caller import caller
from backoffice.web.forms import (
    CountField,
    TextField,
    TickField,
)
from backoffice.web.generic import Link, Row
from backoffice.web.prices.blueprint import pages
from backoffice.web.records import (
    RecordForm,
    ScaledField,
    form_page,
    keep,
    list_page,
    scaled,
    with_hidden,
)
from backoffice.web.roles import allow, once
from backoffice.web.writing import reading


class KindForm(RecordForm):
    """A kind of horse."""

    name = TextField("Name", needed=True)
    wear_factor = ScaledField("Wears tools like how many ordinary horses", decimals=3, needed=True)
    time_factor = ScaledField("Takes how many times as long", decimals=3, needed=True)
    nails = CountField("Nails in a shoe", least=1, most=16, needed=True)
    shod_days = CountField("Days between visits, shod", least=1, most=400, needed=True)
    trim_days = CountField("Days between visits, barefoot", least=1, most=400, needed=True)
    hidden = TickField("Put away: none of these any more")


@pages.get("/prices/kinds")
@allow("owner", "books")
def kinds() -> Response:
    """List the kinds of horse."""
    say = caller().speech.say
    with reading() as session:
        cards = clients.horse_types(session, hidden=with_hidden())
    rows = tuple(
        Row(
            url=url_for("prices.edit_kind", type_id=card.id),
            name=card.details.name,
            says=_kind_words(card.details),
            end=say("records.put_away") if card.details.hidden else "",
        )
        for card in cards
    )
    return list_page(
        Listed(rows=cards, page=1, more=False),
        rows,
        title=say("kinds.title"),
        none=say("kinds.none"),
        also=say("records.also_put_away"),
        add=Link(url=url_for("prices.new_kind"), text=say("kinds.add")),
        searched=False,
    )


def _kind_words(details: HorseTypeDetails) -> str:
    say = caller().speech.say
    wear, time = details.wear_factor, details.time_factor
    return " · ".join(
        (
            say("kinds.wears" if wear != 1_000 else "kinds.wears_one", times=scaled(wear, 3)),
            say("kinds.takes" if time != 1_000 else "kinds.takes_one", times=scaled(time, 3)),
            say("kinds.days", shod=details.shod_days, trim=details.trim_days),
        )
    )


def _kind_page(form: KindForm, status: int = 200) -> Response:
    say = caller().speech.say
    new = form.version.data is None
    return form_page(
        form,
        title=say("kinds.new") if new else form.name.data or say("kinds.title"),
        back=url_for("prices.kinds"),
        hints={
            "wear_factor": say("kinds.wear_hint"),
            "time_factor": say("kinds.time_hint"),
            "shod_days": say("kinds.days_hint"),
        },
        status=status,
    )


@pages.get("/prices/kinds/new")
@allow("owner", "books")
def new_kind() -> Response:
    """Ask for a new kind of horse."""
    return _kind_page(KindForm(obj=HorseTypeDetails(name="")))


@pages.post("/prices/kinds/new")
@allow("owner", "books")
@once
def create_kind() -> Response:
    """Save a new kind of horse."""
    form = KindForm.typed()
    return keep(
        form,
        lambda session: saving_clients.save_horse_type(session, form.details(HorseTypeDetails)),
        lambda _id: url_for("prices.kinds"),
        lambda status: _kind_page(form, status),
    )


@pages.get("/prices/kinds/<int:type_id>")
@allow("owner", "books")
def edit_kind(type_id: int) -> Response:
    """Show a kind of horse to be changed."""
    with reading() as session:
        card = clients.horse_type_card(session, type_id)
    return _kind_page(KindForm(obj=card.details))


def _save_kind(session: Session, details: HorseTypeDetails, type_id: int) -> int:
    """Save a kind of horse, and let its horses' due days follow."""
    saved = saving_clients.save_horse_type(session, details, type_id)
    visits.refresh_horses(session, clients.horses_of_type(session, type_id))
    return saved


@pages.post("/prices/kinds/<int:type_id>")
@allow("owner", "books")
def save_kind(type_id: int) -> Response:
    """Save what was changed in a kind of horse."""
    form = KindForm.typed()
    return keep(
        form,
        lambda session: _save_kind(session, form.details(HorseTypeDetails), type_id),
        lambda _id: url_for("prices.kinds"),
        lambda status: _kind_page(form, status),
        now=lambda session: clients.horse_type_card(session, type_id).details,
    )
