"""Every kind of fact in words, as it stands on a page."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from flask import Flask, g

from backoffice.practice.rules import PracticeDetails
from backoffice.visits.queries import FactLine, NamesSaid
from backoffice.visits.rules import FactSort
from backoffice.web import said
from backoffice.web.caller import Caller
from tests.web.browser import stopped_clock

NAMES = NamesSaid(
    clients={1: "Wenna Harrow", 2: "Corbin Ash", 3: None},
    services={1: "Full set"},
    items={7: "1"},
    tools={3: "Stand", 4: "Knife"},
    farriers={5: "Perrin"},
)
NOON = datetime(2026, 3, 17, 12, tzinfo=UTC)
FACT = FactLine(
    seq=1, id="a", visit_id=1, subject="1", sort="note", data={}, by="Wenna", at=NOON,
    corrects=None, taken=None,
)  # fmt: skip
SENTENCES: list[tuple[FactSort, dict[str, Any], str]] = [
    (FactSort.BOOKED, {"place_no": 1, "service": 1}, "Put on the day for Full set."),
    (FactSort.BOOKED, {"place_no": 1, "words": "a bay"}, "Put on the day."),
    (FactSort.AS_PLANNED, {}, "Done as planned."),
    (FactSort.ABSENT, {}, "Was not there."),
    (FactSort.TOLD, {"say": 12_000}, "Price told: $120.00."),
    (FactSort.TOLD, {"say": 0}, "Told: nothing to pay for the work."),
    (FactSort.TOLD, {"say": 5_800, "travel": 0}, "Price told: $58.00, trip fee told: $0.00."),
    (FactSort.TOLD, {"say": None, "travel": None}, "The price by the rules again."),
    (FactSort.MINUTES, {"minutes": 1}, "Took 1 minute."),
    (FactSort.NOTE, {"text": "bars long"}, "Note: “bars long”."),
    (FactSort.NOTE, {"text": None}, "Note taken out."),
    (FactSort.NOTE, {}, "Something that is not here any more."),
    (FactSort.PAYERS, {"parts": [[1, 1]]}, "Wenna Harrow pays this once."),
    (FactSort.PAYERS, {"parts": [[1, 1], [2, 1]]}, "Wenna Harrow and Corbin Ash pay this once."),
    (FactSort.PAYERS, {"parts": [[3, 1]]}, "Somebody not known yet pays this once."),
    (FactSort.PAYERS, {"parts": []}, "Paid for as always."),
    (
        FactSort.PAID,
        {"client": 2, "amount": 18_800, "tip": 200, "method": "cash", "receipt": "412"},
        "Corbin Ash paid $188.00, cash, tip $2.00, receipt 412.",
    ),
    (FactSort.PAID, {"client": None, "amount": 500, "method": "card"}, "$5.00 paid, card."),
    (FactSort.GROUND, {"ground": "sand"}, "Ground: sand."),
    (FactSort.ALONG, {"farrier": 5}, "Perrin came along."),
    (FactSort.ALONG, {"farrier": None}, "Nobody came along."),
    (FactSort.TOOL, {"tool": 3, "what": "slipped"}, "Stand: slipped, or made a noise."),
    (FactSort.TOOL, {"tool": 4, "what": "went_dull"}, "Knife: went dull."),
    (FactSort.TOOL, {"tool": None, "what": "none"}, "No tool went dull."),
    (FactSort.ODOMETER, {"out": 12, "in": 60}, "Odometer 12 going out, 60 coming in."),
    (
        FactSort.FEET,
        {
            "feet": {
                "LF": {"done": "new", "shoe": 7, "nails": 6},
                "RF": {"done": "new", "shoe": 7, "nails": 6},
                "LH": {"done": "not_done"},
                "RH": {"done": "reset", "lost": "found"},
            },
            "service": 1,
        },
        "LF and RF new, 1, 6 nails, LH not done, RH reset, size not known yet, the lost shoe was"
        " found, as Full set.",
    ),
]  # fmt: skip


def words(app: Flask, fact: FactLine, language: str = "us") -> str:
    with app.test_request_context("/"):
        practice = replace(PracticeDetails(), words=language)
        g.caller = Caller("", None, practice, date(2026, 3, 17))
        return said.sentence(fact, NAMES)


@pytest.mark.parametrize(("sort", "data", "sentence"), SENTENCES)
def test_a_fact_is_a_sentence(
    app: Flask, sort: FactSort, data: dict[str, Any], sentence: str
) -> None:
    assert words(app, replace(FACT, sort=sort, data=data)) == sentence


def test_every_kind_of_fact_has_its_sentence() -> None:
    assert {sort for sort, _, _ in SENTENCES} == set(FactSort) - {FactSort.WITHDRAWN}


@pytest.mark.parametrize("sort", [sort for sort in FactSort if sort is not FactSort.WITHDRAWN])
def test_taking_back_names_what_was_taken_back(app: Flask, sort: FactSort) -> None:
    back = replace(FACT, sort="withdrawn", corrects="b", taken=sort.value)

    assert words(app, back).startswith("Taken back: ")
    assert "any more" not in words(app, back)


def test_taking_back_what_never_came_says_so(app: Flask) -> None:
    back = replace(FACT, sort="withdrawn", corrects="b")

    assert words(app, back) == "Taken back: something that is not here any more."


def test_the_uk_has_its_own_words(app: Flask) -> None:
    feet = {"feet": {"LF": {"done": "reset", "shoe": 7, "nails": 6, "lost": "gone"}}}
    fact = replace(FACT, sort="feet", data=feet)

    assert words(app, fact, "uk") == "NF refit, 1, 6 nails, the cast shoe is gone."


def test_who_said_it_and_when_is_told_in_the_practices_own_time(app: Flask) -> None:
    with app.test_request_context("/"):
        practice = replace(PracticeDetails(), words="uk", zone="Europe/London")
        g.caller = Caller("", None, practice, date(2026, 3, 17))
        summer = replace(FACT, data={"text": "x"}, at=datetime(2026, 6, 1, 12, tzinfo=UTC))
        (line,) = said.lines([summer], NAMES)
        (nobody,) = said.lines([replace(summer, by=None)], NAMES)

    assert line.by == "Wenna, Mon 1 Jun 2026, at 13:00"
    assert nobody.by == "Mon 1 Jun 2026, at 13:00"


@pytest.mark.parametrize(
    ("at", "told"),
    [
        (datetime(2026, 11, 26, 17, 42, tzinfo=UTC), "Wenna, at 11:42"),
        # Eleven at night in Chicago is the day before, though the same day at Greenwich.
        (datetime(2026, 11, 26, 5, tzinfo=UTC), "Wenna, Wed, Nov 25, 2026, at 23:00"),
    ],
)
def test_what_was_said_today_by_the_clock_has_its_time_alone_in_a_demo_that_stands_still(
    app: Flask, at: datetime, told: str
) -> None:
    with (
        app.test_request_context("/"),
        stopped_clock(datetime(2026, 11, 26, 18, tzinfo=UTC)),
    ):
        practice = replace(PracticeDetails(), zone="America/Chicago", demo_today=date(2026, 3, 17))
        g.caller = Caller("", None, practice, date(2026, 3, 17))
        (line,) = said.lines([replace(FACT, data={"text": "x"}, at=at)], NAMES)

    assert line.by == told
