"""What do the lists of clients, barns and horses say?"""

import re
from collections.abc import Sequence
from dataclasses import replace

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.blocks import Block, Row
from backoffice.interchange.rules.brought import (
    BroughtClient,
    BroughtHorse,
    BroughtShoe,
    Value,
)
from backoffice.interchange.rules.context import Reading
from backoffice.interchange.rules.known import Known
from backoffice.interchange.rules.names import (
    by_evidence,
    has_parts,
    payers_named,
    read_name,
    small,
    without_title,
)
from backoffice.interchange.rules.places import yard_named
from backoffice.interchange.rules.trade import (
    cycle_of,
    feet_of,
    flags_of,
    like_kind,
    read_size,
    shoes_of,
    terms_of,
)
from backoffice.interchange.rules.values import lost_zero, read_phone
from backoffice.units import Foot

SEVERAL = re.compile(r"\s*(?:[,;/&+]|\band\b|\bund\b|\bet\b)\s*")
_SAME = frozenset({"same", "gleich", "idem", "ditto", "dito", "igual", '"'})


def clients_of(block: Block, reading: Reading, known: Known) -> None:
    """Read a client list; a client there twice becomes one, with what either row says.

    Source: docs/rules/interchange.md#names
    """
    zero = lost_zero(row.values.get("phone") for row in block.rows)
    spoken = [_client_name(row) for row in block.rows]
    quiet = {search_key(name) for name, code in spoken if name and not code.endswith("shouted")}
    for row, (name, code) in zip(block.rows, spoken, strict=True):
        column = "name" if "name" in block.headings else "last"
        if name is None:
            reading.note(row, column, "read.unread.row_unnamed")
            continue
        if code and not (code.endswith("shouted") and search_key(name) in quiet):
            reading.note(row, column, code, name=name)
        phone, put_right = read_phone(row.values.get("phone"), zero=zero)
        if put_right:
            reading.note(row, "phone", put_right, phone=phone)
        when, days = terms_of(row.values.get("terms"))
        terms = row.text("terms")
        if terms and when is None and days is None:
            reading.note(row, "terms", "read.unread.terms_unreadable")
        client = BroughtClient(
            at=row.at(column),
            name=name,
            phone=phone,
            email=row.text("email"),
            address=row.text("address"),
            bill_when=when,
            terms_days=days,
            notes=row.text("notes"),
        )
        _take_client(client, row, column, reading, known, spoken_so=code == "")
        yard = yard_named(row, "yard", name, known)
        known.beside += [
            BroughtHorse(at=row.at("horses"), name=horse, clients=((name, 1),), yard=yard)
            for horse in SEVERAL.split(row.text("horses") or "")
            if horse
        ]


def horses_beside(reading: Reading, known: Known) -> None:
    """Take in the horses a client list names beside their owners, where no list of horses has them.

    Source: docs/rules/interchange.md#horses
    """
    for horse in known.beside:
        owner = known.clients[search_key(horse.clients[0][0])].name
        if (search_key(horse.name), search_key(owner)) not in known.horses:
            known.add_horse(replace(horse, clients=((owner, 1),)))
            reading.note_at(horse.at, horse.name, "read.changed.horse_added", name=horse.name)


def _client_name(row: Row) -> tuple[str | None, str]:
    name, code = read_name(row.values.get("name"))
    first, last = row.text("first"), row.text("last")
    if last is not None:
        whole = " ".join(filter(None, (first, last)))
        name = " ".join(filter(None, (first, small(last) if last.isupper() else last)))
        code = "read.changed.name_shouted" if name != whole else ""
    elif first is not None and name is not None:
        name = f"{first} {small(name) if name.isupper() else name}"
    return name, code


def _take_client(
    client: BroughtClient, row: Row, column: str, reading: Reading, known: Known, *, spoken_so: bool
) -> None:
    key = search_key(client.name)
    before = known.clients.get(key)
    if before is None:
        known.people.add(client.name)
        known.clients[key] = client
        return
    name = client.name if spoken_so and before.name.isupper() else before.name
    known.people.names[key] = name
    notes = [text for text in (before.notes, client.notes) if text]
    known.clients[key] = replace(
        before,
        name=name,
        phone=before.phone or client.phone,
        email=before.email or client.email,
        address=before.address or client.address,
        bill_when=before.bill_when or client.bill_when,
        terms_days=before.terms_days if before.terms_days is not None else client.terms_days,
        notes="; ".join(dict.fromkeys(notes)) or None,
    )
    first = f"{before.at.sheet}, {before.at.address}"
    reading.note(row, column, "read.changed.client_twice", name=before.name, first=first)


