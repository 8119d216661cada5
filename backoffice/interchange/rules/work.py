"""What do the lists of past work, money out and money owed say?"""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.blocks import Block, Row
from backoffice.interchange.rules.brought import (
    BroughtHorse,
    BroughtJob,
    BroughtOwed,
    BroughtSpending,
    Value,
)
from backoffice.interchange.rules.context import Reading
from backoffice.interchange.rules.dates import read_day
from backoffice.interchange.rules.headings import is_heading, is_month
from backoffice.interchange.rules.known import Known
from backoffice.interchange.rules.people import SEVERAL, owner_of
from backoffice.interchange.rules.trade import feet_of, method_of
from backoffice.interchange.rules.values import NO, YES, plain_text, read_amount, said
from backoffice.money import split


def jobs_of(block: Block, reading: Reading, known: Known) -> list[BroughtJob]:
    """Read past work row by row: an empty day is that of the row above, what lies ahead stays out.

    Rounding: an amount for several horses is split into equal parts, without losing a cent.
    Source: docs/rules/interchange.md#past-work
    """
    jobs = []
    day: date | None = None
    client = _client_of_sheet(block, reading, known)
    for row in block.rows:
        if client is not None:
            row = replace(row, values=row.values | {"client": client})
        day = _day_of(block, row, day, reading)
        name = row.text("horse")
        if name is None or day is None:
            continue
        names = _horses_named(name, known)
        amount = reading.amount(row, "amount")
        paid = _paid(row, amount, reading)
        if len(names) > 1:
            reading.note(row, "horse", "read.changed.horses_parted", count=len(names))
        for no, one in enumerate(names):
            horse = horse_meant(row, one, reading, known)
            if horse is not None:
                share, of_it = _share(amount, no, names), _share(paid, no, names)
                jobs.append(_job(row, "horse", day, horse, row.text("what"), share, of_it))
    return _kept(jobs, reading)


def _day_of(block: Block, row: Row, above: date | None, reading: Reading) -> date | None:
    """Give the day of a row, its own or that of the row above, and note what lacks."""
    if row.text("horse") is None and not (row.alone and row.text("day")):
        reading.note(row, "horse", "read.unread.row_unnamed")
        return above
    if row.text("day") is not None:
        above = reading.day(block, row, "day")
    elif above is not None:
        reading.note(row, "day", "read.changed.date_carried", on_day=above)
    if above is None:
        reading.note(row, "day", "read.unread.row_no_day")
    return above


def _client_of_sheet(block: Block, reading: Reading, known: Known) -> str | None:
    """Give the client a sheet is named after, where its list names none."""
    name = " ".join(block.sheet.split())
    if "client" in block.headings or not block.rows:
        return None
    if kept := known.people.known(name):
        return kept
    if not re.fullmatch(r"[^\W\d_]+\.?( [^\W\d_]+){1,2}", name) or is_heading(name.split()[-1]):
        return None
    told = reading.ask(
        f"sheet:{name}",
        "read.doubt.sheet",
        choices=("yes", "no"),
        rows=len(block.rows),
        sheet=name,
    )
    return name if told == "yes" else None


def _horses_named(name: str, known: Known) -> list[str]:
    """Part "Tuppence, Mister" into the horses of those names; a name of its own is left whole."""
    parts = [part.strip() for part in SEVERAL.split(name)]
    if search_key(name) in known.named or any(search_key(p) not in known.named for p in parts):
        return [name]
    return list(dict.fromkeys(parts))


def _share(amount: int | None, no: int, names: Sequence[str]) -> int | None:
    return None if amount is None else split(amount, [1] * len(names))[no]


def _job(
    row: Row,
    column: str,
    day: date,
    horse: BroughtHorse,
    what: str | None,
    amount: int | None,
    paid: int | None,
) -> BroughtJob:
    fronts, hinds = feet_of(what)
    return BroughtJob(
        at=row.at(column),
        day=day,
        horse=horse.name,
        client=horse.clients[0][0] if horse.clients else None,
        what=what or horse.usual or "",
        fronts=fronts if what else horse.fronts,
        hinds=hinds if what else horse.hinds,
        amount=amount,
        paid=paid,
        method=method_of(row.values.get("method")) or _method_in_paid(row),
    )


def _kept(jobs: Sequence[BroughtJob], reading: Reading) -> list[BroughtJob]:
    """Leave out what lies ahead, and the second of two rows that say the same."""
    kept: dict[tuple[object, ...], BroughtJob] = {}
    for job in jobs:
        key = (job.day, search_key(job.horse), job.client, search_key(job.what), job.amount)
        if job.day > reading.today:
            reading.note_at(job.at, job.horse, "read.unread.job_ahead", on_day=job.day)
        elif key in kept:
            first = f"{kept[key].at.sheet}, {kept[key].at.address}"
            reading.note_at(job.at, job.horse, "read.unread.job_twice", first=first)
        else:
            kept[key] = job
    return list(kept.values())


