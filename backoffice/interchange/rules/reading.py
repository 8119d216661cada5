"""What does a whole workbook say? From its sheets to what can be brought in, and what is asked."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from backoffice.clients.rules import search_key
from backoffice.errors import Refused
from backoffice.interchange.rules.blocks import Block, find_blocks
from backoffice.interchange.rules.brought import Brought, BroughtHorse, Grid, Note, Options
from backoffice.interchange.rules.context import Reading
from backoffice.interchange.rules.known import Known
from backoffice.interchange.rules.names import read_name
from backoffice.interchange.rules.people import clients_of, horses_beside, horses_of
from backoffice.interchange.rules.places import yard_spellings, yards_of
from backoffice.interchange.rules.things import matrix_of, prices_of, stock_of, tools_of
from backoffice.interchange.rules.work import jobs_of, owed_of, pivot_of, spending_of, unpaid


def understand(grids: Sequence[Grid], options: Options, today: date, currency: str) -> Brought:
    """Say what a workbook holds for a farrier's practice, and what must be asked first.

    Whatever the order of its sheets: clients are read first, then barns, horses, past work and
    what is owed, so that each can name the ones before.

    Units: amounts in minor units of the currency, stock in singles.
    Raises: Refused if nothing in it is for this job.
    Source: docs/rules/interchange.md#reading-a-workbook
    """
    found = find_blocks(grids, options)
    if not found.blocks:
        raise Refused("workbook.nothing_found")
    reading = Reading(options, today, currency, list(found.notes))
    reading.doubts = {doubt.option: doubt for doubt in found.doubts}
    known = Known()
    of = {kind: [block for block in found.blocks if block.kind == kind] for kind in _ORDER}
    for block in of["clients"]:
        clients_of(block, reading, known)
    for block in of["yards"]:
        yards_of(block, reading, known)
    known.seen = _seen(of["horses"], of["jobs"])
    for block in of["horses"]:
        horses_of(block, reading, known)
    horses_beside(reading, known)
    jobs = [job for block in of["jobs"] for job in jobs_of(block, reading, known)]
    jobs += [job for block in of["pivot"] for job in pivot_of(block, reading, known)]
    listed = [one for block in of["owed"] for one in owed_of(block, reading, known)]
    jobs, left = unpaid(jobs, reading, listed=bool(of["owed"]))
    rows = [row for block in of["clients"] + of["horses"] for row in block.rows]
    yard_spellings(rows, known)
    return Brought(
        clients=tuple(known.clients.values()),
        yards=tuple(known.yards.values()),
        horses=tuple(_in_kept_spelling(horse, known) for horse in known.horses.values()),
        prices=tuple(
            [price for block in of["prices"] for price in prices_of(block, reading)]
            + [price for block in of["matrix"] for price in matrix_of(block, reading)]
        ),
        stock=tuple(item for block in of["stock"] for item in stock_of(block, reading)),
        tools=tuple(tool for block in of["tools"] for tool in tools_of(block, reading)),
        jobs=tuple(jobs),
        spending=tuple(one for block in of["spending"] for one in spending_of(block, reading)),
        owed=tuple(listed + left),
        notes=_once(reading.notes),
        doubts=tuple(sorted(reading.doubts.values(), key=lambda d: (-d.rows, d.option))),
    )


_ORDER = (
    "clients", "yards", "horses", "jobs", "pivot", "owed", "prices", "matrix", "stock", "tools",
    "spending",
)  # fmt: skip


def _seen(horses: Sequence[Block], jobs: Sequence[Block]) -> dict[str, set[str]]:
    """Collect which names stand beside each horse anywhere; one worked on may have none."""
    seen: dict[str, set[str]] = {}
    named = [(block, "name", "owner") for block in horses]
    named += [(block, "horse", "client") for block in jobs]
    for block, horse, owner in named:
        for row in block.rows:
            name, _ = read_name(row.values.get(owner))
            if row.text(horse) and (name or horse == "horse"):
                beside = seen.setdefault(search_key(row.text(horse)), set())
                beside.update([name] if name else [])
    return seen


def _in_kept_spelling(horse: BroughtHorse, known: Known) -> BroughtHorse:
    yard = known.yards[horse.yard].name if horse.yard else None
    return replace(horse, yard=yard)


def _once(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Leave out what was noted about a cell before."""
    kept: dict[tuple[object, str], Note] = {}
    for note in notes:
        kept.setdefault((note.at, note.code), note)
    return tuple(kept.values())
