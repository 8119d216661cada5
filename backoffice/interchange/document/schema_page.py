"""What is in each table that was taken out? Told from the tables themselves, so it cannot lag."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from inspect import cleandoc

import sqlalchemy as sa

from backoffice.db import Base, Choice, Day, Instant, Whole, YesNo
from backoffice.money import MINOR_UNITS

MONEY = "money"
_BY_UNIT = {
    MONEY: (
        "amount", "base", "booked", "call_out", "cost", "day_pay", "drive", "drive_est",
        "edge_cost", "fee", "gross", "last_cost", "material", "material_est", "net", "open", "owed",
        "price", "quoted", "rounding", "scrap", "tax", "tip", "told", "tool", "total", "travel",
        "travel_told", "waived",
    ),
    "single pieces": ("last_qty", "nails", "pack", "qty", "used", "wasted"),
    "days": ("cycle_days", "look_days", "shod_days", "terms_days", "trim_days"),
    "minutes": ("minutes", "minutes_est"),
    "miles, one way": ("miles",),
    "pounds": ("weight_lb",),
    "parts of a million": ("rate_ppm",),
    "thousandths": ("share", "time_factor", "wear_factor"),
    "thousandths of an ordinary horse": ("edge", "life", "since", "units"),
    "parts, out of the sum of the parts": ("parts",),
    "bytes": ("size",),
    "times": ("resets",),
    "place in an order": ("place_no",),
    "number": ("closed_seq", "counter", "no", "pricing_no", "row_id", "v"),
    "how often it was saved": ("version",),
    "as its name says": ("value",),
}  # fmt: skip
_UNITS: Mapping[str, str] = {
    column: unit for unit, columns in _BY_UNIT.items() for column in columns
} | {
    "price_line.qty": "times",
    "tool_state.total": "thousandths of an ordinary horse",
}  # fmt: skip
KINDS = {
    "ledger": "Only grows: a row is never changed and never removed.",
    "record": "May be edited; what each edit changed is in <a href='#change'>change</a>.",
    "cache": "Worked out from other tables, and worked out again by <code>backoffice check</code>.",
    "emptiable": "Only grows; what it says about a person may be emptied, once and for good.",
}
_STYLE = (
    "body{font:1rem/1.5 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem}"
    "h2{margin-top:2.5rem;border-bottom:1px solid}table{border-collapse:collapse;width:100%}"
    "th,td{text-align:left;vertical-align:top;padding:.3rem .8rem .3rem 0;"
    "border-bottom:1px solid #ccc}nav{columns:14rem}nav ul{margin:0}"
    ".rows{font-weight:normal;font-size:1rem}"
)


@dataclass(frozen=True, slots=True)
class Described:
    """A column in words; without a unit it is no quantity."""

    name: str
    type: str
    unit: str
    empty: bool
    refers_to: str
    words: tuple[str, ...]
    personal: bool


def taken(table: sa.Table) -> list[sa.Column[object]]:
    """Give the columns of a table that are taken out: all but the secret ones."""
    return [column for column in table.columns if not column.info.get("secret")]


def taken_tables() -> list[sa.Table]:
    """Give the tables that are taken out, each after those it refers to."""
    return [t for t in Base.metadata.sorted_tables if t.info["kind"] != "plumbing"]


def unit_of(column: sa.Column[object], currency: str) -> str:
    """Say in what a whole number is counted; nothing for other columns and for numbers of rows."""
    if not isinstance(column.type, Whole) or column.primary_key or column.foreign_keys:
        return ""
    unit = _UNITS.get(f"{column.table.name}.{column.name}") or _UNITS[column.name]
    if unit == MONEY:
        whole = 10 ** MINOR_UNITS[currency]
        return f"{currency}, of which {whole:,} are 1.00" if whole > 1 else currency
    return unit


def describe(table: sa.Table, currency: str) -> Iterator[Described]:
    """Describe the columns of a table."""
    for column in taken(table):
        kind = column.type
        yield Described(
            name=column.name,
            type=_type(column),
            unit=unit_of(column, currency),
            empty=bool(column.nullable),
            refers_to=", ".join(key.target_fullname for key in column.foreign_keys),
            words=kind.words if isinstance(kind, Choice) else (),
            personal=bool(column.info.get("personal")),
        )


def _type(column: sa.Column[object]) -> str:
    match column.type:
        case Choice():
            return "one of these words"
        case Day():
            return "date, YYYY-MM-DD"
        case Instant():
            return "time in UTC, ISO 8601"
        case YesNo():
            return "yes or no: 1 or 0 in CSV, true or false in JSON"
        case Whole():
            return "row number" if column.primary_key or column.foreign_keys else "whole number"
        case _:
            return "text"


def _docs() -> dict[str, str]:
    return {
        str(mapper.local_table): cleandoc(mapper.class_.__doc__ or "")
        for mapper in Base.registry.mappers
    }


def _marked(text: str) -> str:
    return re.sub(r"``(.+?)``", r"<code>\1</code>", escape(text, quote=False))


def page(rows: Mapping[str, int], currency: str) -> Iterator[str]:
    """Write the page about all tables, with how many rows of each were taken out."""
    docs, tables = _docs(), taken_tables()
    refers: dict[str, list[str]] = {table.name: [] for table in tables}
    for table in tables:
        for column in taken(table):
            for key in column.foreign_keys:
                refers[key.column.table.name].append(f"{table.name}.{column.name}")
    yield (
        "<!doctype html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width'>"
        f"<title>What is in these files</title><style>{_STYLE}</style></head><body>\n"
        "<h1>What is in these files</h1>\n"
    )
    yield from _how_written(currency)
    yield "<nav aria-label='Tables'><ul>\n"
    yield from (f"<li><a href='#{table.name}'>{table.name}</a></li>\n" for table in tables)
    yield "</ul></nav>\n"
    for table in tables:
        yield from _section(table, docs[table.name], rows[table.name], currency, refers[table.name])
    yield "</body></html>\n"


def _how_written(currency: str) -> Iterator[str]:
    whole = 10 ** MINOR_UNITS[currency]
    for said in (
        "Each table is there twice with the same rows: <code>NAME.csv</code>, and "
        "<code>NAME.jsonl</code> with one JSON object on each line. <code>practice.xlsx</code> "
        "shows the same practice in ten sheets, and <code>schema.csv</code> is this page as a "
        "table.",
        f"Money is whole numbers in the smallest unit of {currency}"
        + (f": {whole * 12 + whole // 2:,} is 12.50." if whole > 1 else ".")
        + " Dates are YYYY-MM-DD, times are UTC in ISO 8601, all files are UTF-8.",
        "What is not known is null in JSON, and in CSV nothing at all between two commas; an empty "
        "text has its quotes. A text a spreadsheet would run as a formula has an apostrophe before "
        "it in CSV: where a text begins with apostrophes and then one of = + - @, their full-width "
        "forms, a tab or a new line, take the first apostrophe away. In JSON every text is exact.",
        "Receipts and photos are in the folder <code>files</code>, each named by its number in the "
        "table <a href='#file'>file</a>. Sign-ins, keys and passwords are not here.",
    ):
        yield f"<p>{said}</p>\n"


def _section(
    table: sa.Table, doc: str, rows: int, currency: str, referred: Sequence[str]
) -> Iterator[str]:
    yield f"<section aria-labelledby='{table.name}'>\n<h2 id='{table.name}'>{table.name} "
    yield f"<span class='rows'>{rows:,} {'row' if rows == 1 else 'rows'}</span></h2>\n"
    yield from (f"<p>{_marked(said)}</p>\n" for said in doc.split("\n\n"))
    yield f"<p>{KINDS[table.info['kind']]}</p>\n"
    yield "<table>\n<thead><tr><th scope='col'>Column</th><th scope='col'>What it holds</th>"
    yield "<th scope='col'>Counted in</th><th scope='col'>Refers to</th></tr></thead>\n<tbody>\n"
    for column in describe(table, currency):
        yield f"<tr><th scope='row'>{column.name}</th><td>{_holds(column)}</td>"
        yield f"<td>{column.unit}</td><td>{_links([column.refers_to])}</td></tr>\n"
    yield "</tbody></table>\n"
    if referred:
        yield f"<p>Referred to by {_links(referred)}.</p>\n"
    yield "</section>\n"


def _holds(column: Described) -> str:
    said = [f"{column.type}: {', '.join(column.words)}" if column.words else column.type]
    if column.empty:
        said.append("may be not known")
    if column.personal:
        said.append("about a person")
    return "; ".join(said)


def _links(columns: Iterable[str]) -> str:
    return ", ".join(
        f"<a href='#{column.partition('.')[0]}'>{column}</a>" for column in columns if column
    )
