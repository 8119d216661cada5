"""The sheets of clients, yards, horses and prices."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.billing.models import Balance
from backoffice.clients.models import (
    Client,
    Horse,
    HorseFlag,
    HorseLife,
    PayerPart,
    PayerSet,
    Yard,
)
from backoffice.interchange.document.sheets import Column, Sheet
from backoffice.interchange.queries.names import Names, listed
from backoffice.pricing.models import AgreedPrice, Price, Service
from backoffice.stock.models import Item
from backoffice.units import Foot
from backoffice.visits.models import HorseState, NextTime, Wears

Row = tuple[object, ...]


def clients(session: Session, names: Names) -> Sheet:
    """Everybody who is billed, with what he owes, by name."""
    say = names.say
    return Sheet(
        say("taken.clients"),
        (
            Column(say("taken.name"), width=26),
            Column(say("taken.phone"), width=18),
            Column(say("taken.email"), width=26),
            Column(say("taken.yard")),
            Column(say("taken.address"), width=34),
            Column(say("taken.terms"), width=18),
            Column(say("taken.owes"), "amount"),
            Column(say("taken.notes"), width=40),
        ),
        _clients(session, names),
    )


def _clients(session: Session, names: Names) -> Iterator[Row]:
    yards = defaultdict(list)
    stands = select(Horse.owner_id, Horse.yard_id).where(Horse.hidden == 0).order_by(Horse.id)
    for owner, yard in session.execute(stands):
        yards[owner].append(names.yards.get(yard))
    owed: dict[int, int] = dict(session.execute(select(Balance.client_id, Balance.owed)).all())
    found = session.scalars(select(Client).order_by(Client.id))
    for client in sorted(found, key=lambda one: (one.search_key or "", one.id)):
        yield (
            client.name,
            client.phone,
            client.email,
            listed(yards[client.id]),
            client.address,
            _terms(names, client),
            owed.get(client.id, 0),
            client.notes,
        )


def _terms(names: Names, client: Client) -> str | None:
    """When a client is billed, and how long he has where he has a time of his own."""
    when = names.word("bill_when", client.bill_when)
    if client.terms_days is None:
        return when
    return listed([when, names.speech.say("taken.days", days=client.terms_days)])


def yards(session: Session, names: Names) -> Sheet:
    """Every yard, by name."""
    say = names.say
    return Sheet(
        say("taken.yards"),
        (
            Column(say("taken.yard"), width=26),
            Column(say("taken.address"), width=34),
            Column(say("taken.gate"), width=26),
            Column(say("taken.miles"), "count"),
            Column(say("taken.call_out"), "amount"),
            Column(say("taken.notes"), width=40),
        ),
        (
            (yard.name, yard.address, yard.gate_note, yard.miles, yard.call_out, yard.notes)
            for yard in sorted(
                session.scalars(select(Yard).order_by(Yard.id)),
                key=lambda one: ((one.name or "").casefold(), one.id),
            )
        ),
    )


def horses(session: Session, names: Names) -> Sheet:
    """Every horse: whose it is, where, what it wears, and when it is due."""
    say = names.say
    return Sheet(
        say("taken.horses"),
        (
            Column(say("taken.horse")),
            Column(say("taken.payers"), width=30),
            Column(say("taken.owner"), width=26),
            Column(say("taken.yard")),
            Column(say("taken.kind"), width=16),
            Column(say("taken.front"), width=14),
            Column(say("taken.hind"), width=14),
            Column(say("taken.nails"), width=18),
            Column(say("taken.does"), width=26),
            Column(say("taken.cycle"), "count"),
            Column(say("taken.last_done"), "day"),
            Column(say("taken.due"), "day"),
            Column(say("taken.care"), width=30),
            Column(say("taken.life"), width=14),
            Column(say("taken.notes"), width=40),
        ),
        _horses(session, names),
    )


def _horses(session: Session, names: Names) -> Iterator[Row]:
    payers, flags, lives = _payers(session, names), _flags(session, names), _lives(session, names)
    wears, nails = _wears(session, names)
    usual: dict[int, int | None] = dict(
        session.execute(select(NextTime.horse_id, NextTime.service_id)).all()
    )
    states = {state.horse_id: state for state in session.scalars(select(HorseState))}
    found = session.scalars(select(Horse).order_by(Horse.id))
    for horse in sorted(found, key=lambda one: (one.search_key or "", one.id)):
        state = states.get(horse.id)
        yield (
            names.horses[horse.id],
            payers.get(horse.id),
            names.clients.get(horse.owner_id),
            names.yards.get(horse.yard_id),
            names.kinds.get(horse.type_id),
            _pair(names, wears[horse.id], Foot.LF, Foot.RF),
            _pair(names, wears[horse.id], Foot.LH, Foot.RH),
            listed(nails[horse.id]),
            names.services.get(usual.get(horse.id)),
            horse.cycle_days,
            state.last_day if state else None,
            state.due_day if state else None,
            listed(flags[horse.id]),
            lives.get(horse.id),
            horse.notes,
        )


def _wears(
    session: Session, names: Names
) -> tuple[dict[int, dict[str, str]], dict[int, list[str | None]]]:
    """The size each horse wears on each foot, or what it is called without one, and its nails."""
    shoes = select(Item.id, Item.size_text).where(Item.sort == "shoe")
    sizes: dict[int | None, str] = dict(session.execute(shoes).all())
    wears: dict[int, dict[str, str]] = defaultdict(dict)
    nails: dict[int, list[str | None]] = defaultdict(list)
    for on in session.scalars(select(Wears).order_by(Wears.horse_id, Wears.foot)):
        shoe = sizes.get(on.shoe_item_id) or names.items.get(on.shoe_item_id)
        wears[on.horse_id][on.foot] = shoe or names.speech.say("unknown")
        nails[on.horse_id].append(names.items.get(on.nail_item_id))
    return wears, nails


def _pair(names: Names, wears: dict[str, str], *feet: Foot) -> str | None:
    """One size where both feet wear the same, and each foot with its own where they do not."""
    found = [wears.get(foot.value) for foot in feet]
    if len(set(found)) == 1:
        return found[0]
    each = zip(feet, found, strict=True)
    return listed([f"{names.speech.foot(foot)} {size}" for foot, size in each if size])


def _payers(session: Session, names: Names) -> dict[int, str]:
    """Who pays for each horse by its newest arrangement, with parts where there are several."""
    newest = select(PayerSet.horse_id, PayerSet.id).order_by(PayerSet.horse_id, PayerSet.from_day)
    sets: dict[int, int] = dict(session.execute(newest).all())
    parts: dict[int, list[Any]] = defaultdict(list)
    for part in session.scalars(select(PayerPart).order_by(PayerPart.set_id, PayerPart.place_no)):
        parts[part.set_id].append(part)
    found = {}
    for horse_id, number in sets.items():
        own = parts[number]
        found[horse_id] = " / ".join(
            (names.clients.get(part.client_id) or "") + (f" {part.parts}" if len(own) > 1 else "")
            for part in own
        )
    return found


def _flags(session: Session, names: Names) -> dict[int, list[str | None]]:
    """How each horse is to be handled, as far as it was not ended."""
    found: dict[int, list[str | None]] = defaultdict(list)
    standing = select(HorseFlag).where(HorseFlag.until_day.is_(None)).order_by(HorseFlag.id)
    for flag in session.scalars(standing):
        word = names.word("flag", flag.flag)
        found[flag.horse_id].append(f"{word} ({flag.note})" if flag.note else word)
    return found


def _lives(session: Session, names: Names) -> dict[int, str | None]:
    """Whether each horse is here, sold, gone or dead, by what was said last."""
    order = select(HorseLife).order_by(HorseLife.horse_id, HorseLife.from_day)
    return {life.horse_id: names.word("life", life.state) for life in session.scalars(order)}


def prices(session: Session, names: Names) -> Sheet:
    """Every price from the day it stood, the agreed ones after the others."""
    say = names.say
    return Sheet(
        say("taken.prices"),
        (
            Column(say("taken.service"), width=34),
            Column(say("taken.kind"), width=18),
            Column(say("taken.agreed"), width=26),
            Column(say("taken.from"), "day"),
            Column(say("taken.until"), "day"),
            Column(say("taken.price"), "amount"),
        ),
        _prices(session, names),
    )


def _prices(session: Session, names: Names) -> Iterator[Row]:
    own = select(Price.service_id).where(Price.type_id.is_not(None))
    has_own = set(session.scalars(own))
    for service, price in session.execute(
        select(Service, Price)
        .join(Price, Price.service_id == Service.id)
        .order_by(Service.place_no, Service.id, Price.from_day, Price.id)
    ):
        kind = names.kinds.get(price.type_id)
        if kind is None and service.id in has_own:
            kind = names.say("taken.any_kind")
        yield service.name, kind, None, price.from_day, None, price.amount
    for agreed in session.scalars(
        select(AgreedPrice).order_by(AgreedPrice.client_id, AgreedPrice.from_day, AgreedPrice.id)
    ):
        yield (
            names.services.get(agreed.service_id),
            None,
            names.clients.get(agreed.client_id),
            agreed.from_day,
            agreed.until_day,
            agreed.amount,
        )
