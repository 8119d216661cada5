"""Who pays for a horse: asked where it is not known, and for once where somebody else does."""

from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries as clients
from backoffice.clients import service as keeping
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
    form.horse.unknown = speech.say("visits.only_words")
    form.horse.offer([])
    if card.work.horse_id is None:
        taken = {work.horse_id for work in queries.works_of(session, card.work.visit_id)}
        there = clients.horses_maybe_of_yard(session, card.yard_id, card.day)
        form.horse.offer(
            [(h.id, horse_label(speech, h.name, h.words)) for h in there if h.id not in taken]
        )


def _page(card: WorkCard, form: PayForm, status: int = 200) -> Response:
    page = PayPage(card=card, name=name_of(card), form=form)
    return render("visits/who_pays.html", page, status=status)


@pages.post("/horse-record/<int:work_id>/who-pays")
@allow("owner")
@once
def pay(work_id: int) -> Response:
    """Save who pays, and the client and the horse if they are new.

    Who pays from a day on is said of a horse: one known in words only gets a card for it.
    """
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
        pairs: list[Pair] = [(FactSort.PAYERS, {"parts": [[client_id, 1]]})]
        horse_id = now.work.horse_id
        if horse_id is None:
            horse_id = _kept(session, now, form)
            if horse_id is not None:
                pairs.insert(0, service.which_horse(session, work_id, horse_id))
        if horse_id is not None and _always(form):
            keeping.set_payers(session, horse_id, now.day, [(client_id, 1)])
        return pairs

    leads = url_for("visits.work", work_id=work_id)
    answer = tell(form, work_id, says, lambda status: _page(card, form, status), leads)
    if answer.status_code == SEE_OTHER:
        new = form.new_horse.data
        if card.work.horse_id is None and form.horse.data is None and (new or _always(form)):
            flash("visits.card_made", name=new or name_of(card))
        else:
            flash("visits.payer_saved")
    return answer


def _always(form: PayForm) -> bool:
    return form.lasts.data == "always"


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
    """Give the horse chosen, or a new one with its name or its words; None leaves it at words."""
    if form.horse.data is not None:
        return form.horse.data
    if form.new_horse.data is None and not _always(form):
        return None
    details = HorseDetails(name=form.new_horse.data, words=card.work.words, yard_id=card.yard_id)
    horse_id = keeping.save_horse(session, details)
    service.refresh_horses(session, [horse_id])
    return horse_id
