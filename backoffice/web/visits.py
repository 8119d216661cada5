"""One horse at a visit: what was done, what it cost and left, and putting it right."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flask import Blueprint, abort, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from backoffice.billing import queries as bills
from backoffice.clients.rules import horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.pricing import queries as pricing
from backoffice.stock import queries as stock
from backoffice.units import Foot, FootWork
from backoffice.visits import queries, rules, service
from backoffice.visits.queries import WorkCard, WorkFootLine
from backoffice.visits.rules import FactSort, FootState, Said
from backoffice.web.caller import caller
from backoffice.web.feet import FootDrawn, drawn
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    CreatesForm,
    Form,
    LinesField,
    MoneyField,
    SelectId,
    new_key,
    refuse,
)
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("visits", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A line of a price as it is read."""

    text: str
    why: str
    amount: int
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPage:
    """One horse at a visit."""

    card: WorkCard
    name: str
    feet: tuple[FootDrawn, ...]
    reasons: tuple[Reason, ...]
    bills: tuple[bills.BillLine, ...]
    fact_key: str


@pages.get("/horse-record/<int:work_id>")
@allow("owner", "field", "books")
def work(work_id: int) -> Response:
    """Show one horse at a visit."""
    with reading() as session:
        card = _card(session, work_id)
        on = bills.bills_of_work(session, work_id)
    speech = caller().speech
    return render(
        "visits/work.html",
        WorkPage(
            card=card,
            name=horse_label(speech, card.work.name, card.work.words),
            feet=drawn(card.work.feet, speech),
            reasons=_reasons(card),
            bills=on,
            fact_key=new_key(),
        ),
    )


def _card(session: Session, work_id: int) -> WorkCard:
    card = queries.work_card(session, work_id)
    if card is None:
        abort(404)
    return card


def _reasons(card: WorkCard) -> tuple[Reason, ...]:
    speech = caller().speech
    lines = [
        Reason(
            text=line.service_name or speech.say(f"line.{line.sort}").capitalize(),
            why=speech.say(line.reason, **line.facts)
            + (speech.say("price.waived_part", waived_cents=line.waived) if line.waived else ""),
            amount=line.quoted,
            kind="line",
        )
        for line in card.lines
    ]
    total = sum(line.quoted for line in card.lines)
    end = Reason(text=speech.say("price.total"), why="", amount=total, kind="end")
    return (*lines, end) if lines else ()


@pages.post("/horse-record/<int:work_id>/as-planned")
@allow("owner", "field")
def as_planned(work_id: int) -> Response:
    """Say that a horse was done as planned."""
    return _say(work_id, FactSort.AS_PLANNED)


@pages.post("/horse-record/<int:work_id>/not-there")
@allow("owner", "field")
def not_there(work_id: int) -> Response:
    """Say that a horse was not there or not caught."""
    return _say(work_id, FactSort.ABSENT)


@pages.post("/horse-record/<int:work_id>/undo")
@allow("owner", "field")
def undo(work_id: int) -> Response:
    """Take back what was said about a horse that is not closed."""
    with writing() as unit:
        card = _card(unit.session, work_id)
        if card.work.closed:
            raise Refused("visits.closed_already")
        service.unsay(unit.session, card.work.visit_id, card.work.subject)
        unit.see_other(url_for("today.day", day=card.day, _anchor=f"horse-{work_id}"))
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/take-off")
@allow("owner", "field")
def take_off(work_id: int) -> Response:
    """Take a planned horse off its day."""
    with writing() as unit:
        card = _card(unit.session, work_id)
        if card.work.outcome != "planned" or card.work.closed:
            raise Refused("visits.closed_already")
        service.take_off_visit(unit.session, card.work.visit_id, card.work.subject)
        unit.see_other(url_for("today.day", day=card.day))
    flash("visits.taken_off")
    return see_other(unit)


def _say(work_id: int, sort: FactSort, **data: object) -> Response:
    with writing() as unit:
        card = _card(unit.session, work_id)
        if card.work.closed:
            raise Refused("visits.closed_already")
        service.say(unit.session, card.work.visit_id, [_fact(card, sort, **data)])
        day = url_for("today.day", day=card.day, _anchor=f"horse-{work_id}")
        unit.see_other(day)
    return see_other(unit)


def _fact(card: WorkCard, sort: FactSort, **data: object) -> Said:
    sent = request.form.get("fact", "")
    key = sent if sent.isalnum() and len(sent) <= 64 else new_key()
    fact_id = f"table-{card.work.id}-{key}"
    return Said(id=fact_id, subject=card.work.subject, sort=sort, data=data)


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


class FeetForm(CreatesForm):
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
    fact_key: str


@pages.get("/horse-record/<int:work_id>/feet")
@allow("owner", "field")
def feet(work_id: int) -> Response:
    """Ask what was done to each foot."""
    with reading() as session:
        card = _card(session, work_id)
        offers = _offers(session)
    form = FeetForm(data={"service": card.work.service_id, "note": card.work.note})
    known = {line.foot: line for line in card.work.feet}
    parts = [FootForm(data=_typed(known.get(foot.value)), prefix=f"{foot}-") for foot in Foot]
    return _feet_page(card, form, parts, offers)


def _typed(line: WorkFootLine | None) -> dict[str, object]:
    if line is None:
        return {"done": "none"}
    return {"done": line.done, "shoe": line.shoe_id, "nails": line.nails, "nail": line.nail_id}


Offers = Mapping[str, Sequence[tuple[int, str]]]


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


