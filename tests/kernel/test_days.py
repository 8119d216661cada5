"""Calendar dates as date fields send them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.days import FIRST_YEAR, LAST_YEAR, parse_day, sensible
from backoffice.errors import Refused
from backoffice.words import Speech


@given(st.dates(date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31)))
def test_a_date_is_read_as_it_was_written(day: date) -> None:
    assert parse_day(f" {day.isoformat()} ") == sensible(day) == day


@pytest.mark.parametrize(
    "typed",
    [
        "", "today", "17/03/2026", "2026-3-7", "2026-02-30", "2026-13-01", "2025-02-29",
        "2026-03-17T12:00", "\u0662\u0660\u0662\u0666-\u0660\u0663-\u0661\u0667", "2026-03-17\0",
        "\ud800", "{{ 1 }}", "9" * 10_000,
    ],
)  # fmt: skip
def test_what_is_no_date_is_refused_and_shown_back(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_day(typed)

    assert refused.value.code == "day.unreadable"
    assert typed in Speech().say(refused.value.code, **refused.value.facts)


@pytest.mark.parametrize("typed", ["0001-01-01", "1989-12-31", "2101-01-01", "9999-12-31"])
def test_a_year_that_cannot_be_meant_is_asked_back(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        parse_day(typed)

    assert refused.value.facts == {"year": int(typed[:4])}
