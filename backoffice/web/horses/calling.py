"""What is asked when somebody calls about a horse, answered in a few lines."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from flask import url_for

from backoffice.billing import queries as billing
from backoffice.clients.queries import HorseCard
from backoffice.db import Session
from backoffice.planning import rules
from backoffice.practice import queries as practice
from backoffice.practice.rules import Settings
from backoffice.pricing import queries as pricing
from backoffice.units import Foot
from backoffice.visits import queries as visits
from backoffice.visits.queries import FootNow, HorsePast, Lost, OpenWork, WorkFootLine
from backoffice.web.caller import caller
from backoffice.web.feet import FootDrawn, drawn
from backoffice.web.forms import Form, SelectId
from backoffice.web.generic import Link

YEAR = timedelta(days=365)


class LostForm(Form):
    """Who puts a lost shoe back on."""

    farrier = SelectId("Who goes", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """The answers to a call about a horse; ``why_not`` says why it cannot go on today."""

    done: str
    wears: tuple[str, ...]
    guarantee: tuple[str, ...]
    owes: str
    lost: str
    days: tuple[Link, ...]
    feet: tuple[FootDrawn, ...]
    form: LostForm | None
    why_not: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is read to answer a call about a horse."""

    feet: tuple[FootNow, ...]
    lost: Lost
    works: tuple[OpenWork, ...]
    owed: int
    owing_since: date | None
    settings: Settings
    service_id: int | None
    farriers: tuple[tuple[int, str], ...]


def asked(session: Session, card: HorseCard) -> Asked:
    """Read what is asked when somebody calls about a horse."""
    paying = [line.client_id for line in card.payers if line.client_id is not None]
    owed = billing.owed(session, paying)
    return Asked(
        feet=visits.feet_now(session, card.id),
        lost=visits.lost_shoes(session, card.id, card.details.yard_id, caller().today - YEAR),
        works=visits.open_works(session, card.id),
        owed=sum(max(0, cents) for cents in owed.values()),
        owing_since=min(billing.oldest_due(session, paying).values(), default=None),
        settings=practice.settings(session),
        service_id=rules.lost_shoe_service(pricing.services(session)),
        farriers=practice.farrier_choices(session),
    )


def call(card: HorseCard, past: HorsePast, found: Asked, form: LostForm | None = None) -> Call:
    """Answer a call about a horse, in words."""
    may_go = card.life == "active" and all(work.day != caller().today for work in found.works)
    why_not = ""
    if may_go and found.service_id is None:
        why_not = caller().speech.say("planning.no_lost_shoe_service")
    elif may_go and card.details.yard_id is None:
        why_not = caller().speech.say("planning.where_does_it_stand")
    if form is None and may_go and not why_not:
        form = LostForm(data={"farrier": next((id_ for id_, _ in found.farriers), None)})
        form.farrier.offer(found.farriers)
    return Call(
        done=_done(past.last_day),
        wears=_by_feet([(foot.foot, _wears(foot)) for foot in found.feet]),
        guarantee=_guarantees(past, found),
        owes=_owes(found),
        lost=_lost(found.lost, card),
        days=tuple(_day(work) for work in found.works),
        feet=_drawn(found.feet),
        form=form,
        why_not=why_not,
    )


def _done(last_day: date | None) -> str:
    say = caller().speech.say
    if last_day is None:
        return say("call.never")
    days = (caller().today - last_day).days
    return say("call.done_ago", days=days) if days > 0 else say("call.done_today")


def _by_feet(said: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Say once what holds for several feet."""
    speech = caller().speech
    feet: dict[str, list[str]] = {}
    for foot, says in said:
        feet.setdefault(says, []).append(speech.foot(foot))
    if len(said) == len(Foot) and len(feet) == 1:
        feet = {said[0][1]: [speech.say("call.all_feet")]}
    return tuple(
        speech.say("call.for_feet", feet=" ".join(named), says=says) for says, named in feet.items()
    )


def _wears(foot: FootNow) -> str:
    say = caller().speech.say
    if foot.nailed_on is None:
        return say("call.bare")
    shoe = f"{foot.shoe_name} {foot.size}".strip() if foot.shoe_name else say("feet.size_unknown")
    nails = say("feet.nails", nails=foot.nails) if foot.nails else ""
    kind = f" ({foot.nail_name})" if foot.nails and foot.nail_name else ""
    return say("call.last_wore" if foot.bare else "call.wears", shoe=shoe, nails=nails + kind)


def _guarantees(past: HorsePast, found: Asked) -> tuple[str, ...]:
    stands = [
        (foot.foot, _if_lost(foot.nailed_on, past.due_day, found))
        for foot in found.feet
        if not foot.bare
    ]
    if len({says for _, says in stands}) == 1:
        return (stands[0][1],)
    return _by_feet(stands)


def _if_lost(nailed_on: date | None, due_day: date | None, found: Asked) -> str:
    stands = rules.if_lost(
        nailed_on,
        caller().today,
        due_day=due_day,
        owing_since=found.owing_since,
        days=found.settings["guarantee_days"],
        owed_days=found.settings["guarantee_owed_days"],
    )
    return caller().speech.say(stands.reason, day=stands.day, of=stands.of)


def _owes(found: Asked) -> str:
    say = caller().speech.say
    if not found.owed:
        return say("call.owes_nothing")
    days = (caller().today - found.owing_since).days if found.owing_since else 0
    code = "call.owes_past_due" if days > 0 else "call.owes"
    return say(code, owed_cents=found.owed, days=days)


def _lost(lost: Lost, card: HorseCard) -> str:
    say = caller().speech.say
    own = say("call.lost", horse=lost.horse) if lost.horse else say("call.lost_none")
    here = say("call.lost_here", yard=lost.yard) if lost.yard else say("call.none_here")
    return own + (here if card.details.yard_id else "")


def _day(work: OpenWork) -> Link:
    speech = caller().speech
    service = work.service_name or speech.say("unknown")
    says = speech.say("call.planned", on_day=work.day, service=service)
    if work.outcome != "planned" or work.day < caller().today:
        outcome = speech.say(f"outcome.{work.outcome}")
        says = speech.say("call.not_written_up", on_day=work.day, outcome=outcome)
    return Link(url=url_for("today.day", day=work.day, _anchor=f"horse-{work.work_id}"), text=says)


def _drawn(feet: Sequence[FootNow]) -> tuple[FootDrawn, ...]:
    """Draw the feet as they stand: bare ones trimmed, with what they last wore in words."""
    if all(foot.nailed_on is None for foot in feet):
        return ()
    known = {foot.foot: foot for foot in feet}
    lines = []
    for foot in Foot:
        now = known.get(foot.value)
        line = WorkFootLine(foot=foot.value, planned="none", done="none")
        if now is not None and now.bare:
            line = replace(line, done="trim")
        elif now is not None:
            line = replace(line, done=now.done, size=now.size, nails=now.nails, pad_id=now.pad_id)
        lines.append(line)
    return tuple(
        replace(one, words=_wears(known[one.foot])) if one.done == "trim" else one
        for one in drawn(lines, caller().speech)
    )
