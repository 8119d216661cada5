"""Who pays for a horse: asked where it is not known, and for once where somebody else does."""

from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries as clients
from backoffice.clients import service as keeping
from backoffice.clients.queries import HorseLine
from backoffice.clients.rules import ClientDetails, HorseDetails, horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.visits import queries, service
from backoffice.visits.queries import WorkCard
from backoffice.visits.rules import FactSort
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, SelectId, TextField, refuse
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.telling import Pair, SaysForm, card_of, name_of, tell
from backoffice.web.writing import reading

SEE_OTHER = 303


class PayForm(SaysForm):
    """Who pays, for how long, and which horse it was if only words were kept."""

    client = SelectId("A client you have", unknown="–")
    new_client = TextField("Or somebody new")
    lasts = ChoiceField("For how long", needed=True)
    horse = SelectId("Which horse was it")
    new_horse = TextField("Or its name, if it is new here")


@dataclass(frozen=True, slots=True, kw_only=True)
class PayPage:
    """The form of who pays."""

    card: WorkCard
    name: str
    form: PayForm


@pages.get("/horse-record/<int:work_id>/who-pays")
@allow("owner")
def who_pays(work_id: int) -> Response:
    """Ask who pays."""
    with reading() as session:
        card = card_of(session, work_id)
        known = any(payer.client_id for payer in queries.work_more(session, work_id).payers)
        form = PayForm(data={"lasts": "once" if known else "always"})
        form.look_again(session, card)
        _offer(session, card, form)
    return _page(card, form)


def _offer(session: Session, card: WorkCard, form: PayForm) -> None:
    speech = caller().speech
    form.client.offer(clients.client_choices(session, speech))
    form.lasts.offer([("always", "{visits.lasts.always}"), ("once", "{visits.lasts.once}")])
    there: tuple[HorseLine, ...] = ()
    if card.work.horse_id is None and card.yard_id is not None:
        there = clients.active_horses_of_yard(session, card.yard_id, card.day)
    form.horse.unknown = speech.say("visits.only_words")
    form.horse.offer([(h.id, horse_label(speech, h.name, h.words)) for h in there])


def _page(card: WorkCard, form: PayForm, status: int = 200) -> Response:
    page = PayPage(card=card, name=name_of(card), form=form)
    return render("visits/who_pays.html", page, status=status)


@pages.post("/horse-record/<int:work_id>/who-pays")
@allow("owner")
@once
def pay(work_id: int) -> Response:
    """Save who pays, and the client and the horse if they are new."""
    form = PayForm.typed()
    with reading() as session:
        card = card_of(session, work_id)
        _offer(session, card, form)
    if not (form.validate() and _one_of_each(form)):
        return _page(card, form, 422)

    def says(session: Session, now: WorkCard) -> list[Pair]:
        client_id = form.client.data
        if client_id is None:
            client_id = keeping.save_client(session, ClientDetails(name=form.new_client.data))
        horse_id = now.work.horse_id or _kept(session, now, form)
        if horse_id is not None and form.lasts.data == "always":
            keeping.set_payers(session, horse_id, now.day, [(client_id, 1)])
        return [(FactSort.PAYERS, {"parts": [[client_id, 1]]})]

    leads = url_for("visits.work", work_id=work_id)
    answer = tell(form, work_id, says, lambda status: _page(card, form, status), leads)
    if answer.status_code == SEE_OTHER:
        flash("visits.payer_saved")
    return answer


def _one_of_each(form: PayForm) -> bool:
    sound = True
    if (form.client.data is None) == (form.new_client.data is None):
        refuse(form, Refused("visits.whom", field="client"))
        sound = False
    if form.horse.data is not None and form.new_horse.data is not None:
        refuse(form, Refused("visits.which_horse", field="horse"))
        sound = False
    return sound


def _kept(session: Session, card: WorkCard, form: PayForm) -> int | None:
    """Keep a horse known in words only as the one chosen or as a new one, or leave it at words."""
    horse_id = form.horse.data
    if horse_id is None and form.new_horse.data is not None:
        details = HorseDetails(
            name=form.new_horse.data, words=card.work.words, yard_id=card.yard_id
        )
        horse_id = keeping.save_horse(session, details)
        service.refresh_horses(session, [horse_id])
    if horse_id is not None:
        service.name_horse(session, card.work.id, horse_id, today=caller().today)
    return horse_id
