"""What is said of a horse in one or two taps, and what is taken back."""

from typing import Any

from flask import request, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, service
from backoffice.visits.queries import WorkCard
from backoffice.visits.rules import FactSort, FootState, Said, foot_facts
from backoffice.web.forms import new_key
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.looking import LostForm, MoreForm, TapForm, ends, show
from backoffice.web.visits.telling import Pair, card_of, facts_of, record, tell
from backoffice.web.writing import see_other, writing


@pages.post("/horse-record/<int:work_id>/as-planned")
@allow("owner", "field")
def as_planned(work_id: int) -> Response:
    """Say from the day's page that a horse was done as planned."""
    return _say(work_id, FactSort.AS_PLANNED)


@pages.post("/horse-record/<int:work_id>/not-there")
@allow("owner", "field")
def not_there(work_id: int) -> Response:
    """Say from the day's page that a horse was not there or not caught."""
    return _say(work_id, FactSort.ABSENT)


def _say(work_id: int, sort: FactSort) -> Response:
    sent = request.form.get("fact", "")
    key = sent if sent.isalnum() and len(sent) <= 64 else new_key()
    with writing() as unit:
        card = _open(unit.session, work_id)
        fact = Said(id=f"table-{work_id}-{key}", subject=card.work.subject, sort=sort)
        service.say(unit.session, card.work.visit_id, [fact])
        unit.see_other(url_for("today.day", day=card.day, _anchor=f"horse-{work_id}"))
    return see_other(unit)


def _open(session: Session, work_id: int) -> WorkCard:
    card = card_of(session, work_id)
    if card.work.closed:
        raise Refused("visits.closed_already")
    return card


@pages.post("/horse-record/<int:work_id>/undo")
@allow("owner", "field")
def undo(work_id: int) -> Response:
    """Take back what was said about a horse that is not closed."""
    with writing() as unit:
        card = _open(unit.session, work_id)
        service.unsay(unit.session, card.work.visit_id, card.work.subject)
        unit.see_other(url_for("today.day", day=card.day, _anchor=f"horse-{work_id}"))
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/take-off")
@allow("owner", "field")
def take_off(work_id: int) -> Response:
    """Take a planned horse off its day."""
    with writing() as unit:
        card = _open(unit.session, work_id)
        if card.work.outcome != "planned":
            raise Refused("visits.said_already")
        service.take_off_visit(unit.session, card.work.visit_id, card.work.subject)
        unit.see_other(url_for("today.day", day=card.day))
    flash("visits.taken_off")
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/tap")
@allow("owner", "field")
@once
def tap(work_id: int) -> Response:
    """Say one thing of a horse; one that is written up is put right."""
    form = TapForm.typed()
    if not form.validate():
        raise Refused("choice.unknown")
    with writing(*form.key()) as unit:
        card = card_of(unit.session, work_id)
        pairs = _tapped(unit.session, card, form.what.data or "")
        record(unit.session, card, facts_of(card, pairs))
        unit.see_other(url_for("visits.work", work_id=work_id))
    return see_other(unit)


def _tapped(session: Session, card: WorkCard, what: str) -> list[Pair]:
    match what:
        case "absent":
            return [(FactSort.ABSENT, {})]
        case "fronts" | "hinds":
            return _one_end(card, "H" if what == "fronts" else "F")
        case "owner_pays":
            owner = queries.work_more(session, card.work.id).owner_id
            if owner is None:
                raise Refused("visits.owner_unknown")
            return [(FactSort.PAYERS, {"parts": [[owner, 1]]})]
        case "as_always":
            return [(FactSort.PAYERS, {"parts": []})]
    return [(FactSort.AS_PLANNED, {})]


def _one_end(card: WorkCard, left: str) -> list[Pair]:
    """Say that all was done as planned but the feet at one end."""
    if ends(card.work.feet) != {"F", "H"}:
        raise Refused("visits.one_end_only")
    feet = {
        line.foot: {"done": FootWork.NOT_DONE.value}
        for line in card.work.feet
        if line.foot[1] == left and FootWork(line.planned).worked
    }
    return [(FactSort.AS_PLANNED, {}), (FactSort.FEET, {"feet": feet})]


@pages.post("/horse-record/<int:work_id>/lost")
@allow("owner", "field")
@once
def lost(work_id: int) -> Response:
    """Say that a shoe had come off, and went back on or was made good by another."""
    form = LostForm.typed()
    form.offer()
    if not form.validate():
        return show(work_id, lost_form=form, status=422)

    def says(session: Session, card: WorkCard) -> list[Pair]:
        foot = Foot(form.foot.data or "")
        word = None if form.lost.data == "not" else form.lost.data
        state = _put_back(session, card, foot, word)
        return [(FactSort.FEET, {"feet": {foot.value: foot_facts(state)}})]

    return tell(
        form,
        work_id,
        says,
        lambda status: show(work_id, lost_form=form, status=status),
        url_for("visits.work", work_id=work_id),
    )


def _put_back(session: Session, card: WorkCard, foot: Foot, lost: str | None) -> FootState:
    """Give what goes on a foot whose shoe was lost: what is planned there, else what it wore.

    Its own shoe goes back on with new nails; for one that is gone a new one of the same kind.
    """
    line = next((line for line in card.work.feet if line.foot == foot), None)
    done = FootWork(line.done) if line else FootWork.NONE
    horse_id = card.work.horse_id
    known: dict[str, Any] = {}
    if line is not None and done.shod:
        known = {"shoe": line.shoe_id, "nail": line.nail_id, "nails": line.nails}
        known["pad"] = line.pad_id
    elif lost and horse_id is not None:
        worn = queries.wears_of(session, [horse_id]).get((horse_id, foot))
        if worn is not None:
            known = {"shoe": worn.shoe, "nail": worn.nail, "nails": worn.nails, "pad": worn.pad}
    if lost == "gone":
        done = FootWork.NEW
    elif lost and not done.shod:
        done = FootWork.RESET
    planned = FootWork(line.planned) if line else FootWork.NONE
    return FootState(planned=planned, done=done, lost=lost, **known)


@pages.post("/horse-record/<int:work_id>/more")
@allow("owner", "field")
@once
def more(work_id: int) -> Response:
    """Write down a note and how long a horse took."""
    form = MoreForm.typed()
    if not form.validate():
        return show(work_id, more_form=form, status=422)

    def says(_session: Session, card: WorkCard) -> list[Pair]:
        pairs: list[Pair] = []
        if form.note.data != card.work.note:
            pairs.append((FactSort.NOTE, {"text": form.note.data}))
        if form.minutes.data is not None and (
            not card.minutes_told or form.minutes.data != card.minutes
        ):
            pairs.append((FactSort.MINUTES, {"minutes": form.minutes.data}))
        return pairs

    return tell(
        form,
        work_id,
        says,
        lambda status: show(work_id, more_form=form, status=status),
        url_for("visits.work", work_id=work_id),
    )
