"""Saving clients, yards, horses and their kinds; who pays, how to handle a horse, where it went."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.clients import rules
from backoffice.clients.models import (
    BILL_HOW,
    BILL_WHEN,
    FLAGS,
    GROUNDS,
    Client,
    Horse,
    HorseFlag,
    HorseLife,
    HorseType,
    PayerPart,
    PayerSet,
    Yard,
)
from backoffice.clients.rules import (
    ClientDetails,
    HorseDetails,
    HorseTypeDetails,
    YardDetails,
    starting_types,
)
from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.practice.rules import amount, choice, line, needed, note, whole
from backoffice.practice.service import must_be_free, must_exist, save_record


def _maybe(value: int | None, field: str, least: int = 0) -> int | None:
    return None if value is None else whole(value, field, least=least)


def save_client(session: Session, details: ClientDetails, id: int | None = None) -> int:
    """Save someone who is billed."""
    name, phone = line(details.name, "name"), line(details.phone, "phone")
    email = line(details.email, "email")
    return save_record(
        session,
        Client,
        id,
        details.version,
        name=name,
        address=note(details.address, "address"),
        phone=phone,
        email=email,
        notes=note(details.notes, "notes"),
        search_key=rules.search_key(name, phone, email),
        sort=choice(details.sort, ("private", "business"), "sort"),
        bill_when=choice(details.bill_when, BILL_WHEN, "bill_when"),
        bill_how=choice(details.bill_how, BILL_HOW, "bill_how"),
        terms_days=_maybe(details.terms_days, "terms_days"),
        hidden=details.hidden,
    )


def save_yard(session: Session, details: YardDetails, id: int | None = None) -> int:
    """Save where horses stand."""
    ground, call_out = details.ground, details.call_out
    return save_record(
        session,
        Yard,
        id,
        details.version,
        name=line(details.name, "name"),
        address=note(details.address, "address"),
        gate_note=note(details.gate_note, "gate_note"),
        notes=note(details.notes, "notes"),
        ground=None if ground is None else choice(ground, GROUNDS, "ground"),
        miles=_maybe(details.miles, "miles"),
        call_out=None if call_out is None else amount(call_out, "call_out"),
        hidden=details.hidden,
    )


def save_horse_type(session: Session, details: HorseTypeDetails, id: int | None = None) -> int:
    """Save a kind of horse."""
    name = needed(details.name, "name")
    must_be_free(session, HorseType, HorseType.name == name, name, id)
    return save_record(
        session,
        HorseType,
        id,
        details.version,
        name=name,
        wear_factor=whole(details.wear_factor, "wear_factor", least=1),
        time_factor=whole(details.time_factor, "time_factor", least=1),
        nails=whole(details.nails, "nails", least=1, most=16),
        shod_days=whole(details.shod_days, "shod_days", least=1),
        trim_days=whole(details.trim_days, "trim_days", least=1),
        hidden=details.hidden,
    )


def save_horse(session: Session, details: HorseDetails, id: int | None = None) -> int:
    """Save a horse."""
    name, words = line(details.name, "name"), line(details.words, "words")
    must_exist(session, HorseType, details.type_id, "type_id")
    must_exist(session, Yard, details.yard_id, "yard_id")
    must_exist(session, Client, details.owner_id, "owner_id")
    return save_record(
        session,
        Horse,
        id,
        details.version,
        name=name,
        words=words,
        notes=note(details.notes, "notes"),
        search_key=rules.search_key(name, words),
        type_id=details.type_id,
        yard_id=details.yard_id,
        owner_id=details.owner_id,
        weight_lb=_maybe(details.weight_lb, "weight_lb", least=1),
        cycle_days=_maybe(details.cycle_days, "cycle_days", least=1),
        hidden=details.hidden,
    )


def _lock_horse(session: Session, horse_id: int) -> None:
    if session.get(Horse, horse_id, with_for_update=True) is None:
        raise Refused("record.missing")


def set_payers(
    session: Session, horse_id: int, from_day: date, parts: Sequence[tuple[int, int]]
) -> None:
    """Say who pays for a horse from a day on, in the order that takes odd cents.

    Naming nobody says that it is not known from that day on. Said twice for a day, the second
    replaces the first.
    """
    _lock_horse(session, horse_id)
    named = rules.payer_parts(parts)
    for client_id, _ in named:
        must_exist(session, Client, client_id, "parts")
    day = sensible(from_day)
    that_day = (PayerSet.horse_id == horse_id, PayerSet.from_day == day)
    found = session.scalar(select(PayerSet).where(*that_day))
    if found is None:
        found = PayerSet(horse_id=horse_id, from_day=day)
        session.add(found)
        session.flush()
    kept = session.scalars(
        select(PayerPart).where(PayerPart.set_id == found.id).order_by(PayerPart.place_no)
    ).all()
    for row, (client_id, part) in zip(kept, named, strict=False):
        row.client_id, row.parts = client_id, part
    for row in kept[len(named) :]:
        session.delete(row)
    for place_no, (client_id, part) in enumerate(named[len(kept) :], start=len(kept)):
        session.add(PayerPart(set_id=found.id, client_id=client_id, place_no=place_no, parts=part))
    session.flush()


def set_life(session: Session, horse_id: int, from_day: date, state: str) -> None:
    """Say that from a day on a horse is active, sold, gone or dead."""
    _lock_horse(session, horse_id)
    choice(state, ("active", *rules.GONE), "state")
    day = sensible(from_day)
    that_day = (HorseLife.horse_id == horse_id, HorseLife.from_day == day)
    row = session.scalar(select(HorseLife).where(*that_day))
    if row is None:
        session.add(HorseLife(horse_id=horse_id, from_day=day, state=state))
    else:
        row.state = state
    session.flush()


def flag(session: Session, horse_id: int, flag: str, note_text: str | None, from_day: date) -> int:
    """Say how a horse must be handled, from a day on."""
    must_exist(session, Horse, horse_id, "horse_id")
    row = HorseFlag(
        horse_id=horse_id,
        flag=choice(flag, FLAGS, "flag"),
        note=note(note_text, "note"),
        from_day=sensible(from_day),
        until_day=None,
    )
    session.add(row)
    session.flush()
    return row.id


def end_flag(session: Session, flag_id: int, until_day: date) -> None:
    """Say that a flag holds no longer after a day.

    Raises: Refused before the day it began.
    """
    row = session.get(HorseFlag, flag_id, with_for_update=True)
    if row is None:
        raise Refused("record.missing")
    if sensible(until_day) < row.from_day:
        raise Refused("flag.ends_before", field="until_day", from_day=row.from_day)
    row.until_day = until_day
    session.flush()


def start_types(session: Session, words: str) -> None:
    """Give a new practice the kinds of horse everybody does."""
    for details in starting_types(words):
        save_horse_type(session, details)
