"""Who are the clients, where do their horses stand, and who pays for which horse on a day?"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, RowMapping, Select, bindparam, func, select, true
from sqlalchemy.orm import Session, aliased

from backoffice.clients import rules
from backoffice.clients.models import (
    Client,
    Horse,
    HorseFlag,
    HorseLife,
    HorseType,
    PayerPart,
    PayerSet,
    Yard,
)
from backoffice.clients.rules import ClientDetails, HorseDetails, HorseTypeDetails, YardDetails
from backoffice.errors import Refused
from backoffice.practice.rules import PAGE, Listed, details_of
from backoffice.words import Speech

MOST_CHOICES = 1_000

Rows = Select[*tuple[Any, ...]]
Payers = tuple[tuple[int | None, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientLine:
    """A client in a list."""

    id: int
    name: str | None
    phone: str | None
    email: str | None
    bill_when: str
    hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class YardLine:
    """A yard in a list, and how many horses stand there now."""

    id: int
    name: str | None
    address: str | None
    miles: int | None
    horses: int
    hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseLine:
    """A horse in a list, as it is on a day."""

    id: int
    name: str | None
    words: str | None
    type_name: str | None
    yard_id: int | None
    yard_name: str | None
    life: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagLine:
    """How a horse must be handled, and since when."""

    id: int
    flag: str
    note: str | None
    from_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PayerLine:
    """Who pays which part; without a client it is not known yet."""

    client_id: int | None
    name: str | None
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientCard:
    """A client and the horses he pays for, in part or in full."""

    id: int
    details: ClientDetails
    horses: tuple[HorseLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardHorse:
    """A horse at a yard and how it must be handled."""

    horse: HorseLine
    flags: tuple[FlagLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class YardCard:
    """A yard and the horses that stand there on a day."""

    id: int
    details: YardDetails
    horses: tuple[YardHorse, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseCard:
    """A horse as it is on a day."""

    id: int
    details: HorseDetails
    type_name: str | None
    yard_name: str | None
    gate_note: str | None
    owner_name: str | None
    life: str
    life_since: date | None
    flags: tuple[FlagLine, ...]
    payers: tuple[PayerLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseTypeCard:
    """A kind of horse, in a list or alone."""

    id: int
    details: HorseTypeDetails


def _found(row: Any) -> Any:
    if row is None:
        raise Refused("record.missing")
    return row


def _paged(session: Session, rows: Rows, page: int) -> tuple[Sequence[RowMapping], bool]:
    here = rows.offset((max(page, 1) - 1) * PAGE).limit(PAGE + 1)
    found = session.execute(here).mappings().all()
    return found[:PAGE], len(found) > PAGE


def _life(day: date) -> ColumnElement[str]:
    latest = (
        select(HorseLife.state)
        .where(HorseLife.horse_id == Horse.id, HorseLife.from_day <= day)
        .order_by(HorseLife.from_day.desc())
        .limit(1)
        .correlate(Horse)
        .scalar_subquery()
    )
    return func.coalesce(latest, "active")


def _horses(day: date) -> Rows:
    return (
        select(
            Horse.id,
            Horse.name,
            Horse.words,
            HorseType.name.label("type_name"),
            Horse.yard_id,
            Yard.name.label("yard_name"),
            _life(day).label("life"),
        )
        .outerjoin(HorseType, HorseType.id == Horse.type_id)
        .outerjoin(Yard, Yard.id == Horse.yard_id)
        .order_by(func.coalesce(Horse.search_key, ""), Horse.id)
    )


def _horse_lines(rows: Sequence[RowMapping]) -> tuple[HorseLine, ...]:
    return tuple(HorseLine(**row) for row in rows)


def _sets_in_force(horse_id: Any, day: Any) -> ColumnElement[bool]:
    other = aliased(PayerSet)
    latest = (
        select(func.max(other.from_day))
        .where(other.horse_id == horse_id, other.from_day <= day)
        .scalar_subquery()
    )
    return PayerSet.from_day == latest


_PAYERS = (
    select(PayerSet.horse_id, PayerPart.client_id, PayerPart.parts)
    .join(PayerPart, PayerPart.set_id == PayerSet.id)
    .where(
        PayerSet.horse_id.in_(bindparam("horses", expanding=True)),
        _sets_in_force(PayerSet.horse_id, bindparam("day", type_=PayerSet.from_day.type)),
    )
    .order_by(PayerSet.horse_id, PayerPart.place_no)
)


def payers_on(session: Session, horse_ids: Sequence[int], day: date) -> dict[int, Payers]:
    """Say who pays for each horse on a day, in the order named; (None, 1) is not known yet."""
    rows = session.execute(_PAYERS, {"horses": list(set(horse_ids)), "day": day})
    named: dict[int, list[tuple[int | None, int]]] = {}
    for horse_id, client_id, parts in rows:
        named.setdefault(horse_id, []).append((client_id, parts))
    return {
        horse_id: tuple(named[horse_id]) if horse_id in named else rules.NOBODY_KNOWN
        for horse_id in horse_ids
    }


def lives_on(session: Session, horse_ids: Sequence[int], day: date) -> dict[int, str]:
    """Say of each horse whether it is active, sold, gone or dead on a day."""
    rows = session.execute(select(Horse.id, _life(day)).where(Horse.id.in_(set(horse_ids))))
    return dict(rows.all())


_day = bindparam("day", type_=HorseFlag.from_day.type)
_HELD = (
    select(HorseFlag.id, HorseFlag.horse_id, HorseFlag.flag, HorseFlag.note, HorseFlag.from_day)
    .where(
        HorseFlag.horse_id.in_(bindparam("horses", expanding=True)),
        HorseFlag.from_day <= _day,
        HorseFlag.until_day.is_(None) | (HorseFlag.until_day >= _day),
    )
    .order_by(HorseFlag.from_day, HorseFlag.id)
)


def flags_on(
    session: Session, horse_ids: Sequence[int], day: date
) -> dict[int, tuple[FlagLine, ...]]:
    """Say how each horse must be handled on a day, the oldest flag first."""
    rows = session.execute(_HELD, {"horses": list(set(horse_ids)), "day": day})
    flags: dict[int, list[FlagLine]] = {horse_id: [] for horse_id in horse_ids}
    for row in rows:
        flags[row.horse_id].append(
            FlagLine(id=row.id, flag=row.flag, note=row.note, from_day=row.from_day)
        )
    return {horse_id: tuple(held) for horse_id, held in flags.items()}


def client_list(
    session: Session, search: str = "", page: int = 1, *, hidden: bool = False
) -> Listed[ClientLine]:
    """List clients by name, those whose name, telephone or e-mail holds what is searched."""
    rows = select(
        Client.id, Client.name, Client.phone, Client.email, Client.bill_when, Client.hidden
    ).order_by(func.coalesce(Client.search_key, ""), Client.id)
    if key := rules.search_key(search):
        rows = rows.where(Client.search_key.contains(key, autoescape=True))
    if not hidden:
        rows = rows.where(Client.hidden == 0)
    found, more = _paged(session, rows, page)
    lines = tuple(ClientLine(**row) for row in found)
    return Listed(rows=lines, page=max(page, 1), more=more)


def client(session: Session, client_id: int) -> ClientDetails:
    """Give a client as his edit form shows him."""
    row: Client = _found(session.get(Client, client_id))
    return details_of(ClientDetails, row)


def client_card(session: Session, client_id: int, day: date) -> ClientCard:
    """Give a client and the horses he pays for on a day."""
    pays = (
        select(PayerSet.horse_id)
        .join(PayerPart, PayerPart.set_id == PayerSet.id)
        .where(PayerPart.client_id == client_id, _sets_in_force(PayerSet.horse_id, day))
    )
    his = _horses(day).where(Horse.id.in_(pays), Horse.hidden == 0).limit(PAGE)
    details = client(session, client_id)
    horses = _horse_lines(session.execute(his).mappings().all())
    return ClientCard(id=client_id, details=details, horses=horses)


def yard_list(
    session: Session, day: date, search: str = "", page: int = 1, *, hidden: bool = False
) -> Listed[YardLine]:
    """List yards by name, those whose name or address holds what is searched."""
    here = (
        select(func.count(Horse.id))
        .where(Horse.yard_id == Yard.id, Horse.hidden == 0, _life(day) == "active")
        .correlate(Yard)
        .scalar_subquery()
    )
    rows = select(
        Yard.id, Yard.name, Yard.address, Yard.miles, here.label("horses"), Yard.hidden
    ).order_by(func.lower(func.coalesce(Yard.name, "")), Yard.id)
    if not hidden:
        rows = rows.where(Yard.hidden == 0)
    key = rules.search_key(search)
    if not key:
        found, more = _paged(session, rows, page)
    else:
        some = session.execute(rows.limit(MOST_CHOICES)).mappings().all()
        hits = [row for row in some if key in rules.search_key(row["name"], row["address"])]
        start = (max(page, 1) - 1) * PAGE
        found, more = hits[start : start + PAGE], len(hits) > start + PAGE
    lines = tuple(YardLine(**row) for row in found)
    return Listed(rows=lines, page=max(page, 1), more=more)


def active_horses_of_yard(session: Session, yard_id: int, day: date) -> tuple[HorseLine, ...]:
    """List the horses that stand at a yard on a day; the sold, gone and dead are left out."""
    rows = _horses(day).where(Horse.yard_id == yard_id, Horse.hidden == 0, _life(day) == "active")
    return _horse_lines(session.execute(rows.limit(PAGE)).mappings().all())


def horses_maybe_of_yard(session: Session, yard_id: int | None, day: date) -> tuple[HorseLine, ...]:
    """List the horses that may stand at a yard on a day: its own, and those of no known place."""
    there = Horse.yard_id.is_(None) | (Horse.yard_id == yard_id) if yard_id else true()
    rows = _horses(day).where(there, Horse.hidden == 0, _life(day) == "active")
    return _horse_lines(session.execute(rows.limit(PAGE)).mappings().all())


def yard_card(session: Session, yard_id: int, day: date) -> YardCard:
    """Give a yard and the horses there on a day, each with how it must be handled."""
    row: Yard = _found(session.get(Yard, yard_id))
    horses = active_horses_of_yard(session, yard_id, day)
    flags = flags_on(session, [horse.id for horse in horses], day)
    details = details_of(YardDetails, row)
    here = tuple(YardHorse(horse=horse, flags=flags[horse.id]) for horse in horses)
    return YardCard(id=row.id, details=details, horses=here)


def horse_list(
    session: Session,
    day: date,
    search: str = "",
    page: int = 1,
    *,
    gone: bool = False,
    hidden: bool = False,
) -> Listed[HorseLine]:
    """List horses by name; ``gone`` lists the sold, gone and dead as well."""
    rows = _horses(day)
    if key := rules.search_key(search):
        rows = rows.where(Horse.search_key.contains(key, autoescape=True))
    if not gone:
        rows = rows.where(_life(day) == "active")
    if not hidden:
        rows = rows.where(Horse.hidden == 0)
    found, more = _paged(session, rows, page)
    return Listed(rows=_horse_lines(found), page=max(page, 1), more=more)


def horse_card(session: Session, horse_id: int, day: date) -> HorseCard:
    """Give a horse as it is on a day: its kind, its yard, its flags and who pays."""
    row: Horse = _found(session.get(Horse, horse_id))
    rows = _horses(day).add_columns(Yard.gate_note).where(Horse.id == horse_id)
    line = session.execute(rows).one()
    since = session.scalar(
        select(func.max(HorseLife.from_day)).where(
            HorseLife.horse_id == horse_id, HorseLife.from_day <= day
        )
    )
    paying = payers_on(session, [horse_id], day)[horse_id]
    ids = {id_ for id_ in (row.owner_id, *(c for c, _ in paying)) if id_ is not None}
    names = dict(session.execute(select(Client.id, Client.name).where(Client.id.in_(ids))).all())
    details = details_of(HorseDetails, row)
    return HorseCard(
        id=row.id,
        details=details,
        type_name=line.type_name,
        yard_name=line.yard_name,
        gate_note=line.gate_note,
        owner_name=names.get(row.owner_id or 0),
        life=line.life,
        life_since=since,
        flags=flags_on(session, [horse_id], day)[horse_id],
        payers=tuple(
            PayerLine(client_id=c, name=None if c is None else names[c], parts=parts)
            for c, parts in paying
        ),
    )


def horse_types(session: Session, *, hidden: bool = False) -> tuple[HorseTypeCard, ...]:
    """List the kinds of horse in the order they were made."""
    rows = select(HorseType).order_by(HorseType.id).limit(PAGE)
    if not hidden:
        rows = rows.where(HorseType.hidden == 0)
    return tuple(_type_card(row) for row in session.scalars(rows))


def horse_type_card(session: Session, type_id: int) -> HorseTypeCard:
    """Give one kind of horse."""
    return _type_card(_found(session.get(HorseType, type_id)))


def _type_card(row: HorseType) -> HorseTypeCard:
    details = details_of(HorseTypeDetails, row)
    return HorseTypeCard(id=row.id, details=details)


def client_choices(session: Session, speech: Speech) -> tuple[tuple[int, str], ...]:
    """Give the clients a form may offer, by name."""
    rows = (
        select(Client.id, Client.name)
        .where(Client.hidden == 0)
        .order_by(func.coalesce(Client.search_key, ""), Client.id)
        .limit(MOST_CHOICES)
    )
    return tuple((id_, rules.client_label(speech, name)) for id_, name in session.execute(rows))


def yard_choices(session: Session, speech: Speech) -> tuple[tuple[int, str], ...]:
    """Give the yards a form may offer, by name."""
    rows = (
        select(Yard.id, Yard.name)
        .where(Yard.hidden == 0)
        .order_by(func.lower(func.coalesce(Yard.name, "")), Yard.id)
        .limit(MOST_CHOICES)
    )
    return tuple((id_, rules.yard_label(speech, name)) for id_, name in session.execute(rows))


def type_choices(session: Session) -> tuple[tuple[int, str], ...]:
    """Give the kinds of horse a form may offer."""
    return tuple((card.id, card.details.name) for card in horse_types(session))


def horses_of_type(session: Session, type_id: int) -> tuple[int, ...]:
    """Give the horses of one kind."""
    return tuple(session.scalars(select(Horse.id).where(Horse.type_id == type_id)))