def owner_of(
    row: Row, column: str, horse: str | None, reading: Reading, known: Known
) -> str | None:
    """Give the client a cell means, asking where a shortened name may mean several.

    The same horse beside a full name elsewhere in the workbook settles it.
    Source: docs/rules/interchange.md#names
    """
    name, _ = read_name(row.values.get(column))
    if name is None:
        return None
    meant = known.people.meant(name)
    if len(meant) == 1:
        if search_key(meant[0]) != search_key(name):
            reading.note(row, column, "read.changed.client_meant", name=meant[0])
        return meant[0]
    if meant:
        chosen = by_evidence(meant, horse, known.seen, known.horses) if horse else None
        if chosen:
            reading.note(row, column, "read.changed.client_by_horse", name=chosen)
            return chosen
        return _ask_who(row, name, horse, meant, reading)
    return _further_client(row, column, name, reading, known)


def _ask_who(
    row: Row, name: str, horse: str | None, meant: Sequence[str], reading: Reading
) -> str | None:
    short = without_title(name)
    told = reading.options.answer(f"client:{short}:{horse}") if horse else None
    if told in meant:
        return told
    return reading.ask(
        f"client:{short}",
        "read.doubt.client",
        row,
        choices=tuple(meant),
        value=name,
        names=" / ".join(meant),
        horse=horse or "",
    )


def _further_client(row: Row, column: str, name: str, reading: Reading, known: Known) -> str:
    """Take in a client that only another list names."""
    kept = known.people.add(name)
    known.clients[search_key(kept)] = BroughtClient(at=row.at(column), name=kept)
    reading.note(row, column, "read.changed.client_added", name=kept)
    return kept


def payers_of(
    row: Row, column: str, horse: str, reading: Reading, known: Known
) -> tuple[tuple[str, int], ...]:
    """Give who pays for a horse and in what parts, the owner first.

    Source: docs/rules/interchange.md#who-pays
    """
    text = row.text(column)
    if text is None:
        return ()
    couple = known.people.couple(text)
    named = tuple((name, 1) for name in couple) or payers_named(text)
    if len(named) < 2:
        owner = owner_of(row, column, horse, reading, known)
        return ((owner, 1),) if owner else ()
    if couple or not has_parts(text):
        reading.note(row, column, "read.changed.parts_equal")
    found: dict[str, int] = {}
    for name, part in named:
        single = Row(row.sheet, row.no, {**row.values, column: name}, row.places)
        client = owner_of(single, column, horse, reading, known)
        if client:
            found[client] = found.get(client, 0) + part
    return tuple(found.items())


def horses_of(block: Block, reading: Reading, known: Known) -> None:
    """Read a list of horses: who pays, where it stands, what it wears and how often it is due.

    Source: docs/rules/interchange.md#horses
    """
    rows = _carried(replace(block, rows=_under_titles(block, reading, known)), "owner", reading)
    zero = lost_zero(row.values.get("phone") for row in rows)
    for row in rows:
        name = row.text("name")
        if name is None:
            reading.note(row, "name", "read.unread.row_unnamed")
            continue
        clients = payers_of(row, "owner", name, reading, known)
        owner = clients[0][0] if clients else None
        if owner is not None:
            _reached(row, owner, reading, known, zero=zero)
        key = (search_key(name), search_key(owner))
        if key in known.horses:
            first = known.horses[key].at
            where = f"{first.sheet}, {first.address}"
            reading.note(row, "name", "read.unread.horse_twice", name=name, first=where)
            continue
        usual, notes = row.text("usual"), row.text("notes")
        fronts, hinds = feet_of(usual)
        if usual and fronts is None:
            reading.note(row, "usual", "read.find_out.work_unknown")
        days, code = cycle_of(row.values.get("cycle"), block.headings.get("cycle", ""))
        if code:
            reading.note(row, "cycle", code, days=days)
        kind = row.text("kind")
        if kind and like_kind(kind) is None:
            reading.note(row, "kind", "read.find_out.kind_unknown")
        horse = BroughtHorse(
            at=row.at("name"),
            name=name,
            clients=clients,
            yard=yard_named(row, "yard", owner, known),
            kind=kind,
            like=like_kind(kind),
            cycle_days=days,
            wears=_wears(row, reading),
            usual=usual,
            fronts=fronts,
            hinds=hinds,
            last_day=reading.day(block, row, "last"),
            flags=flags_of(notes),
            notes=notes,
        )
        known.add_horse(horse)


