"""A horse and who pays for it, typed and changed."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import request, url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries, service
from backoffice.clients.queries import HorseCard
from backoffice.clients.rules import HorseDetails, horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.web.caller import caller
from backoffice.web.forms import (
    CountField,
    DayField,
    Form,
    LinesField,
    SelectId,
    TextField,
    TickField,
    refuse,
)
from backoffice.web.horses.blueprint import pages
from backoffice.web.horses.looking import name_of
from backoffice.web.records import (
    RecordForm,
    form_page,
    keep,
)
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading

MOST_PAYERS = 5
SEE_OTHER = 303


class HorseForm(RecordForm):
    """A horse."""

    name = TextField("Name")
    words = TextField("What you call it meanwhile")
    type_id = SelectId("Kind of horse")
    yard_id = SelectId("Where it stands")
    owner_id = SelectId("Whose horse")
    cycle_days = CountField("Days between visits", least=1, most=400)
    weight_lb = CountField("Weight, pounds", least=1, most=5_000)
    notes = LinesField("Notes")
    hidden = TickField("Put away: entered by mistake")


class NewHorseForm(HorseForm):
    """A new horse, and who pays for all of it."""

    payer = SelectId("Who pays")


def _offer(session: Session, form: HorseForm) -> None:
    speech = caller().speech
    form.type_id.offer(queries.type_choices(session))
    form.yard_id.offer(queries.yard_choices(session, speech))
    clients = queries.client_choices(session, speech)
    form.owner_id.offer(clients)
    if isinstance(form, NewHorseForm):
        form.payer.offer(clients)


def _page(form: HorseForm, back: str, status: int = 200) -> Response:
    speech = caller().speech
    new = isinstance(form, NewHorseForm)
    return form_page(
        form,
        title=speech.say("horses.new")
        if new
        else horse_label(speech, form.name.data, form.words.data),
        under=speech.say("records.may_be_empty"),
        back=back,
        hints={
            "words": speech.say("horses.words_hint"),
            "owner_id": speech.say("horses.owner_hint"),
            "cycle_days": speech.say("horses.cycle_hint"),
            "notes": speech.say("horses.notes_hint"),
            "payer": speech.say("horses.payer_hint"),
        },
        status=status,
    )


def _asked(name: str) -> int | None:
    text = request.args.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 16 else None


@pages.get("/horses/new")
@allow("owner")
def new() -> Response:
    """Ask for a new horse, at a yard or for a client if it is clear already."""
    form = NewHorseForm(data={"yard_id": _asked("yard"), "payer": _asked("client")})
    with reading() as session:
        _offer(session, form)
    return _page(form, url_for("horses.index"))


@pages.post("/horses/new")
@allow("owner")
@once
def create() -> Response:
    """Save a new horse."""
    form, today = NewHorseForm.typed(), caller().today
    with reading() as session:
        _offer(session, form)

    def save_new(session: Session) -> int:
        horse_id = service.save_horse(session, form.details(HorseDetails))
        if form.payer.data is not None:
            service.set_payers(session, horse_id, today, [(form.payer.data, 1)])
        visiting.refresh_horses(session, [horse_id])
        return horse_id

    return keep(
        form,
        save_new,
        lambda horse_id: url_for("horses.show", horse_id=horse_id),
        lambda status: _page(form, url_for("horses.index"), status),
    )


@pages.get("/horses/<int:horse_id>/edit")
@allow("owner")
def edit(horse_id: int) -> Response:
    """Show a horse to be changed."""
    with reading() as session:
        form = HorseForm(obj=queries.horse_card(session, horse_id, caller().today).details)
        _offer(session, form)
    return _page(form, url_for("horses.show", horse_id=horse_id))


@pages.post("/horses/<int:horse_id>/edit")
@allow("owner")
def save(horse_id: int) -> Response:
    """Save what was changed in a horse; when it is due follows."""
    form, today = HorseForm.typed(), caller().today
    back = url_for("horses.show", horse_id=horse_id)
    with reading() as session:
        _offer(session, form)

    def save_changed(session: Session) -> int:
        service.save_horse(session, form.details(HorseDetails), horse_id)
        visiting.refresh_horses(session, [horse_id])
        return horse_id

    return keep(
        form,
        save_changed,
        lambda _id: back,
        lambda status: _page(form, back, status),
        now=lambda session: queries.horse_card(session, horse_id, today).details,
    )


class PayersForm(Form):
    """Who pays from a day on."""

    from_day = DayField("From which day", needed=True)


class PayerForm(Form):
    """One who pays, and which part."""

    client = SelectId("Who pays", unknown="–")
    part = CountField("Which part", most=10_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class PayersPage:
    """The form of who pays for a horse."""

    horse_id: int
    name: str
    form: PayersForm
    rows: tuple[PayerForm, ...]


@pages.get("/horses/<int:horse_id>/payers")
@allow("owner")
def payers(horse_id: int) -> Response:
    """Ask who pays and which part."""
    today = caller().today
    with reading() as session:
        card = queries.horse_card(session, horse_id, today)
        works = visits.horse_past(session, horse_id).works
        choices = queries.client_choices(session, caller().speech)
    known = [line for line in card.payers if line.client_id is not None]
    first = today if known else min([today, *(work.day for work in works)])
    rows = []
    for place in range(max(MOST_PAYERS, len(known))):
        typed = None
        if place < len(known):
            typed = {"client": known[place].client_id, "part": known[place].parts}
        rows.append(PayerForm(data=typed, prefix=f"p{place}-"))
        rows[-1].client.offer(choices)
    return _payers_page(card, PayersForm(data={"from_day": first}), rows)


def _payers_page(
    card: HorseCard, form: PayersForm, rows: Sequence[PayerForm], status: int = 200
) -> Response:
    page = PayersPage(horse_id=card.id, name=name_of(card), form=form, rows=tuple(rows))
    return render("horses/payers.html", page, status=status)


@pages.post("/horses/<int:horse_id>/payers")
@allow("owner")
def set_payers(horse_id: int) -> Response:
    """Save who pays and which part, from a day on."""
    form = PayersForm.typed()
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
        choices = queries.client_choices(session, caller().speech)
    places = max(MOST_PAYERS, len(card.payers))
    rows = [PayerForm(formdata=request.form, prefix=f"p{n}-") for n in range(places)]
    for row in rows:
        row.client.offer(choices)
    sound = _parts_told(rows)
    equal = all(row.part.data is None for row in rows)
    named = [(row.client.data, row.part.data or int(equal)) for row in rows if row.client.data]

    def save_payers(session: Session) -> int:
        if form.from_day.data is not None:
            service.set_payers(session, horse_id, form.from_day.data, named)
        return horse_id

    if not sound:
        form.validate()
        return _payers_page(card, form, rows, 422)
    answer = keep(
        form,
        save_payers,
        lambda _id: url_for("horses.show", horse_id=horse_id),
        lambda status: _payers_page(card, form, rows, status),
    )
    if answer.status_code == SEE_OTHER and equal and len(named) > 1:
        flash("horses.equal_parts")
    return answer


def _parts_told(rows: Sequence[PayerForm]) -> bool:
    """Whether each row can be meant: a part is somebody's, and all have one or nobody has."""
    sound = True
    for row in rows:
        sound = row.validate() and sound
    some = any(row.part.raw_data and row.part.raw_data[0].strip() for row in rows)
    for row in rows:
        whose, part = row.client.data is not None, row.part.data
        if part and not whose and not row.client.errors:
            refuse(row, Refused("horses.whose_part", field="client"))
            sound = False
        elif whose and part is None and some and not row.part.errors:
            refuse(row, Refused("horses.which_part", field="part"))
            sound = False
    return sound
