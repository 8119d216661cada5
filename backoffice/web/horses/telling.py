"""What is said of a horse: next time, how to handle it, what became of it."""

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries, service
from backoffice.clients.queries import HorseCard
from backoffice.clients.rules import GONE
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.pricing import queries as pricing
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CreatesForm,
    DayField,
    Form,
    SelectId,
    TextField,
)
from backoffice.web.horses.blueprint import pages
from backoffice.web.horses.looking import name_of
from backoffice.web.records import (
    form_page,
    keep,
)
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash
from backoffice.web.writing import reading

FLAGS = ("kicks", "leans", "two_people", "sedation", "do_not_tie", "head_shy", "other")


class NextForm(Form):
    """What a horse gets next time."""

    service = SelectId("What is planned")
    day = DayField("When")
    note = TextField("Note for next time")


@pages.get("/horses/<int:horse_id>/next-time")
@allow("owner")
def next_time(horse_id: int) -> Response:
    """Ask what a horse gets next time."""
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
        past = visits.horse_past(session, horse_id)
        form = NextForm(
            data={"service": past.next_service_id, "day": past.due_day, "note": past.next_note}
        )
        form.service.offer(_services(session))
    return _next_page(card, form)


def _services(session: Session) -> list[tuple[int, str]]:
    return [(service.id, service.name) for service in pricing.services(session)]


def _next_page(card: HorseCard, form: NextForm, status: int = 200) -> Response:
    say = caller().speech.say
    return form_page(
        form,
        title=say("horses.next_of", name=name_of(card)),
        back=url_for("horses.show", horse_id=card.id),
        hints={"note": say("horses.next_note_hint")},
        status=status,
    )


@pages.post("/horses/<int:horse_id>/next-time")
@allow("owner")
def set_next_time(horse_id: int) -> Response:
    """Save what a horse gets next time."""
    form = NextForm.typed()
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
        form.service.offer(_services(session))

    def save_next(session: Session) -> int:
        visiting.set_next_time(session, horse_id, form.service.data, form.day.data, form.note.data)
        return horse_id

    return keep(
        form,
        save_next,
        lambda _id: url_for("horses.show", horse_id=horse_id),
        lambda status: _next_page(card, form, status),
    )


class FlagForm(CreatesForm):
    """How a horse must be handled."""

    flag = ChoiceField("What it does", [(f, "{flag." + f + "}") for f in FLAGS], needed=True)
    note = TextField("What to do about it")
    from_day = DayField("Since when", needed=True)


@pages.get("/horses/<int:horse_id>/handling")
@allow("owner")
def handling(horse_id: int) -> Response:
    """Ask how a horse must be handled."""
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
    return _flag_page(card, FlagForm(data={"from_day": caller().today}))


def _flag_page(card: HorseCard, form: FlagForm, status: int = 200) -> Response:
    say = caller().speech.say
    return form_page(
        form,
        title=say("horses.handling_of", name=name_of(card)),
        under=say("horses.handling_under"),
        back=url_for("horses.show", horse_id=card.id),
        hints={"note": say("horses.flag_note_hint")},
        status=status,
    )


@pages.post("/horses/<int:horse_id>/handling")
@allow("owner")
@once
def add_flag(horse_id: int) -> Response:
    """Save how a horse must be handled."""
    form = FlagForm.typed()
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)

    def save_flag(session: Session) -> int:
        day = form.from_day.data or caller().today
        return service.flag(session, horse_id, form.flag.data or "", form.note.data, day)

    return keep(
        form,
        save_flag,
        lambda _id: url_for("horses.show", horse_id=horse_id),
        lambda status: _flag_page(card, form, status),
    )


class EndForm(Form):
    """The last day a flag holds."""

    until_day = DayField("The last day it holds", needed=True)


@pages.get("/horses/<int:horse_id>/handling/<int:flag_id>/end")
@allow("owner")
def end(horse_id: int, flag_id: int) -> Response:
    """Ask until when a flag holds."""
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
    return _end_page(card, flag_id, EndForm(data={"until_day": caller().today}))


def _end_page(card: HorseCard, flag_id: int, form: EndForm, status: int = 200) -> Response:
    say = caller().speech.say
    flag = next((flag for flag in card.flags if flag.id == flag_id), None)
    if flag is None:
        raise Refused("record.missing")
    what = say(f"flag.{flag.flag}")
    return form_page(
        form,
        title=say("horses.flag_over", what=what, name=name_of(card)),
        under=flag.note or "",
        submit=say("horses.flag_over_submit"),
        back=url_for("horses.show", horse_id=card.id),
        hints={"until_day": say("horses.until_hint")},
        status=status,
    )


@pages.post("/horses/<int:horse_id>/handling/<int:flag_id>/end")
@allow("owner")
def end_flag(horse_id: int, flag_id: int) -> Response:
    """Save until when a flag holds."""
    form = EndForm.typed()
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
    if all(flag.id != flag_id for flag in card.flags):
        raise Refused("record.missing")

    def save_end(session: Session) -> int:
        if form.until_day.data is not None:
            service.end_flag(session, flag_id, form.until_day.data)
        return horse_id

    return keep(
        form,
        save_end,
        lambda _id: url_for("horses.show", horse_id=horse_id),
        lambda status: _end_page(card, flag_id, form, status),
    )


class LifeForm(Form):
    """What became of a horse."""

    state = ChoiceField(
        "What became of it",
        [(state, "{horses.life." + state + "}") for state in ("sold", "gone", "dead", "active")],
        needed=True,
    )
    from_day = DayField("From which day", needed=True)


@pages.get("/horses/<int:horse_id>/life")
@allow("owner")
def life(horse_id: int) -> Response:
    """Ask what became of a horse."""
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)
    state = None if card.life == "active" else card.life
    return _life_page(card, LifeForm(data={"state": state, "from_day": caller().today}))


def _life_page(card: HorseCard, form: LifeForm, status: int = 200) -> Response:
    say = caller().speech.say
    return form_page(
        form,
        title=say("horses.life_of", name=name_of(card)),
        under=say("horses.life_under"),
        back=url_for("horses.show", horse_id=card.id),
        status=status,
    )


@pages.post("/horses/<int:horse_id>/life")
@allow("owner")
def set_life(horse_id: int) -> Response:
    """Save what became of a horse."""
    form = LifeForm.typed()
    with reading() as session:
        card = queries.horse_card(session, horse_id, caller().today)

    def save_life(session: Session) -> int:
        if form.from_day.data is not None:
            state = form.state.data or ""
            service.set_life(session, horse_id, form.from_day.data, state)
            if state in GONE:
                visiting.take_off(session, horse_id, form.from_day.data)
        return horse_id

    answer = keep(
        form,
        save_life,
        lambda _id: url_for("horses.show", horse_id=horse_id),
        lambda status: _life_page(card, form, status),
    )
    if answer.status_code == 303 and form.state.data != "active":
        flash("horses.stopped", name=name_of(card), from_day=form.from_day.data)
    return answer