def _reached(row: Row, owner: str, reading: Reading, known: Known, *, zero: bool) -> None:
    """Take how an owner is reached from the row of his horse, where no client list says it."""
    client = known.clients[search_key(owner)]
    phone, put_right = read_phone(row.values.get("phone"), zero=zero)
    if put_right:
        reading.note(row, "phone", put_right, phone=phone)
    known.clients[search_key(owner)] = replace(
        client,
        phone=client.phone or phone,
        email=client.email or row.text("email"),
        address=client.address or row.text("address"),
    )


def _under_titles(block: Block, reading: Reading, known: Known) -> tuple[Row, ...]:
    """Take rows with a single cell for the barn or owner of the rows under them, where they are.

    It is that for a known barn or client, and a horse for one that was worked on; else it is asked.
    """
    alone = [
        row for row in block.rows if sum(row.text(name) is not None for name in row.values) == 1
    ]
    if len(block.headings) < 3 or not alone or len(alone) == len(block.rows):
        return block.rows
    above: dict[str, Value] = {}
    rows = []
    for row in block.rows:
        text = row.text("name") if row.alone else None
        column = _title_of(text, block, row, reading, known) if text else None
        if column is None:
            rows.append(
                replace(row, values=row.values | {k: above[k] for k in above if not row.text(k)})
            )
        elif column != "horse":
            above[column] = text
            reading.note(row, "name", f"read.changed.title_is_{column}")
        else:
            rows.append(row)
    return tuple(rows)


def _title_of(text: str, block: Block, row: Row, reading: Reading, known: Known) -> str | None:
    if search_key(text) in known.yards:
        return "yard"
    if known.people.known(read_name(text)[0] or ""):
        return "owner"
    if search_key(text) in known.seen:
        return "horse"
    told = reading.ask(
        f"titles:{block.sheet}",
        "read.doubt.titles",
        row,
        choices=("barn", "owner", "horse"),
        value=text,
    )
    return {"barn": "yard", "owner": "owner"}.get(told or "", "horse")


def _carried(block: Block, name: str, reading: Reading) -> tuple[Row, ...]:
    """Carry a name down over the empty cells under it, if it was said that this is meant."""
    empty = [row for row in block.rows if name in row.values and row.text(name) is None]
    if not block.rows or block.rows[0].text(name) is None or 3 * len(empty) < len(block.rows):
        return block.rows
    told = reading.ask(
        f"carry:{block.sheet}:{block.headings[name]}",
        "read.doubt.carry",
        choices=("yes", "no"),
        rows=len(empty),
        sheet=block.sheet,
        heading=block.headings[name],
        value=block.rows[0].text(name),
    )
    if told != "yes":
        return block.rows
    above: dict[str, Value] = {}
    rows = []
    for row in block.rows:
        if row.text(name):
            above = {column: row.values.get(column) for column in (name, "yard")}
        missing = {column: value for column, value in above.items() if not row.text(column)}
        rows.append(replace(row, values=row.values | missing))
    return tuple(rows)


def _wears(row: Row, reading: Reading) -> tuple[BroughtShoe, ...]:
    """Read the sizes of fronts and hinds, in two cells or in one (``2 QC / 1``)."""
    feet = {foot: read_size(row.values.get(foot)) for foot in Foot}
    if any(feet.values()):
        kind = row.text("nails")
        return tuple(
            BroughtShoe(foot, size.size, size.pattern, kind) for foot, size in feet.items() if size
        )
    front, hind = row.values.get("front"), row.values.get("hind")
    both = row.text("sizes")
    if both and not row.text("front"):
        parts = [part.strip() for part in both.split("/")]
        if len(parts) == 1:
            front = row.values["sizes"]
        elif len(parts) == 2:
            front, hind = parts
            reading.note(row, "sizes", "read.changed.sizes_parted", front=front, hind=hind)
        else:
            reading.note(row, "sizes", "read.unread.size_unreadable")
    fore, rear = read_size(front), read_size(hind)
    for name, size in (("front", fore), ("hind", rear)):
        if size and size.lost_zeros:
            reading.note(row, name if name in row.places else "sizes", "read.find_out.size_zero")
    if rear and search_key(rear.size) in _SAME:
        rear = fore
    return shoes_of(fore, rear, row.values.get("nails"))
