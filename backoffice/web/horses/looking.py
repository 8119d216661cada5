"""All horses with the day each is due, and one horse beside the truck."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import gcd

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.clients import queries
from backoffice.clients.queries import HorseCard, HorseLine, PayerLine
from backoffice.clients.rules import client_label, horse_label
from backoffice.visits import queries as visits
from backoffice.visits.queries import HorsePast
from backoffice.web.caller import caller
from backoffice.web.generic import Link, Row
from backoffice.web.horses.blueprint import pages
from backoffice.web.horses.calling import Call, LostForm, asked, call
from backoffice.web.records import (
    list_page,
    looked_up,
    page_no,
    with_hidden,
)
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading


@pages.get("/horses")
@allow("owner", "field", "books")
def index() -> Response:
    """List horses, each with the day it is due."""
    say = caller().speech.say
    gone = with_hidden()
    with reading() as session:
        listed = queries.horse_list(
            session, caller().today, looked_up(), page_no(), gone=gone, hidden=gone
        )
        due = visits.dues_of(session, [line.id for line in listed.rows])
    owner = caller().role == "owner"
    return list_page(
        listed,
        tuple(_row(line, due.get(line.id)) for line in listed.rows),
        title=say("horses.title"),
        none=say("horses.none"),
        also=say("horses.also_gone"),
        add=Link(url=url_for("horses.new"), text=say("horses.add")) if owner else None,
    )


def _row(line: HorseLine, due: date | None) -> Row:
    speech = caller().speech
    stays = line.life == "active"
    says = [line.type_name, line.yard_name, None if stays else speech.say(f"life.{line.life}")]
    shown = due if stays else None
    return Row(
        url=url_for("horses.show", horse_id=line.id),
        name=horse_label(speech, line.name, line.words),
        says=" · ".join(said for said in says if said),
        end=speech.day(shown) if shown else "",
        end_says=speech.say(_due_word(shown)) if shown else "",
    )


def _due_word(due: date) -> str:
    return "due.late" if due < caller().today else "due.due"


@dataclass(frozen=True, slots=True, kw_only=True)
class Payer:
    """Who pays, and which part in words."""

    client_id: int | None
    name: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HorsePage:
    """A horse as it is looked at beside the truck, or asked about on the telephone."""

    card: HorseCard
    past: HorsePast
    call: Call
    name: str
    owner: str
    payers: tuple[Payer, ...]
    due: str
    cycle: str
    sees_money: bool


@pages.get("/horses/<int:horse_id>")
@allow("owner", "field", "books")
def show(horse_id: int) -> Response:
    """Show one horse."""
    return horse_page(horse_id)


def horse_page(horse_id: int, form: LostForm | None = None, status: int = 200) -> Response:
    """Draw the page of a horse; with a form, the one that was refused."""
    speech, today = caller().speech, caller().today
    with reading() as session:
        card = queries.horse_card(session, horse_id, today)
        past = visits.horse_past(session, horse_id)
        found = asked(session, card)
    if form is not None:
        form.farrier.offer(found.farriers)
    return render(
        "horses/show.html",
        HorsePage(
            card=card,
            past=past,
            call=call(card, past, found, form),
            name=name_of(card),
            owner=client_label(speech, card.owner_name) if card.details.owner_id else "",
            payers=_payers(card.payers),
            due=speech.say(_due_word(past.due_day)) if past.due_day else "",
            cycle=_cycle(card.details.cycle_days),
            sees_money=caller().role != "field",
        ),
        status=status,
    )


def name_of(card: HorseCard) -> str:
    """Name a horse on a page about it."""
    return horse_label(caller().speech, card.details.name, card.details.words)


def _payers(lines: Sequence[PayerLine]) -> tuple[Payer, ...]:
    speech = caller().speech
    whole = sum(line.parts for line in lines)
    return tuple(
        Payer(
            client_id=line.client_id,
            name=client_label(speech, line.name) if line.client_id else speech.say("unknown"),
            part=_part(line.parts, whole) if line.client_id else "",
        )
        for line in lines
    )


def _part(parts: int, whole: int) -> str:
    say = caller().speech.say
    shared = gcd(parts, whole)
    part, of = parts // shared, whole // shared
    if (part, of) in ((1, 1), (1, 2), (1, 3), (2, 3), (1, 4), (3, 4)):
        return say(f"horses.part.{part}_{of}")
    if 100 % of == 0:
        return say("horses.percent", percent=part * (100 // of))
    return say("horses.part", part=part, of=of)


def _cycle(days: int | None) -> str:
    if days is None:
        return ""
    weeks, left = divmod(days, 7)
    said = [
        caller().speech.say("horses.weeks", weeks=weeks) if weeks else "",
        caller().speech.say("horses.days", days=left) if left else "",
    ]
    return " ".join(part for part in said if part)
