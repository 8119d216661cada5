"""What do the lists of prices, stock and tools say?"""

from datetime import date
from fractions import Fraction

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.blocks import Block, Row
from backoffice.interchange.rules.brought import BroughtPrice, BroughtStock, BroughtTool
from backoffice.interchange.rules.context import Reading
from backoffice.interchange.rules.trade import (
    feet_of,
    kinds_apart,
    like_kind,
    read_size,
    stock_sort,
    tool_sort,
)
from backoffice.interchange.rules.values import pack_in, plain_text, read_count, said, unit_in


def prices_of(block: Block, reading: Reading) -> list[BroughtPrice]:
    """Read a price list: one price for each service and kind of horse.

    A year in the title says from when the prices hold.
    Source: docs/rules/interchange.md#prices
    """
    found = []
    for row in block.rows:
        words = row.text("service")
        if words is None:
            continue
        service, kinds = kinds_apart(words)
        if feet_of(service) == (None, None):
            service, kinds = words, ()
        named = row.text("kind")
        for name, heading in block.headings.items():
            if name != "price" and not name.startswith("price "):
                continue
            amount = reading.amount(row, name)
            if amount is None:
                continue
            column = heading if name != "price" and like_kind(heading) else named
            if name != "price" and column != heading:
                reading.note(row, name, "read.unread.price_for_whom", heading=heading)
                continue
            fronts, hinds = feet_of(service)
            found += [
                BroughtPrice(
                    at=row.at(name),
                    service=service,
                    amount=amount,
                    fronts=fronts,
                    hinds=hinds,
                    kind=kind,
                    like=like_kind(kind),
                    from_day=reading.day(block, row, "from", past=False) or _first_day(block),
                )
                for kind in ((column,) if column else kinds or (None,))
            ]
    return found


def matrix_of(block: Block, reading: Reading) -> list[BroughtPrice]:
    """Read a price list with a row for each kind of horse and a column for each service.

    Source: docs/rules/interchange.md#prices
    """
    found = []
    for row in block.rows:
        kind = row.text("kind")
        if kind and like_kind(kind) is None:
            reading.note(row, "kind", "read.find_out.kind_unknown")
        for name, service in block.headings.items():
            amount = reading.amount(row, name) if name != "kind" else None
            if amount is None:
                continue
            fronts, hinds = feet_of(service)
            found.append(
                BroughtPrice(
                    at=row.at(name),
                    service=service,
                    amount=amount,
                    fronts=fronts,
                    hinds=hinds,
                    kind=kind,
                    like=like_kind(kind),
                    from_day=_first_day(block),
                )
            )
    return found


def _first_day(block: Block) -> date | None:
    return date(block.year, 1, 1) if block.year else None


def stock_of(block: Block, reading: Reading) -> list[BroughtStock]:
    """Read a stock count, in singles: shoes in pairs or singles as answered, nails from boxes.

    A shelf left empty is not counted, which is not the same as nothing there.
    Source: docs/rules/interchange.md#counts
    """
    found = []
    boxed = _boxed(block)
    for row in block.rows:
        name = row.text("item")
        size = _size(row, reading)
        if name is None and not size:
            continue
        words = f"{name or ''} {size}".strip()
        sort = _sort_of(block, name)
        pack = pack_in(row.text("pack") or "")
        named_pair = sort == "shoe" and unit_in(name or "") == "pair"
        pair = sort == "shoe" or unit_in(name or "") == "pair"
        counts = {
            place: _singles(
                row,
                place,
                reading,
                unit_in(block.headings.get(place, "")) or ("pair" if named_pair else ""),
                sort=sort,
                pack=pack,
                pair=pair,
                boxed=boxed,
            )
            for place in ("truck", "shop")
        }
        cost = reading.amount(row, "cost")
        if cost is not None and sort == "nail" and pack is None:
            reading.note(row, "cost", "read.find_out.pack_unknown")
            cost = None
        found.append(
            BroughtStock(
                at=row.at("item"),
                sort=sort,
                name=name or words,
                size=size,
                truck=counts["truck"],
                shop=counts["shop"],
                pack=pack or (2 if pair else None),
                cost=cost,
                cost_for=_cost_for(block, sort, pack, pair=pair),
                supplier=row.text("supplier"),
            )
        )
    return found