def _feet_page(
    card: WorkCard, form: FeetForm, parts: Sequence[FootForm], offers: Offers, status: int = 200
) -> Response:
    _offered(form, parts, offers)
    speech = caller().speech
    endpoint = "visits.put_right" if card.work.closed else "visits.say_feet"
    return render(
        "visits/feet.html",
        FeetPage(
            card=card,
            name=horse_label(speech, card.work.name, card.work.words),
            form=form,
            feet=tuple(
                FootField(foot=foot, label=speech.say(f"foot.long.{foot}"), form=part)
                for foot, part in zip(Foot, parts, strict=True)
            ),
            action=url_for(endpoint, work_id=card.work.id),
            fact_key=new_key(),
        ),
        status=status,
    )


@pages.post("/horse-record/<int:work_id>/feet")
@allow("owner", "field")
def say_feet(work_id: int) -> Response:
    """Say what was done to each foot of a horse that is not closed."""
    form, parts, card, offers = _sent(work_id)
    states = _states(form, parts, card)
    if states is None:
        return _feet_page(card, form, parts, offers, 422)
    data: dict[str, object] = {
        "feet": {foot.value: rules.foot_facts(state) for foot, state in states.items()},
        "service": form.service.data,
    }
    with writing() as unit:
        if card.work.closed:
            raise Refused("visits.closed_already")
        facts = [_fact(card, FactSort.FEET, **data)]
        if form.note.data != card.work.note:
            note = _fact(card, FactSort.NOTE, text=form.note.data)
            facts.append(replace(note, id=f"{note.id}-note"))
        service.say(unit.session, card.work.visit_id, facts)
        unit.see_other(url_for("today.day", day=card.day, _anchor=f"horse-{work_id}"))
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/put-right")
@allow("owner")
@once
def put_right(work_id: int) -> Response:
    """Put right what was done to a closed horse; its price and bill stay."""
    form, parts, card, offers = _sent(work_id)
    states = _states(form, parts, card)
    if states is None:
        return _feet_page(card, form, parts, offers, 422)
    try:
        with writing(*form.key()) as unit:
            service.correct_work(unit.session, work_id, states, today=caller().today)
            unit.see_other(url_for("visits.work", work_id=work_id))
    except Refused as refused:
        refuse(form, refused)
        return _feet_page(card, form, parts, offers, 409)
    flash("visits.put_right")
    return see_other(unit)


def _sent(work_id: int) -> tuple[FeetForm, list[FootForm], WorkCard, Offers]:
    with reading() as session:
        card = _card(session, work_id)
        offers = _offers(session)
    form = FeetForm.typed()
    sent: MultiDict[str, str] = request.form
    parts = [FootForm(formdata=sent, prefix=f"{foot}-") for foot in Foot]
    _offered(form, parts, offers)
    return form, parts, card, offers


def _states(
    form: FeetForm, parts: Sequence[FootForm], card: WorkCard
) -> dict[Foot, FootState] | None:
    """Read four feet, or put a sentence beside what cannot be meant."""
    sound = [form.validate(), *(part.validate() for part in parts)]
    planned = {line.foot: FootWork(line.planned) for line in card.work.feet}
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
        states[foot] = FootState(
            planned=planned.get(foot, FootWork.NONE),
            done=done,
            shoe=part.shoe.data if done.shod else None,
            nail=part.nail.data if done.shod else None,
            nails=nails if done.shod else None,
        )
    return states if all(sound) else None


class PriceForm(CreatesForm):
    """The price told for a horse."""

    told = MoneyField("Price told", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePage:
    """The form of a price."""

    card: WorkCard
    name: str
    form: PriceForm
    reasons: tuple[Reason, ...]


@pages.get("/horse-record/<int:work_id>/price")
@allow("owner")
def price(work_id: int) -> Response:
    """Ask for the price told."""
    with reading() as session:
        card = _card(session, work_id)
    return _price_page(card, PriceForm(data={"told": card.work.price}))


def _price_page(card: WorkCard, form: PriceForm, status: int = 200) -> Response:
    name = horse_label(caller().speech, card.work.name, card.work.words)
    page = PricePage(card=card, name=name, form=form, reasons=_reasons(card))
    return render("visits/price.html", page, status=status)


@pages.post("/horse-record/<int:work_id>/price")
@allow("owner")
@once
def change_price(work_id: int) -> Response:
    """Take the price told; a closed horse is priced anew, its stock stays."""
    form = PriceForm.typed()
    with reading() as session:
        card = _card(session, work_id)
    if not form.validate() or form.told.data is None:
        return _price_page(card, form, 422)
    told = form.told.data
    try:
        with writing(*form.key()) as unit:
            if card.work.closed:
                service.reprice_work(unit.session, work_id, told=told, today=caller().today)
            else:
                fact = _fact(card, FactSort.TOLD, say=told)
                service.say(unit.session, card.work.visit_id, [fact])
            unit.see_other(url_for("visits.work", work_id=work_id))
    except Refused as refused:
        refuse(form, refused)
        return _price_page(card, form, 409)
    return see_other(unit)


@pages.post("/horse-record/<int:work_id>/price-again")
@allow("owner")
@once
def price_again(work_id: int) -> Response:
    """Price a closed horse by the rules again, with its payers as known now."""
    with writing(*PriceForm.typed().key()) as unit:
        service.reprice_work(unit.session, work_id, told=None, today=caller().today)
        unit.see_other(url_for("visits.work", work_id=work_id))
    return see_other(unit)
