"""What was done to each foot of a horse: asked, said, and put right."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import request, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.pricing import queries as pricing
from backoffice.stock import queries as stock
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, rules
from backoffice.visits.queries import WorkCard, WorkFootLine
from backoffice.visits.rules import FactSort, FootState
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, CountField, Form, LinesField, SelectId, refuse
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.telling import Pair, SaysForm, card_of, name_of, tell
from backoffice.web.writing import reading

SEE_OTHER = 303


class FootForm(Form):
    """What was done to one foot."""

    done = ChoiceField(
        "Done",
        [(done.value, "{done." + done.value + "}") for done in FootWork],
        needed=True,
    )
    shoe = SelectId("Shoe")
    nails = CountField("Nails in it", most=1_000)
    nail = SelectId("Which nails")


class FeetForm(SaysForm):
    """What was done to a horse."""

    service = SelectId("What was it?")
    note = LinesField("Note for the record")


@dataclass(frozen=True, slots=True, kw_only=True)
class FootField:
    """One foot of the form."""

    foot: str
    label: str
    form: FootForm


@dataclass(frozen=True, slots=True, kw_only=True)
class FeetPage:
    """The form of four feet."""

    card: WorkCard
    name: str
    form: FeetForm
    feet: tuple[FootField, ...]
    action: str


Offers = Mapping[str, Sequence[tuple[int, str]]]


@pages.get("/horse-record/<int:work_id>/feet")
@allow("owner", "field")
def feet(work_id: int) -> Response:
    """Ask what was done to each foot."""
    with reading() as session:
        card = card_of(session, work_id)
        form = FeetForm(data={"service": card.work.service_id, "note": card.work.note})
        form.look_again(session, card)
        offers = _offers(session)
    known = {line.foot: line for line in card.work.feet}
    parts = [FootForm(data=_typed(known.get(foot.value)), prefix=f"{foot}-") for foot in Foot]
    _offered(form, parts, offers)
    return _page(card, form, parts)


def _typed(line: WorkFootLine | None) -> dict[str, object]:
    if line is None:
        return {"done": "none"}
    return {"done": line.done, "shoe": line.shoe_id, "nails": line.nails, "nail": line.nail_id}


def _offers(session: Session) -> Offers:
    return {
        "service": [(row.id, row.name) for row in pricing.services(session)],
        "shoe": stock.choices(session, "shoe"),
        "nail": stock.choices(session, "nail"),
    }


def _offered(form: FeetForm, parts: Sequence[FootForm], offers: Offers) -> None:
    form.service.offer(offers["service"])
    for part in parts:
        part.shoe.offer(offers["shoe"])
        part.nail.offer(offers["nail"])


def _page(card: WorkCard, form: FeetForm, parts: Sequence[FootForm], status: int = 200) -> Response:
    speech = caller().speech
    endpoint = "visits.put_right" if card.work.closed else "visits.say_feet"
    return render(
        "visits/feet.html",
        FeetPage(
            card=card,
            name=name_of(card),
            form=form,
            feet=tuple(
                FootField(foot=foot, label=speech.say(f"foot.long.{foot}"), form=part)
                for foot, part in zip(Foot, parts, strict=True)
            ),
            action=url_for(endpoint, work_id=card.work.id),
        ),
        status=status,
    )


@pages.post("/horse-record/<int:work_id>/feet")
@allow("owner", "field")
@once
def say_feet(work_id: int) -> Response:
    """Say what was done to each foot of a horse."""
    return _save(work_id)


@pages.post("/horse-record/<int:work_id>/put-right")
@allow("owner")
@once
def put_right(work_id: int) -> Response:
    """Put right what was done to a horse that is written up; stock, wear and price follow."""
    return _save(work_id)


def _save(work_id: int) -> Response:
    with reading() as session:
        card = card_of(session, work_id)
        lost = {one.foot: one.lost for one in queries.work_more(session, work_id).lost}
        offers = _offers(session)
    form = FeetForm.typed()
    parts = [FootForm(formdata=request.form, prefix=f"{foot}-") for foot in Foot]
    _offered(form, parts, offers)
    states = _states(form, parts, card, lost)
    if states is None:
        return _page(card, form, parts, 422)

    def says(_session: Session, now: WorkCard) -> list[Pair]:
        data: dict[str, Any] = {
            "feet": {foot.value: rules.foot_facts(state) for foot, state in states.items()}
        }
        if form.service.data is not None:
            data["service"] = form.service.data
        pairs: list[Pair] = [(FactSort.FEET, data)]
        if form.note.data != now.work.note:
            pairs.append((FactSort.NOTE, {"text": form.note.data}))
        return pairs

    closed = card.work.closed
    anchor = f"horse-{work_id}"
    leads = (
        url_for("visits.work", work_id=work_id)
        if closed
        else url_for("today.day", day=card.day, _anchor=anchor)
    )
    answer = tell(form, work_id, says, lambda status: _page(card, form, parts, status), leads)
    if closed and answer.status_code == SEE_OTHER:
        flash("visits.put_right")
    return answer


def _states(
    form: FeetForm, parts: Sequence[FootForm], card: WorkCard, lost: Mapping[str, str]
) -> dict[Foot, FootState] | None:
    """Read four feet, or put a sentence beside what cannot be meant.

    What the form does not ask stays as it was said: a pad, and a shoe that had come off before.
    """
    sound = [form.validate(), *(part.validate() for part in parts)]
    planned = {line.foot: FootWork(line.planned) for line in card.work.feet}
    pads = {line.foot: line.pad_id for line in card.work.feet}
    states: dict[Foot, FootState] = {}
    for foot, part in zip(Foot, parts, strict=True):
        if not part.done.data or part.errors:
            continue
        done = FootWork(part.done.data)
        try:
            nails = part.nails.data
            if nails is not None and done.shod:
                rules.sayable_nails(nails)
        except Refused as refused:
            refuse(part, Refused(refused.code, field="nails", **refused.facts))
            sound.append(False)
            continue
        shod = done.shod
        states[foot] = FootState(
            planned=planned.get(foot.value, FootWork.NONE),
            done=done,
            shoe=part.shoe.data if shod else None,
            nail=part.nail.data if shod else None,
            nails=nails if shod else None,
            pad=pads.get(foot.value) if shod else None,
            lost=lost.get(foot.value) if shod else None,
        )
    return states if all(sound) else None