def _sort_of(block: Block, name: str | None) -> str:
    """Say what sort of stock a row is: by its name or heading; without a name by the sheet."""
    heading = block.headings.get("item", "")
    for words in (name, heading) if name else (heading, block.sheet):
        sort = stock_sort(words or "")
        if sort != "other":
            return sort
    return "other"


def _size(row: Row, reading: Reading) -> str:
    read = read_size(row.values.get("size"))
    if read is None:
        return ""
    if read.lost_zeros:
        reading.note(row, "size", "read.find_out.size_zero")
    return " ".join(filter(None, (read.size, read.pattern)))


def _boxed(block: Block) -> bool:
    """Say whether nails are counted in boxes anywhere in the list."""
    return any(
        unit_in(plain_text(row.values.get(name))) == "box"
        for row in block.rows
        for name in ("truck", "shop", "pack")
        if stock_sort(row.text("item") or "") == "nail"
    )


def _cost_for(block: Block, sort: str, pack: int | None, *, pair: bool) -> int:
    """Say how many singles a cost is for: a pair, a box, else one."""
    words = search_key(block.headings.get("cost"))
    if sort == "nail":
        return pack or 1
    if pair and "each" not in words and "single" not in words:
        return 2
    return 1


def _singles(
    row: Row,
    name: str,
    reading: Reading,
    usual: str,
    *,
    sort: str,
    pack: int | None,
    pair: bool,
    boxed: bool,
) -> int | None:
    value = row.values.get(name)
    if said(value) is None:
        return None
    terms = read_count(value)
    if terms is None:
        below = isinstance(value, int | float) and value < 0
        reading.note(row, name, f"read.unread.count_{'below_nothing' if below else 'unreadable'}")
        return None
    total = Fraction(0)
    for no, (number, unit) in enumerate(terms):
        unit = unit or ("single" if no else usual)  # "4 pairs + 1", "2 boxes and 20"
        each = _each(row, name, reading, unit, sort=sort, pack=pack, pair=pair, boxed=boxed)
        if each is None:
            return None
        total += number * each
    if total.denominator != 1:
        rounded = int(total) if sort == "nail" else None
        code = "unread.count_not_whole" if rounded is None else "changed.count_rounded"
        reading.note(row, name, f"read.{code}", count=rounded)
        return rounded
    return int(total)


def _each(
    row: Row,
    name: str,
    reading: Reading,
    unit: str,
    *,
    sort: str,
    pack: int | None,
    pair: bool,
    boxed: bool,
) -> int | None:
    """Say how many singles one counts for; None where that is not known."""
    if unit == "single" or (unit == "" and sort == "nail" and not boxed):
        return 1
    if unit == "pair":
        return 2
    if unit == "box" or sort == "nail":
        if pack is None:
            reading.note(row, name, "read.find_out.pack_unknown")
        elif not unit:
            reading.note(row, name, "read.changed.count_boxes", pack=pack)
        return pack
    if sort == "shoe":
        told = reading.ask(
            "shoes",
            "read.doubt.shoes",
            row,
            choices=("pairs", "singles"),
            value=plain_text(row.values.get(name)),
            size=plain_text(row.values.get("size")),
        )
        return None if told is None else 2 if told == "pairs" else 1
    if pair:
        reading.note(row, name, "read.changed.count_pairs")
    return 2 if pair else 1


def tools_of(block: Block, reading: Reading) -> list[BroughtTool]:
    """Read a list of tools.

    Source: docs/rules/interchange.md#tools
    """
    found = []
    for row in block.rows:
        name = row.text("name")
        if name is None:
            continue
        make, notes = row.text("make"), row.text("notes")
        label = f"{name}, {make}" if make else name
        found.append(
            BroughtTool(
                at=row.at("name"),
                sort=tool_sort(name),
                name=label,
                bought=reading.day(block, row, "bought", coarse=True),
                price=reading.amount(row, "price"),
                notes=f"{block.headings['notes']}: {notes}" if notes else None,
            )
        )
    return found
