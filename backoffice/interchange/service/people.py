"""Bringing in clients, yards and horses: what is new is added, what was not known is filled in."""

from dataclasses import replace
from datetime import date
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from backoffice.clients import service as clients
from backoffice.clients.rules import (
    ClientDetails,
    HorseDetails,
    YardDetails,
    search_key,
    starting_types,
)
from backoffice.interchange.queries import standing
from backoffice.interchange.queries.standing import HorseThere
from backoffice.interchange.rules.brought import (
    Brought,
    BroughtClient,
    BroughtHorse,
    BroughtYard,
)
from backoffice.interchange.rules.report import Tally
from backoffice.practice import queries as practice

SHOD = ("new", "reset")
LIKE = ("pony", "riding", "stock", "sport", "draft", "donkey", "foal")
D = TypeVar("D", ClientDetails, YardDetails, HorseDetails)
HorseKey = tuple[str, str]


def _filled(details: D, **found: Any) -> D | None:
    """Give details with what was not known filled in; None if nothing was."""
    missing = {
        name: value
        for name, value in found.items()
        if value is not None and getattr(details, name) is None
    }
    return replace(details, **missing) if missing else None


def bring_clients(
    session: Session, brought: tuple[BroughtClient, ...], tally: Tally
) -> dict[str, int]:
    """Bring clients in; give the number of each by its name as a search compares it."""
    there = standing.clients_there(session)
    ids = {key: client_id for key, (client_id, _) in there.items()}
    for one in brought:
        key = search_key(one.name)
        found = {
            "phone": one.phone,
            "email": one.email,
            "address": one.address,
            "terms_days": one.terms_days,
            "notes": one.notes,
        }
        tally.count(one.at, "client", new=key not in ids)
        if key in there:
            client_id, details = there.pop(key)
            if (more := _filled(details, **found)) is not None:
                clients.save_client(session, more, client_id)
        elif key not in ids:
            details = ClientDetails(name=one.name, **found)  # type: ignore[arg-type] # as typed
            if one.bill_when is not None:
                details = replace(details, bill_when=one.bill_when)
            ids[key] = clients.save_client(session, details)
    return ids


def bring_yards(session: Session, brought: tuple[BroughtYard, ...], tally: Tally) -> dict[str, int]:
    """Bring yards in; give the number of each by its name as a search compares it."""
    there = standing.yards_there(session)
    ids = {key: yard_id for key, (yard_id, _) in there.items()}
    for one in brought:
        key = search_key(one.name)
        tally.count(one.at, "yard", new=key not in ids)
        if key in there:
            yard_id, details = there.pop(key)
            more = _filled(details, address=one.address, miles=one.miles)
            if more is not None:
                clients.save_yard(session, more, yard_id)
        elif key not in ids:
            made = YardDetails(name=one.name, address=one.address, miles=one.miles)
            ids[key] = clients.save_yard(session, made)
    return ids


