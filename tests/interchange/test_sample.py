"""Does a second reading of a practice's workbook, cell by cell, come to the same counts and sums?

The workbook is not part of the program: it lies beside it, and without it this is skipped.
"""

from collections import Counter
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from backoffice.interchange.rules import understand
from backoffice.interchange.rules.brought import Brought, Options
from backoffice.interchange.workbook import read_grids
from tests.conftest import skip

SAMPLE = Path(__file__).parents[3] / "shared" / "samples" / "practice-one.xlsx"
TODAY = date(2026, 11, 26)

Rows = list[list[Any]]


@pytest.fixture(scope="module", autouse=True)
def _the_sample_is_there() -> None:
    if not SAMPLE.exists():
        skip("no workbook of a practice lies beside the program")


@pytest.fixture(scope="module")
def by_hand() -> dict[str, Rows]:
    book = openpyxl.load_workbook(SAMPLE)
    return {s.title: [[cell.value for cell in row] for row in s.iter_rows()] for s in book}


@pytest.fixture(scope="module")
def brought() -> Brought:
    options = Options(shoes="pairs", answers={"unpaid": "owed"})
    return understand(read_grids(SAMPLE), options, TODAY, "USD")


def cents(value: Any) -> int | None:
    """Read $120, 120.00, 120 or 58.5."""
    text = str(value).replace("$", "").lstrip("+").split("(")[0].strip()
    whole, _, minor = text.partition(".")
    return int(whole) * 100 + int(minor.ljust(2, "0")[:2]) if whole.isdigit() else None


def us_day(value: Any) -> date:
    """Read a real date or 10/31/26."""
    if isinstance(value, datetime):
        return value.date()
    month, day, year = (int(part) for part in value.split("/"))
    return date(year if year > 99 else 2000 + year, month, day)


def spoken(name: str) -> str:
    """Turn "Last, First" round, in small letters."""
    last, _, first = name.strip().partition(", ")
    return (f"{first} {last}" if first else last).casefold()


def test_clients(by_hand: dict[str, Rows], brought: Brought) -> None:
    rows = [row for row in by_hand["CLIENTS"][4:] if row[0] and row[0] != "TOTAL"]
    names = {spoken(row[0]) for row in rows}

    assert {client.name.casefold() for client in brought.clients} == names
    assert len(brought.clients) == len(names) == 38
    assert sum(c.email is not None for c in brought.clients) == sum(bool(row[2]) for row in rows)
    assert sum(c.phone is not None for c in brought.clients) == sum(bool(row[1]) for row in rows)
    terms = Counter(row[5] for row in rows)
    assert Counter(c.terms_days for c in brought.clients) == {
        15: terms["net 15"], 30: terms["30 days"], None: 38 - terms["net 15"] - terms["30 days"],
    }  # fmt: skip


def test_horses(by_hand: dict[str, Rows], brought: Brought) -> None:
    rows = [row for row in by_hand["Horses 2026"][1:] if row[0]]
    every = [str(row[8]) for row in rows if row[8]]

    assert [horse.name for horse in brought.horses] == [row[0] for row in rows]
    assert len(brought.horses) == 86
    surnames = [horse.clients[0][0].split()[-1].casefold() for horse in brought.horses]
    assert surnames == [row[1].split()[-1].casefold() for row in rows]
    shod = 2 * sum(row[4] is not None for row in rows) + 2 * sum(row[5] is not None for row in rows)
    assert sum(len(horse.wears) for horse in brought.horses) == shod
    weeks = [
        min(int(part) for part in text.replace("-", " ").split() if part.isdigit())
        for text in every
    ]
    assert sum(horse.cycle_days or 0 for horse in brought.horses) == 7 * sum(weeks)
    assert sum(h.last_day is not None for h in brought.horses) == sum(row[9] != "?" for row in rows)
    assert all(h.last_day is None or h.last_day <= TODAY for h in brought.horses)
    assert sum(bool(h.flags) for h in brought.horses) == sum(
        row[10] not in (None, "sweet") for row in rows
    )


def test_past_work_and_what_is_owed(by_hand: dict[str, Rows], brought: Brought) -> None:
    rows = [row for row in by_hand["2026 jobs"][1:] if row[1]]
    charged = [cents(row[4]) or 0 for row in rows]
    paid = [
        c if row[5] == "yes" else cents(row[5]) or 0 for c, row in zip(charged, rows, strict=True)
    ]

    assert len(brought.jobs) == len(rows) == 258
    assert [job.day for job in brought.jobs] == [us_day(row[0]) for row in rows]
    assert [(job.horse, job.client) for job in brought.jobs] == [(row[1], row[2]) for row in rows]
    assert [job.amount for job in brought.jobs] == charged
    assert [job.paid for job in brought.jobs] == paid
    assert sum(owed.amount for owed in brought.owed) == sum(charged) - sum(paid)


def test_money_out(by_hand: dict[str, Rows], brought: Brought) -> None:
    rows = by_hand["money out"][1:]

    assert [(s.day, s.supplier, s.what, s.amount) for s in brought.spending] == [
        (us_day(row[0]), row[1], row[2], cents(row[3])) for row in rows
    ]


def test_prices_stock_and_tools(by_hand: dict[str, Rows], brought: Brought) -> None:
    plain = [row for row in by_hand["prices"][2:] if cents(row[1]) and "/" not in str(row[1])]
    assert sum(p.amount for p in brought.prices if p.like is None) == sum(
        cents(row[1]) or 0 for row in plain if "donkey" not in row[0]
    )
    assert sum(p.amount for p in brought.prices if p.like == "draft") == sum(
        cents(row[2]) or 0 for row in plain
    )
    shoes = [row for row in by_hand["STOCK count 10-31"] if row[0] == "steel shoe"]
    assert [(i.size, i.truck, i.shop) for i in brought.stock if i.sort == "shoe"] == [
        (str(row[1]), 2 * row[2], 2 * row[3]) for row in shoes
    ]
    assert [(i.truck, i.shop) for i in brought.stock if i.sort == "nail"] == [
        (375, 500), (125, 250), (250, 0), (62, 250),
    ]  # fmt: skip
    tools = by_hand["tools"][1:]
    assert [tool.price for tool in brought.tools] == [100 * row[3] for row in tools]


def test_nothing_is_left_unsaid_and_nothing_else_is_asked(brought: Brought) -> None:
    assert brought.doubts == ()
    named = {(note.at.sheet, note.at.row) for note in brought.notes}
    assert {("CLIENTS", 45), ("STOCK count 10-31", 21), ("2026 jobs", 63), ("prices", 15)} <= named