def _paid(row: Row, amount: int | None, reading: Reading) -> int | None:
    """Read what was paid: an amount, yes for all of it, no for nothing, empty for not said."""
    value = row.values.get("paid")
    text = search_key(plain_text(value))
    if said(value) is None:
        return None
    if text in NO:
        return 0
    dated = not isinstance(value, int | float) and read_day(value, reading.today, order="mdy").day
    if text in YES or dated or _method_in_paid(row):
        return amount
    return reading.amount(row, "paid")


def _method_in_paid(row: Row) -> str | None:
    """Give how it was paid where that stands in the place of the amount: ``cash``, ``ck 1043``."""
    text = row.text("paid") or ""
    method = method_of(text) if re.match(r"[^\W\d_]", text) else None
    return None if method == "other" else method


def horse_meant(row: Row, name: str, reading: Reading, known: Known) -> BroughtHorse | None:
    """Give the horse a row of work means: by name and client, asking where it may be several.

    A horse no list has is taken in as a further one.
    Source: docs/rules/interchange.md#past-work
    """
    client = owner_of(row, "client", name, reading, known)
    same = known.named.get(search_key(name), [])
    if client is not None:
        own = [h for h in same if client in [payer for payer, _ in h.clients]]
        if len(own) == 1:
            return own[0]
        if same and not own:
            return _other_owner(row, name, client, same, reading, known)
    elif len(same) == 1:
        return same[0]
    elif same:
        owners = tuple(horse.clients[0][0] if horse.clients else "?" for horse in same)
        told = reading.ask(
            f"horse:{name}",
            "read.doubt.horse",
            row,
            choices=owners,
            value=name,
            names=" / ".join(owners),
        )
        return same[owners.index(told)] if told in owners else None
    return _further_horse(row, name, client, reading, known)


def _other_owner(
    row: Row, name: str, client: str, same: Sequence[BroughtHorse], reading: Reading, known: Known
) -> BroughtHorse | None:
    """Ask whether a known horse stands here with somebody else, or a further one of its name."""
    owners = tuple(horse.clients[0][0] if horse.clients else "?" for horse in same)
    told = reading.ask(
        f"horse:{name}:{client}",
        "read.doubt.owner",
        row,
        choices=(*owners, "new"),
        value=name,
        client=client,
        names=" / ".join(owners),
    )
    if told in owners:
        return same[owners.index(told)]
    return _further_horse(row, name, client, reading, known) if told == "new" else None


def _further_horse(
    row: Row, name: str, client: str | None, reading: Reading, known: Known
) -> BroughtHorse:
    clients = ((client, 1),) if client else ()
    horse = BroughtHorse(at=row.at("horse"), name=name, clients=clients)
    known.add_horse(horse)
    reading.note(row, "horse", "read.changed.horse_added", name=name)
    return horse


def pivot_of(block: Block, reading: Reading, known: Known) -> list[BroughtJob]:
    """Read a year's sheet with a column for each month, horse by horse.

    What a number in a cell is, a day or an amount, is asked once for the sheet; where only the
    month is known the work is dated its first day.
    Source: docs/rules/interchange.md#a-year-on-one-sheet
    """
    jobs = []
    months = [name for name in block.headings if name.startswith("month ")]
    for row in block.rows:
        name = row.text("horse")
        cells = [column for column in months if row.text(column) is not None]
        if name is None:
            reading.note(row, "horse", "read.unread.row_unnamed")
            continue
        horse = horse_meant(row, name, reading, known) if cells else None
        if horse is not None:
            read = [_month_cell(block, row, column, horse, reading) for column in cells]
            jobs += [job for job in read if job]
    return _kept(jobs, reading)


def _month_cell(
    block: Block, row: Row, column: str, horse: BroughtHorse, reading: Reading
) -> BroughtJob | None:
    value = row.values[column]
    month = is_month(block.headings[column]) or is_month(_iso(block.headings[column]))
    year = _year_of(block, column, reading)
    if month is None or year is None:
        return None
    if not isinstance(value, int | float):
        read = read_day(value, reading.today, order=reading.options.date_order, year=year)
        if read.day:
            return _job(row, column, read.day, horse, None, None, None)
    text = plain_text(value)
    number = re.search(r"[$£€]?\d[\d.,]*", text)
    words = said((text[: number.start()] + text[number.end() :]).strip(" ,-")) if number else text
    words = None if words and words.casefold() in YES else words
    if number is None:
        reading.note(row, column, "read.changed.month_only")
        return _job(row, column, date(year, month, 1), horse, words, None, None)
    told = reading.ask(
        f"cells:{block.sheet}",
        "read.doubt.cells",
        row,
        choices=("days", "amounts", "leave"),
        value=text,
    )
    if told == "days":
        day = read_day(f"{year}-{month:02}-{number[0]:0>2}", reading.today, order=None).day
        if day is None:
            reading.note(row, column, "read.unread.date_unreadable")
            return None
        return _job(row, column, day, horse, words, None, None)
    if told == "amounts":
        amount = read_amount(number[0], reading.currency).cents
        reading.note(row, column, "read.changed.month_only")
        return _job(row, column, date(year, month, 1), horse, words, amount, None)
    if told == "leave":
        reading.note(row, column, "read.unread.left_as_told")
    return None