class KindOf:
    """Finds a kind of horse by its name, else by what it is like."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._there = standing.kinds_there(session)
        words = practice.practice(session).words
        self._starting = dict(zip(LIKE, starting_types(words), strict=True))

    def __call__(self, kind: str | None, like: str | None) -> int | None:
        """Give a kind of horse; one that every practice starts with is made again if missing."""
        if (found := self._there.get(search_key(kind))) is not None:
            return found
        if like not in self._starting:
            return None
        details = self._starting[like]
        key = search_key(details.name)
        if key not in self._there:
            self._there[key] = clients.save_horse_type(self._session, details)
        return self._there[key]

    def named(self, type_id: int | None, kind: str | None) -> bool:
        """Whether the name of a kind of horse says these words already."""
        return any(
            found == type_id and search_key(kind) in key for key, found in self._there.items()
        )


def bring_horses(
    session: Session,
    brought: tuple[BroughtHorse, ...],
    client_ids: dict[str, int],
    yard_ids: dict[str, int],
    tally: Tally,
    *,
    today: date,
) -> dict[HorseKey, int]:
    """Bring horses in; give the number of each by its name and that of its first client.

    Who pays is said from the first day of the year on.
    """
    there = standing.horses_there(session, today)
    kind_of = KindOf(session)
    ids: dict[HorseKey, int] = {}
    since = date(today.year, 1, 1)
    for one in sorted(brought, key=lambda horse: not horse.clients):
        parts = [(client_ids[search_key(name)], part) for name, part in one.clients]
        key = horse_key(one.name, one.clients[0][0] if one.clients else None)
        yard_id = yard_ids.get(search_key(one.yard))
        type_id = kind_of(one.kind, one.like)
        breed = None if kind_of.named(type_id, one.kind) else one.kind
        found = {
            "type_id": type_id,
            "yard_id": yard_id,
            "owner_id": parts[0][0] if parts else None,
            "cycle_days": one.cycle_days,
            "notes": "\n".join(text for text in (breed, one.notes) if text) or None,
        }
        same = _same(there.get(key[0], []), [client for client, _ in parts], yard_id)
        tally.count(one.at, "horse", new=same is None)
        if same is None:
            ids[key] = _new_horse(session, one, found, today=today)
        else:
            ids[key] = same.id
            there[key[0]].remove(same)
            if (more := _filled(same.details, **found)) is not None:
                clients.save_horse(session, more, same.id)
        if parts and (same is None or not same.clients):
            clients.set_payers(session, ids[key], since, parts)
        _wait(one, found, same, tally)
    return ids


def with_sizes_noted(session: Session, brought: Brought, tally: Tally) -> tuple[BroughtHorse, ...]:
    """Give the horses, with sizes for feet no past job shod written into their notes.

    What a horse wears is what was last nailed on, so these have no other place.
    """
    speech = practice.speech(session)
    shod = {
        (horse_key(job.horse, job.client), front)
        for job in brought.jobs
        for front, done in ((True, job.fronts), (False, job.hinds))
        if done in SHOD
    }
    horses = []
    for one in brought.horses:
        key = horse_key(one.name, one.clients[0][0] if one.clients else None)
        now = {True: one.fronts in SHOD, False: one.hinds in SHOD} if one.last_day else {}
        feet: dict[str, list[str]] = {}
        for shoe in one.wears:
            front = shoe.foot.front
            if (key, front) not in shod and not now.get(front):
                size = " ".join(text for text in (shoe.size, shoe.pattern) if text)
                feet.setdefault(size, []).append(speech.foot(shoe.foot.value))
        lines = [
            speech.say("bring.size_noted", feet=", ".join(which), size=size)
            for size, which in feet.items()
        ]
        if lines:
            count = sum(len(which) for which in feet.values())
            tally.note(one.at, "; ".join(lines), "bring.changed.size_noted", count=count)
        text = "\n".join([*([one.notes] if one.notes else []), *lines])
        horses.append(replace(one, notes=text or None))
    return tuple(horses)


def _new_horse(session: Session, one: BroughtHorse, found: dict[str, Any], *, today: date) -> int:
    horse_id = clients.save_horse(session, HorseDetails(name=one.name, **found))
    for flag, words in one.flags:
        clients.flag(session, horse_id, flag, words, today)
    return horse_id


def horse_key(name: str, client: str | None) -> HorseKey:
    """Give what tells a horse of a workbook from another: its name and its first client's."""
    return search_key(name), search_key(client)


def _same(there: list[HorseThere], client_ids: list[int], yard_id: int | None) -> HorseThere | None:
    """Find a horse among those of its name: of one of its clients, else of nobody at its yard."""
    for horse in there:
        if horse.clients.intersection(client_ids):
            return horse
    for horse in there:
        alike = not horse.clients if client_ids else True
        if alike and yard_id in (None, horse.details.yard_id):
            return horse
    return None


def _wait(one: BroughtHorse, found: dict[str, Any], same: HorseThere | None, tally: Tally) -> None:
    known = same.details if same else HorseDetails()
    if not one.clients and not (same and same.clients):
        tally.wait("bring.wait.payer", one.name)
    if found["yard_id"] is None and known.yard_id is None:
        tally.wait("bring.wait.yard", one.name)
    if found["type_id"] is None and known.type_id is None:
        tally.wait("bring.wait.kind", one.name)
