"""Whatever stands in a cell: is it understood or refused, and never anything else?"""

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.interchange.rules import understand
from backoffice.interchange.rules.brought import Brought, Grid, Options, Value
from backoffice.interchange.rules.headings import KINDS
from backoffice.money import LARGEST
from backoffice.words import Speech
from tests.interchange.books_in import TODAY

TYPED = st.sampled_from([
    "?", "-", "x", "1/2", "1/2/26", "13/2/26", "0", "00", "½", "1 1/2 box", "4 pairs + 1", "$120",
    "1,250.00", "-3", "yes", "no", "Fell, Orla", "Fell", "Mrs Fell", "A / B 60/40", "a & b", "/",
    "50/50", "total", "Total", "June", "same", "2 QC / 1", "1/2/3", "own place", "=1+1", "\x00",
    "\u202e", "٣", "²", "1²", "∞", "½½", "..", ",,", "%", "100%", ";", "(", "[", "\\", "Nov 9",
    "99999999999999999999", "1e999", "2026", "3/2025", "46330", "trim", "6-7", "box of 0",
    "box of 10 pr", "12 km", "0/0", "1/0", "100/0", "n/a", "+", "&", "and", "Ltd, Fell", "ß", "İ",
])  # fmt: skip
VALUES: st.SearchStrategy[Value] = st.one_of(
    st.none(),
    TYPED,
    st.text(max_size=12),
    st.integers(-(10**6), 10**6),
    st.sampled_from([10**30, -(10**30), 0, 1, 46330]),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.datetimes(),
)
HEADS = {kind: [one.words.split("|")[0] for one in KINDS[kind].columns] for kind in KINDS} | {
    "pivot": ["horse", "owner", "Jan", "Feb", "Mar 2026"],
}


def kept_whole(brought: Brought) -> None:
    """Hold what must hold of anything understood, and word every note and question."""
    speech = Speech()
    for note in brought.notes:
        assert speech.say(note.code, **note.facts)
        assert note.at.row > 0 < note.at.column
    for doubt in brought.doubts:
        assert speech.say(doubt.code, **doubt.facts)
        assert doubt.rows > 0
    amounts = [
        *(price.amount for price in brought.prices), *(one.amount for one in brought.spending),
        *(owed.amount for owed in brought.owed), *(job.amount or 0 for job in brought.jobs),
        *(job.paid or 0 for job in brought.jobs), *(tool.price or 0 for tool in brought.tools),
        *(item.cost or 0 for item in brought.stock),
    ]  # fmt: skip
    assert all(0 <= amount <= LARGEST for amount in amounts)
    counts = [count for item in brought.stock for count in (item.truck, item.shop)]
    assert all(count is None or count >= 0 for count in counts)
    names = {client.name for client in brought.clients}
    payers = {name for horse in brought.horses for name, _ in horse.clients}
    assert payers | {owed.client for owed in brought.owed} <= names
    assert {horse.yard for horse in brought.horses} <= {yard.name for yard in brought.yards} | {
        None
    }
    pairs = {(h.name, h.clients[0][0] if h.clients else None) for h in brought.horses}
    assert {(job.horse, job.client) for job in brought.jobs} <= pairs
    assert all(part > 0 for horse in brought.horses for _, part in horse.clients)
    assert all(job.day <= TODAY for job in brought.jobs)
    assert len({(owed.client, owed.reference) for owed in brought.owed}) == len(brought.owed)
    assert all((horse.cycle_days or 1) > 0 for horse in brought.horses)


@pytest.mark.parametrize("kind", sorted(HEADS))
@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_any_values_under_the_headings_of_a_list(kind: str, data: st.DataObject) -> None:
    heads = HEADS[kind]
    row = st.lists(VALUES, min_size=len(heads), max_size=len(heads)).map(tuple)
    rows = data.draw(st.lists(row, max_size=5))
    answers = data.draw(st.sampled_from([
        {}, {"unpaid": "owed"}, {"unpaid": "settled", "cells:S": "days", "year:S": "2026"},
        {"cells:S": "amounts", "year:S": "x", "unpaid": "owed", "carry:S:owner": "yes"},
    ]))  # fmt: skip
    grid = Grid("S", (("Title",), tuple(heads), *rows))
    shoes = data.draw(st.sampled_from([None, "pairs"]))
    order = data.draw(st.sampled_from([None, "dmy"]))
    options = Options(date_order=order, shoes=shoes, answers=answers)

    kept_whole(
        understand([grid], options, TODAY, data.draw(st.sampled_from(["USD", "JPY", "KWD"])))
    )


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.lists(
            st.one_of(
                VALUES, st.sampled_from(["Name", "Horse", "Owner", "Date", "Amount", "Paid"])
            ),
            max_size=6,
        ).map(tuple),
        max_size=8,
    ).map(tuple)
)
def test_any_values_anywhere(rows: tuple[tuple[Value, ...], ...]) -> None:
    with suppress(Refused):
        kept_whole(understand([Grid("S", rows)], Options(), TODAY, "USD"))


def test_all_kinds_together_with_the_same_hostile_value_everywhere() -> None:
    for value in ("=HYPERLINK(1)", "\x1b[31m", "a" * 9_000, 10**40, date.min, date.max, True):
        grids = [Grid(kind, (tuple(heads), (value,) * len(heads))) for kind, heads in HEADS.items()]
        kept_whole(understand(grids, Options(), TODAY, "USD"))
