"""The paper day sheet typed in: all of a press is written down, or nothing, and once."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from backoffice.billing import service as billing
from backoffice.clients import service as clients
from backoffice.clients.models import Horse
from backoffice.clients.rules import ClientDetails, HorseDetails
from backoffice.db import Database, Session
from backoffice.errors import Refused
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.stock import service as stock
from backoffice.stock.rules import ItemDetails
from backoffice.units import Foot, FootWork
from backoffice.visits import queries
from backoffice.visits import service as visits
from backoffice.visits.queries.entering import along_before, facts_by_visit
from backoffice.visits.rules import FactSort, Said, WorkState, fold, standing
from backoffice.visits.service.entering import (
    Entered,
    SaidMeanwhile,
    Typed,
    Unclear,
    enter,
    rest_as_planned,
)
from tests.factories import Small, fronts_on, plan, small_practice

DAY = date(2026, 3, 17)


def evening(both: Database) -> tuple[Small, int]:
    """Three horses on the sheet: 1 Bramble and 2 Tolliver with new fronts, 3 Stray."""
    with both.writing() as unit:
        small = small_practice(unit.session)
        visit = plan(
            unit.session, small, DAY, small.bay, small.shared, small.stray, service=small.fronts
        )
    return small, visit


def typed(small: Small, text: str, key: str = "a", seen: Mapping[int, int] | None = None) -> Typed:
    return Typed(day=DAY, farrier_id=small.farrier, text=text, key=key, seen=seen or {})


def press(both: Database, small: Small, text: str, key: str = "a", **more: object) -> Entered:
    with both.writing() as unit:
        return enter(unit.session, typed(small, text, key, **more), currency="USD")  # type: ignore[arg-type]


def states(both: Database, visit: int) -> Mapping[str, WorkState]:
    with both.reading() as session:
        return fold(queries.facts_of(session, visit)).works


def stands(session: Session, visit: int, sort: FactSort) -> list[Said]:
    return [f for f in standing(queries.facts_of(session, visit)) if f.sort is sort]


def why(both: Database, small: Small, text: str) -> list[tuple[str, str]]:
    """Give what of a press was not understood, with its reason."""
    with pytest.raises(Unclear) as unclear:
        press(both, small, text)
    return [(one.typed, one.refused.code) for one in unclear.value.wrong]


def test_several_entries_are_written_down_at_one_press(both: Database) -> None:
    small, visit = evening(both)

    done = press(both, small, "1; 2 f; 3 a kicked the gate; 2 told 91; 1 min 95; 2 pays ash")

    works = states(both, visit)
    bramble, tolliver, stray = (works[str(h)] for h in (small.bay, small.shared, small.stray))
    assert done.lines == (1, 2, 3)
    assert (bramble.outcome, bramble.minutes) == ("done", 95)
    assert (tolliver.outcome, tolliver.told) == ("part", 9_100)
    assert tolliver.payers == ((small.other, 1),)
    assert tolliver.feet[Foot.LH].done is FootWork.NOT_DONE
    assert tolliver.feet[Foot.LF].done is FootWork.NEW
    assert (stray.outcome, stray.note) == ("absent", "kicked the gate")


def test_a_press_that_arrives_twice_counts_once(both: Database) -> None:
    small, visit = evening(both)
    text = "1 paid 60 tip 2 receipt 412; 1; b + Sarah's bay, trim, 58".replace("b +", "a +")
    press(both, small, text)
    with pytest.raises(Unclear):
        press(both, small, text)
    press(both, small, "1 paid 60 tip 2 receipt 412", key="b")

    with both.reading() as session:
        paid = stands(session, visit, FactSort.PAID)
        lines = [line for s in queries.sheets(session, DAY)[0].stops for line in s.lines]
    assert [fact.data["amount"] for fact in paid] == [5_800]
    assert paid[0].data["tip"] == 200
    assert [line.words for line in lines][3:] == ["Sarah's bay"]
    assert (lines[3].number, lines[3].price, lines[3].service_id) == (4, 5_800, small.trim)
    assert lines[3].outcome == "done"


def test_if_one_entry_is_not_understood_nothing_is_saved(both: Database) -> None:
    small, visit = evening(both)

    assert why(both, small, "1 a; 2 frnots; 9 a; 3 lf new 1 26") == [
        ("2 frnots", "entry.line_not_understood"),
        ("9 a", "entry.no_line"),
        ("3 lf new 1 26", "visits.nails_asked_back"),
    ]

    assert {work.outcome for work in states(both, visit).values()} == {"planned"}


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1 lf new 7", "entry.no_size"),
        ("1 lf new 1 6 clip", "entry.no_shoe"),
        ("1 rh x6", "entry.new_or_reset"),
        ("1 owner", "entry.no_owner"),
        ("1 pays nobody", "entry.no_client"),
        ("1 pays r", "entry.which_client"),
        ("c mud", "entry.no_stop"),
        ("a + bay, shampoo", "entry.no_service"),
        ("a + bay, fronts", "entry.which_service"),
        ("knife loop", "entry.no_knife"),
        ("along", "entry.no_apprentices"),
    ],
)
def test_what_is_not_on_the_sheet_is_asked_back(both: Database, text: str, code: str) -> None:
    small, _ = evening(both)
    with both.writing() as unit:
        clients.save_client(unit.session, ClientDetails(name="Rory Marsh"))

    assert why(both, small, text) == [(text, code)]


def test_a_size_means_the_shoe_of_the_name_the_horse_wears(both: Database) -> None:
    small, visit = evening(both)
    with both.writing() as unit:
        for name in ("Rim", "Shoe"):
            details = ItemDetails(sort="shoe", name=name, size_text="00", pack=2)
            made = stock.save_item(unit.session, details)
    assert why(both, small, "1 lf 00") == [("1 lf 00", "entry.which_shoe")]
    with both.writing() as unit:
        feet = fronts_on(small)
        worn = {"feet": {f.value: {"done": s.done, "shoe": s.shoe, "nail": s.nail, "nails": 6}
                         for f, s in feet.items() if s.done.shod}}  # fmt: skip
        fact = Said(id="worn", subject=str(small.bay), sort=FactSort.FEET, data=worn)
        visits.say(unit.session, visit, [fact])

    press(both, small, "1 fronts 00; 1 lf x5")
    press(both, small, "2 lf 00 6 rim", key="b")

    works = states(both, visit)
    fronts = works[str(small.bay)].feet
    assert fronts[Foot.LF].shoe == fronts[Foot.RF].shoe == made
    assert (fronts[Foot.LF].nails, fronts[Foot.RF].nails) == (5, 6)
    assert fronts[Foot.LF].nail == small.nail
    assert works[str(small.shared)].feet[Foot.LF].shoe == made - 1


def test_a_lost_shoe_is_found_or_a_new_one_goes_on(both: Database) -> None:
    small, visit = evening(both)

    press(both, small, "1 lost lf found 6; 2 lost rf 1 5")

    works = states(both, visit)
    found, gone = works[str(small.bay)].feet[Foot.LF], works[str(small.shared)].feet[Foot.RF]
    assert (found.done, found.lost, found.nails) == (FootWork.RESET, "found", 6)
    assert (gone.done, gone.lost, gone.shoe, gone.nails) == (FootWork.NEW, "gone", small.shoe, 5)


def test_what_was_said_of_a_line_is_taken_back(both: Database) -> None:
    small, visit = evening(both)
    press(both, small, "1 f; 1 told 91; 1 leaned; 2 a")
    press(both, small, "1 undo; 1 min 40", key="b")

    works = states(both, visit)
    bramble = works[str(small.bay)]
    assert (bramble.outcome, bramble.told, bramble.minutes) == ("planned", None, 40)
    assert works[str(small.shared)].outcome == "absent"
    with both.reading() as session:
        assert stands(session, visit, FactSort.TOOL) == []


def test_two_notes_stand_under_each_other_and_a_warning_is_held_once(both: Database) -> None:
    small, visit = evening(both)
    press(both, small, "1 note gate banged; 1 note sore left; 1 flag frightened behind")
    press(both, small, "1 note sore left; 1 flag frightened behind", key="b")

    assert states(both, visit)[str(small.bay)].note == "gate banged\nsore left"
    with both.reading() as session:
        flags = queries.sheets(session, DAY)[0].stops[0].lines[0].flags
    assert [(flag.flag, flag.note, flag.from_day) for flag in flags] == [
        ("other", "frightened behind", DAY)
    ]


def test_the_day_s_own_questions_are_answered_at_its_first_stop(both: Database) -> None:
    small, visit = evening(both)
    press(both, small, "knife knife; miles 100 158; a sand; 3 slipped")
    press(both, small, "knife knife", key="b")
    press(both, small, "knife no", key="c")

    with both.reading() as session:
        tools = [(f.data["tool"], f.data["what"]) for f in stands(session, visit, FactSort.TOOL)]
        state = fold(queries.facts_of(session, visit))
    assert tools == [(small.stand, "slipped"), (None, "none")]
    assert (state.miles, state.ground) == (58, "sand")


def test_the_owner_pays_today(both: Database) -> None:
    small, visit = evening(both)
    with both.writing() as unit:
        unit.session.get_one(Horse, small.bay).owner_id = small.other

    press(both, small, "1 owner")

    assert states(both, visit)[str(small.bay)].payers == ((small.other, 1),)


def test_what_somebody_else_said_meanwhile_is_asked_about_first(both: Database) -> None:
    small, visit = evening(both)
    with both.reading() as session:
        seen = {visit: max(f.seq for f in facts_by_visit(session, [visit])[visit])}
    press(both, small, "1 a", key="other")

    assert press(both, small, "2 f", seen=seen).lines == (2,)
    with pytest.raises(SaidMeanwhile) as meanwhile:
        press(both, small, "1 f; 3 a", key="b", seen=seen)

    assert meanwhile.value.lines == (1,)
    works = states(both, visit)
    assert works[str(small.bay)].outcome == "absent"
    assert works[str(small.stray)].outcome == "planned"


def test_the_rest_is_as_planned_and_the_day_closed(both: Database) -> None:
    small, visit = evening(both)
    press(both, small, "2 f")
    with both.writing() as unit:
        assert rest_as_planned(unit.session, DAY, small.farrier, key="r") == 2
        billing.close_day(unit.session, DAY, today=DAY, farrier_id=small.farrier)

    assert why(both, small, "1 undo") == [("1 undo", "entry.undo_closed")]
    entered = press(both, small, "1 told 70; 1 note late", key="b")

    assert {f.sort for f in entered.late[visit]} == {FactSort.TOLD, FactSort.NOTE}
    with both.writing() as unit:
        billing.put_right(unit.session, visit, entered.late[visit], today=DAY)
    with both.reading() as session:
        line = queries.sheets(session, DAY)[0].stops[0].lines[0]
    assert (line.price, line.note, line.closed) == (7_000, "late", True)


def test_a_lost_shoe_is_never_as_planned(both: Database) -> None:
    small, visit = evening(both)
    with both.writing() as unit:
        lost = pricing.save_service(
            unit.session, ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20)
        )
        horse = clients.save_horse(unit.session, HorseDetails(name="Flint", yard_id=small.yard))
        plan(unit.session, small, DAY, horse, service=lost)
    assert why(both, small, "4; 1") == [("4", "entry.which_lost")]
    press(both, small, "a + the grey, lost", key="b")

    with both.writing() as unit:
        assert rest_as_planned(unit.session, DAY, small.farrier, key="r") == 3

    outcomes = {no: work.outcome for no, work in states(both, visit).items()}
    assert (outcomes[str(horse)], outcomes["x1"]) == ("planned", "planned")
    press(both, small, "4 lost lf found", key="c")
    assert states(both, visit)[str(horse)].outcome == "done"


def test_nothing_typed_and_no_such_day_are_refused(both: Database) -> None:
    small, _ = evening(both)
    with pytest.raises(Refused, match=r"entry\.empty"):
        press(both, small, " ; ")
    with pytest.raises(Refused, match=r"record\.missing"):
        press(both, replace(small, farrier=small.farrier + 1), "1")


def test_nobody_came_along_before_the_first_day(both: Database) -> None:
    evening(both)
    with both.reading() as session:
        assert along_before(session, DAY) is None
        assert along_before(session, date(2026, 3, 18)) is None
