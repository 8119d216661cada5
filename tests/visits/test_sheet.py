"""What a farrier's sheet of a day knows, on both engines."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice.billing import service as billing
from backoffice.clients import service as clients
from backoffice.clients.models import Horse
from backoffice.clients.rules import HorseDetails, YardDetails
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails, PlaceDetails
from backoffice.visits import queries, service
from backoffice.visits.queries import Sheet, stop_letter
from backoffice.visits.rules import FactSort
from tests.factories import Small, feet_said, fronts_on, plan, said, small_practice

DAY = date(2026, 3, 17)
LATER = date(2026, 4, 28)


def the_sheet(session: Session, day: date = DAY) -> Sheet:
    (found,) = queries.sheets(session, day)
    return found


def second_stop(session: Session, small: Small, farrier: int, *names: str) -> int:
    yard = clients.save_yard(session, YardDetails(name="Undermoor", gate_note="code 4711"))
    horses = tuple(
        clients.save_horse(session, HorseDetails(name=name, yard_id=yard)) for name in names
    )
    stop = service.NewStop(
        farrier_id=farrier,
        yard_id=yard,
        day=DAY,
        horses=horses,
        services=dict.fromkeys(horses, small.trim),
    )
    return service.plan_stop(session, stop, today=DAY)


def test_stops_are_lettered_and_horses_numbered_through_the_day(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        plan(unit.session, small, DAY, small.bay, small.shared, service=small.fronts)
        second_stop(unit.session, small, small.farrier, "Sorrel")
    with both.reading() as session:
        sheet = the_sheet(session)

    assert (sheet.day, sheet.farrier_name, sheet.place_name) == (DAY, "Idris Thorn", "Truck A")
    assert [(stop.letter, stop.yard_name, stop.gate_note) for stop in sheet.stops] == [
        ("A", "Larkmoss", None),
        ("B", "Undermoor", "code 4711"),
    ]
    lines = [line for stop in sheet.stops for line in stop.lines]
    assert [(line.number, line.name) for line in lines] == [
        (1, "Bramble"),
        (2, "Tolliver"),
        (3, "Sorrel"),
    ]
    # Fronts at 120.00, a call-out of 10.00 for two horses booked.
    assert [(line.price, line.travel) for line in lines[:2]] == [(12_000, 500), (12_000, 500)]
    assert not any(line.finishes or line.told or line.closed for line in lines)


def test_each_farrier_has_a_sheet_of_his_own(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        truck = practice.save_place(unit.session, PlaceDetails(name="Truck B"))
        other = practice.save_farrier(unit.session, FarrierDetails(name="Oda Vell", place_id=truck))
        plan(unit.session, small, DAY, small.bay, service=small.trim)
        second_stop(unit.session, small, other, "Sorrel")
    with both.reading() as session:
        both_sheets = queries.sheets(session, DAY)
        hers = queries.sheets(session, DAY, other)
        nobodys = queries.sheets(session, LATER)

    assert [(sheet.farrier_name, sheet.place_name) for sheet in both_sheets] == [
        ("Idris Thorn", "Truck A"),
        ("Oda Vell", "Truck B"),
    ]
    assert [[stop.letter for stop in sheet.stops] for sheet in both_sheets] == [["A"], ["A"]]
    assert hers == both_sheets[1:]
    assert nobodys == ()


def test_who_pays_is_as_always_unless_said_otherwise_this_once(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(
            unit.session, small, DAY, small.bay, small.shared, small.stray, service=small.trim
        )
        service.say(
            unit.session, visit, [said(small.bay, FactSort.PAYERS, parts=[[small.other, 1]])]
        )
        unit.session.execute(
            sa.update(Horse).where(Horse.id == small.bay).values(owner_id=small.owner)
        )
    with both.reading() as session:
        bay, shared, stray = the_sheet(session).stops[0].lines

    assert [(payer.client_id, payer.name) for payer in bay.payers] == [(small.other, "Corbin Ash")]
    assert (bay.owner_id, bay.owner_name) == (small.owner, "Wenna Harrow")
    assert [(payer.name, payer.parts) for payer in shared.payers] == [
        ("Wenna Harrow", 1),
        ("Corbin Ash", 1),
    ]
    assert [(payer.client_id, payer.name, payer.parts) for payer in stray.payers] == [
        (None, None, 1)
    ]
    assert stray.owner_id is None


def test_a_horse_comes_with_what_it_wears_its_flags_and_the_last_note(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        clients.flag(unit.session, small.bay, "kicks", "left behind", DAY)
        visit = plan(unit.session, small, DAY, small.bay, service=small.fronts)
        service.say(
            unit.session,
            visit,
            [
                feet_said(small.bay, fronts_on(small)),
                said(small.bay, FactSort.NOTE, text="Quarter thin, LF"),
            ],
        )
        billing.close_day(unit.session, DAY, today=DAY)
        plan(unit.session, small, LATER, small.bay, service=small.trim)
    with both.reading() as session:
        (closed,) = the_sheet(session).stops[0].lines
        (line,) = the_sheet(session, LATER).stops[0].lines

    assert [(foot.foot, foot.size, foot.nails) for foot in line.wears] == [
        ("LF", "1", 6),
        ("RF", "1", 6),
    ]
    assert [foot.planned for foot in line.feet] == ["trim"] * 4
    assert [(flag.flag, flag.note) for flag in line.flags] == [("kicks", "left behind")]
    assert (line.note, line.last_note) == (None, "Quarter thin, LF")
    # A horse's own note is not also the last one.
    assert (closed.note, closed.last_note) == ("Quarter thin, LF", None)
    assert closed.closed


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """Count the statements that are run."""
    ran: list[str] = []

    def hear(_conn: object, _cursor: object, statement: str, *_: object) -> None:
        ran.append(statement)

    sa.event.listen(database.reader, "before_cursor_execute", hear)
    yield ran
    sa.event.remove(database.reader, "before_cursor_execute", hear)


def test_a_longer_day_asks_no_more_often(both: Database) -> None:
    with both.writing() as unit:
        small = small_practice(unit.session)
        plan(unit.session, small, DAY, small.shared, service=small.fronts)
        plan(unit.session, small, LATER, small.bay, small.stray, small.shared, service=small.trim)
        second_stop(unit.session, small, small.farrier, "Sorrel", "Nettle")
    with both.reading() as session:
        queries.sheets(session, LATER)
        with counted(both) as short:
            queries.sheets(session, LATER)
        with counted(both) as long:
            queries.sheets(session, DAY)

    assert len(long) == len(short) <= 10


@pytest.mark.parametrize(
    ("nth", "letter"), [(0, "A"), (1, "B"), (25, "Z"), (26, "AA"), (27, "BB"), (52, "AAA")]
)
def test_letters_go_on_after_z(nth: int, letter: str) -> None:
    assert stop_letter(nth) == letter