def _iso(text: str) -> Value:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _year_of(block: Block, column: str, reading: Reading) -> int | None:
    found = re.search(r"(?:19|20)\d\d", block.headings[column])
    if found or block.year:
        return int(found[0]) if found else block.year
    told = reading.ask(f"year:{block.sheet}", "read.doubt.year", choices=(), sheet=block.sheet)
    return int(told) if told and re.fullmatch(r"(?:19|20)\d\d", told) else None


def unpaid(
    jobs: Sequence[BroughtJob], reading: Reading, *, listed: bool
) -> tuple[list[BroughtJob], list[BroughtOwed]]:
    """Ask what an empty or smaller payment means, unless a list of what is owed is there.

    Source: docs/rules/interchange.md#what-is-owed
    """
    short = [job for job in jobs if job.amount and (job.paid is None or job.paid < job.amount)]
    if listed or not short:
        return list(jobs), []
    open_jobs = set(short)
    told = reading.ask(
        "unpaid",
        "read.doubt.unpaid",
        choices=("owed", "settled", "unknown"),
        rows=len(short),
        sheet=short[0].at.sheet,
        count=len(short),
        total_cents=sum((job.amount or 0) - (job.paid or 0) for job in short),
    )
    if told == "settled":
        return [replace(job, paid=job.amount) if job in open_jobs else job for job in jobs], []
    if told != "owed":
        return list(jobs), []
    owed: dict[tuple[str, str], BroughtOwed] = {}
    for job in short:
        if job.client is None:
            reading.note_at(job.at, job.horse, "read.unread.owed_by_nobody")
            continue
        reference = " ".join(filter(None, (job.day.isoformat(), job.horse, job.what)))
        alike = sum(who == job.client and old.startswith(reference) for who, old in owed)
        reference = f"{reference} ({alike + 1})" if alike else reference
        left = (job.amount or 0) - (job.paid or 0)
        owed[job.client, reference] = BroughtOwed(
            at=job.at, client=job.client, reference=reference, amount=left, day=job.day
        )
    told_so = [replace(job, paid=job.paid or 0) if job in open_jobs else job for job in jobs]
    return told_so, list(owed.values())


def spending_of(block: Block, reading: Reading) -> list[BroughtSpending]:
    """Read money out; an empty day is that of the row above.

    Source: docs/rules/interchange.md#money-out
    """
    found = []
    day: date | None = None
    for row in block.rows:
        amount = reading.amount(row, "amount")
        if row.text("day") is not None:
            day = reading.day(block, row, "day")
        elif day is not None and amount is not None:
            reading.note(row, "day", "read.changed.date_carried", on_day=day)
        if amount is None or day is None:
            code = "read.unread.row_no_amount" if amount is None else "read.unread.row_no_day"
            reading.note(row, "amount" if amount is None else "day", code)
            continue
        if day > reading.today:
            reading.note(row, "day", "read.unread.spending_ahead", on_day=day)
            continue
        found.append(
            BroughtSpending(
                at=row.at("amount"),
                day=day,
                supplier=row.text("supplier"),
                what=row.text("what"),
                amount=amount,
                paid_by=method_of(row.values.get("method")),
            )
        )
    return found


def owed_of(block: Block, reading: Reading, known: Known) -> list[BroughtOwed]:
    """Read what clients still owe, with the old reference.

    Source: docs/rules/interchange.md#what-is-owed
    """
    found: dict[tuple[str, str], BroughtOwed] = {}
    for row in block.rows:
        client = owner_of(row, "client", None, reading, known)
        amount = reading.amount(row, "amount")
        if amount == 0:
            reading.note(row, "amount", "read.unread.nothing_owed")
            continue
        if client is None or amount is None:
            reading.note(row, "client", "read.unread.owed_unreadable")
            continue
        day = reading.day(block, row, "day")
        written = row.text("reference")
        reference = written or (day.isoformat() if day else "1")
        if (client, reference) in found:
            number = sum(name == client for name, _ in found) + 1
            reference = f"{reference} ({number})"
        if reference != written:
            reading.note(row, "reference", "read.changed.reference_made", reference=reference)
        found[client, reference] = BroughtOwed(
            at=row.at("amount"), client=client, reference=reference, amount=amount, day=day
        )
    return list(found.values())
