"""Yards: where horses stand, how to get in, and what the ground does to tools."""

from dataclasses import dataclass

from flask import Blueprint, url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries, service
from backoffice.clients.queries import FlagLine, YardCard, YardLine
from backoffice.clients.rules import YardDetails, horse_label, yard_label
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    LinesField,
    MoneyField,
    TextField,
    TickField,
)
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

pages = Blueprint("yards", __name__)

GROUNDS = ("ordinary", "mud", "dry", "sand")
FARTHEST = 1_000


class YardForm(RecordForm):
    """Where horses stand."""

    name = TextField("Name")
    address = LinesField("Address")
    gate_note = LinesField("Gate, dog, where to park")
    ground = ChoiceField("Ground", [(word, "{ground." + word + "}") for word in GROUNDS])
    miles = CountField("Miles there", most=FARTHEST)
    call_out = MoneyField("{yards.trip_fee}")
    notes = LinesField("Notes")
    hidden = TickField("Put away: we no longer go there")


@pages.get("/yards")
@allow("owner", "field")
def index() -> Response:
    """List yards and how many horses stand there."""
    say = caller().speech.say
    with reading() as session:
        listed = queries.yard_list(
            session, caller().today, looked_up(), page_no(), hidden=with_hidden()
        )
    owner = caller().role == "owner"
    return list_page(
        listed,
        tuple(_row(line) for line in listed.rows),
        title=say("yards.title"),
        none=say("yards.none"),
        also=say("records.also_put_away"),
        add=Link(url=url_for("yards.new"), text=say("yards.add")) if owner else None,
    )


def _row(line: YardLine) -> Row:
    speech = caller().speech
    says = [", ".join((line.address or "").splitlines())]
    if line.miles is not None:
        says.append(speech.say("yards.miles", miles=line.miles))
    if line.hidden:
        says.append(speech.say("records.put_away"))
    return Row(
        url=url_for("yards.show", yard_id=line.id),
        name=yard_label(speech, line.name),
        says=" · ".join(said for said in says if said),
        end=speech.say("yards.horses", horses=line.horses),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseThere:
    """A horse at a yard, named, and how it must be handled."""

    id: int
    name: str
    type_name: str
    flags: tuple[FlagLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardPage:
    """A yard and the horses there."""

    card: YardCard
    name: str
    horses: tuple[HorseThere, ...]


@pages.get("/yards/<int:yard_id>")
@allow("owner", "field")
def show(yard_id: int) -> Response:
    """Show one yard."""
    speech = caller().speech
    with reading() as session:
        card = queries.yard_card(session, yard_id, caller().today)
    horses = tuple(
        HorseThere(
            id=there.horse.id,
            name=horse_label(speech, there.horse.name, there.horse.words),
            type_name=there.horse.type_name or "",
            flags=there.flags,
        )
        for there in card.horses
    )
    name = yard_label(speech, card.details.name)
    return render("yards/show.html", YardPage(card=card, name=name, horses=horses))


@pages.get("/yards/new")
@allow("owner")
def new() -> Response:
    """Ask for a new yard."""
    return _page(YardForm(obj=YardDetails()), url_for("yards.index"))


def _page(form: YardForm, back: str, status: int = 200) -> Response:
    speech = caller().speech
    is_new = form.version.data is None
    return form_page(
        form,
        title=speech.say("yards.new") if is_new else yard_label(speech, form.name.data),
        under=speech.say("records.may_be_empty"),
        back=back,
        hints={
            "ground": speech.say("yards.ground_hint"),
            "miles": speech.say("yards.miles_hint"),
            "call_out": speech.say("yards.trip_fee_hint"),
        },
        status=status,
    )


@pages.post("/yards/new")
@allow("owner")
@once
def create() -> Response:
    """Save a new yard."""
    form = YardForm.typed()
    return keep(
        form,
        lambda session: service.save_yard(session, form.details(YardDetails)),
        lambda yard_id: url_for("yards.show", yard_id=yard_id),
        lambda status: _page(form, url_for("yards.index"), status),
    )


@pages.get("/yards/<int:yard_id>/edit")
@allow("owner")
def edit(yard_id: int) -> Response:
    """Show a yard to be changed."""
    with reading() as session:
        card = queries.yard_card(session, yard_id, caller().today)
    return _page(YardForm(obj=card.details), url_for("yards.show", yard_id=yard_id))


@pages.post("/yards/<int:yard_id>/edit")
@allow("owner")
def save(yard_id: int) -> Response:
    """Save what was changed in a yard."""
    form, today = YardForm.typed(), caller().today
    back = url_for("yards.show", yard_id=yard_id)
    return keep(
        form,
        lambda session: service.save_yard(session, form.details(YardDetails), yard_id),
        lambda _id: back,
        lambda status: _page(form, back, status),
        now=lambda session: queries.yard_card(session, yard_id, today).details,
    )
