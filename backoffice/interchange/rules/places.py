"""What do the lists say of the barns where horses stand?"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.blocks import Block, Row
from backoffice.interchange.rules.brought import BroughtYard
from backoffice.interchange.rules.context import Reading
from backoffice.interchange.rules.known import Known
from backoffice.interchange.rules.trade import own_place
from backoffice.interchange.rules.values import plain_text, read_count
from backoffice.money import half_up

METRES_A_MILE = 1_609


def yards_of(block: Block, reading: Reading, known: Known) -> None:
    """Read a list of barns with their distance in miles; kilometres are turned into miles.

    Rounding: half up, to whole miles.
    Source: docs/rules/interchange.md#barns
    """
    heading = search_key(block.headings.get("miles"))
    metric = "km" in heading.split() or "kilom" in heading
    for row in block.rows:
        name = row.text("name")
        if name is None:
            continue
        miles = None
        if row.text("miles"):
            terms = read_count(re.sub(r"[^\W\d]+\.?$", "", plain_text(row.values["miles"])))
            if terms is None or len(terms) != 1:
                reading.note(row, "miles", "read.unread.miles_unreadable")
            elif metric:
                miles = half_up(int(terms[0][0] * 1_000), METRES_A_MILE)
                reading.note(row, "miles", "read.changed.miles_from_km", miles=miles)
            else:
                miles = half_up(terms[0][0].numerator, terms[0][0].denominator)
        yard = BroughtYard(at=row.at("name"), name=name, address=row.text("address"), miles=miles)
        before = known.yards.setdefault(search_key(name), yard)
        known.yards[search_key(name)] = replace(
            before,
            address=before.address or yard.address,
            miles=before.miles if before.miles is not None else yard.miles,
        )


def yard_named(row: Row, column: str, owner: str | None, known: Known) -> str | None:
    """Give the barn a row names under one spelling; "own place" is that of its owner."""
    name = row.text(column)
    if name is None:
        return None
    at, address = row.at(column), None
    if own_place(name):
        if owner is None:
            return None
        client = known.clients.get(search_key(owner))
        name, address = f"{owner}, {name}", client.address if client else None
    kept = known.yards.setdefault(search_key(name), BroughtYard(at=at, name=name, address=address))
    if kept.name == kept.name.lower() and name != name.lower():
        known.yards[search_key(name)] = replace(kept, name=name)
    return search_key(name)


def yard_spellings(rows: Iterable[Row], known: Known) -> None:
    """Keep for each barn the spelling most rows use."""
    counts: dict[str, Counter[str]] = {}
    for row in rows:
        name = row.text("yard")
        if name:
            counts.setdefault(search_key(name), Counter())[name] += 1
    for key, spelled in counts.items():
        if key in known.yards:
            known.yards[key] = replace(known.yards[key], name=spelled.most_common(1)[0][0])
