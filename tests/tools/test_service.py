"""Tools, their work and what happens to them, on both engines."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backoffice.daybook import service as daybook
from backoffice.db import Database, Session
from backoffice.errors import Refused
from backoffice.practice import service as practice
from backoffice.practice.rules import PlaceDetails
from backoffice.tools import checks, queries, service
from backoffice.tools.models import ToolState, Wear
from backoffice.tools.rules import ToolDetails
from backoffice.tools.service import WorkWear, Worn
from backoffice.units import FootWork

TODAY = date(2026, 3, 17)
TRIM = (FootWork.TRIM,) * 4
FULL = (FootWork.NEW,) * 4


def truck(session: Session, name: str = "Truck A") -> int:
    return practice.save_place(session, PlaceDetails(name=name))


def tool(session: Session, place_id: int, sort: str = "knife", **facts: Any) -> int:
    details = ToolDetails(sort=sort, name=facts.pop("name", sort), place_id=place_id, **facts)
    return service.save_tool(session, details)


def work(place_id: int, feet: tuple[FootWork, ...] = TRIM, **factors: int) -> WorkWear:
    return WorkWear(
        place_id=place_id, feet=feet, **{"type_factor": 1_000, "ground_factor": 1_000} | factors
    )


def close(
    session: Session, works: Sequence[WorkWear], day: date = TODAY
) -> tuple[tuple[Worn, ...], ...]:
    return service.wear(session, daybook.record(session, "closing", day), works)


def happens(session: Session, tool_id: int, sort: str, day: date = TODAY, **more: Any) -> int:
    entry = daybook.record(session, "tool", day)
    return service.record_event(session, entry, tool_id, sort, **more)


def counts(session: Session, tool_id: int) -> tuple[int, int]:
    row = session.execute(
        sa.select(ToolState.since, ToolState.total).where(ToolState.tool_id == tool_id)
    ).one()
    return row.since, row.total


def codes(session: Session) -> list[str]:
    return [found.code for found in checks.check(session)]


def test_a_horse_wears_every_tool_of_the_kit_it_was_done_with(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        mine, other = truck(session), truck(session, "Truck B")
        right = tool(session, mine, share=600, price=6_500, life=1_200_000)
        left = tool(session, mine, share=400)
        hammer = tool(session, mine, "hammer")
        theirs = tool(session, other)
        worn = close(session, [work(mine), work(mine, FULL, type_factor=3_000)])

    assert [(w.tool_id, w.units, w.cost) for w in worn[0]] == [(right, 600, 3), (left, 400, 0)]
    assert [(w.tool_id, w.units, w.cost) for w in worn[1]] == [
        (right, 1_800, 10),
        (left, 1_200, 0),
        (hammer, 3_000, 0),
    ]
    with both.reading() as session:
        assert counts(session, right) == (2_400, 2_400)
        assert counts(session, hammer) == (3_000, 3_000)
        assert counts(session, theirs) == (0, 0)
        kept = {
            row.id: (row.tool_id, row.units, row.cost) for row in session.scalars(sa.select(Wear))
        }
        assert kept == {w.wear_id: (w.tool_id, w.units, w.cost) for ws in worn for w in ws}
        assert codes(session) == []


def test_a_rasp_past_hooves_and_a_tool_put_away_are_not_worn(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        old, new = tool(session, place, "rasp", stage="finishing"), tool(session, place, "rasp")
        tool(session, place, "knife", hidden=True)
        worn = close(session, [work(place)])

    assert [w.tool_id for w in worn[0]] == [new]
    with both.reading() as session:
        assert counts(session, old) == (0, 0)


def test_work_without_a_kit_or_without_feet_wears_nothing(both: Database) -> None:
    with both.writing() as unit:
        place, bare = truck(unit.session), truck(unit.session, "Shop")
        tool(unit.session, place)
        assert close(unit.session, []) == ()
        assert close(unit.session, [work(bare), work(place, ())]) == ((), ())


def test_closing_asks_the_same_number_of_statements_however_much_was_done(
    database: Database,
) -> None:
    with database.writing() as unit:
        place = truck(unit.session)
        for _ in range(5):
            tool(unit.session, place)
        entry = daybook.record(unit.session, "closing", TODAY)
        asked: list[str] = []
        sa.event.listen(
            database.writer, "before_cursor_execute", lambda *about: asked.append(about[2])
        )
        service.wear(unit.session, entry, [work(place)])
        few = len(asked)
        worn = service.wear(unit.session, entry, [work(place)] * 30)
        many = len(asked) - few
        service.undo_wear(unit.session, entry, [w.wear_id for ws in worn for w in ws])

    assert few == many == 5
    assert len(asked) - few - many == 5


def test_sharpening_starts_the_count_anew_and_keeps_the_total(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place)
        close(session, [work(place)] * 3, date(2026, 3, 16))
        happens(session, knife, "went_dull", date(2026, 3, 16))
        happens(session, knife, "sharpened", date(2026, 3, 16), cost=150, note="by lamp light")
        close(session, [work(place)])

    with both.reading() as session:
        card = queries.tool_card(session, knife, TODAY)
        assert (card.tool.since, card.tool.total) == (1_000, 4_000)
        assert card.tool.service_day == date(2026, 3, 16)
        assert [(e.sort, e.units, e.cost, e.note) for e in card.events] == [
            ("sharpened", 3_000, 150, "by lamp light"),
            ("went_dull", 3_000, 0, None),
        ]
        assert codes(session) == []


def test_work_taken_back_restores_the_counts_and_is_taken_back_once(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place, price=6_500, life=1_200_000)
        close(session, [work(place)])
        before = counts(session, knife)
        ((wrong,),) = close(session, [work(place, FULL, type_factor=3_000)])
        service.undo_wear(session, daybook.record(session, "correction", TODAY), [wrong.wear_id])
        assert counts(session, knife) == before
    with both.reading() as session:
        assert session.scalar(sa.select(sa.func.sum(Wear.cost))) == 5
        assert codes(session) == []
        undone = queries.tool_card(session, knife, TODAY).wears[0]
        assert (undone.units, undone.undoes_id) == (-3_000, wrong.wear_id)
    for again in (wrong.wear_id, undone.id):
        with pytest.raises(Refused, match="undone_already"), both.writing() as unit:
            service.undo_wear(unit.session, 1, [again])
    with pytest.raises(Refused, match=r"record\.missing"), both.writing() as unit:
        service.undo_wear(unit.session, 1, [999])


def test_taking_back_what_was_done_before_sharpening_leaves_the_new_count_alone(
    both: Database,
) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place)
        ((old,),) = close(session, [work(place)])
        happens(session, knife, "reground")
        service.undo_wear(session, daybook.record(session, "correction", TODAY), [old.wear_id])
        service.undo_wear(session, daybook.record(session, "correction", TODAY), [])

    with both.reading() as session:
        assert counts(session, knife) == (0, 0)
        assert codes(session) == []


def test_a_closing_entered_before_a_sharpening_counts_before_it(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place)
        closing = daybook.record(session, "closing", TODAY)
        happens(session, knife, "sharpened")
        service.wear(session, closing, [work(place)])

    with both.reading() as session:
        assert counts(session, knife) == (0, 1_000)
        assert codes(session) == []


def test_a_sharpening_entered_before_a_closing_keeps_that_closing_in_its_count(
    both: Database,
) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place)
        sharpening = daybook.record(session, "tool", TODAY)
        close(session, [work(place)])
        service.record_event(session, sharpening, knife, "sharpened")

    with both.reading() as session:
        assert counts(session, knife) == (1_000, 1_000)
        assert codes(session) == []


def test_old_work_taken_back_before_a_sharpening_is_written_down_is_off_the_old_count(
    both: Database,
) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        knife = tool(session, place)
        ((old,),) = close(session, [work(place)])
        sharpening = daybook.record(session, "tool", TODAY)
        service.undo_wear(session, daybook.record(session, "correction", TODAY), [old.wear_id])
        service.record_event(session, sharpening, knife, "sharpened")

    with both.reading() as session:
        assert counts(session, knife) == (0, 0)
        assert codes(session) == []


def test_a_rasp_moves_on_and_counts_anew(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        place = truck(session)
        rasp = tool(session, place, "rasp")
        close(session, [work(place)])
        happens(session, rasp, "staged")
        close(session, [work(place)])
        happens(session, rasp, "staged")

    with both.reading() as session:
        assert queries.tool_details(session, rasp).stage == "hot"
        assert counts(session, rasp) == (0, 1_000)
    with pytest.raises(Refused, match="no_next_stage"), both.writing() as unit:
        happens(unit.session, rasp, "staged")


def test_a_stand_that_fell_is_not_used_until_it_was_looked_at(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        stand = tool(session, truck(session), "stand", look_days=30)
        happens(session, stand, "leaned", date(2026, 3, 10))
        happens(session, stand, "looked_at", date(2026, 3, 11))
        happens(session, stand, "leaned", date(2026, 3, 13))
        happens(session, stand, "fell", date(2026, 3, 14))
        happens(session, stand, "repaired", date(2026, 3, 15))
    with both.reading() as session:
        card = queries.tool_card(session, stand, TODAY)
        assert [s.code for s in card.tool.standing] == ["tools.do_not_use", "tools.looked_at"]
        assert card.leaned == 1
        assert "tools.caution.stand" in card.cautions
        assert codes(session) == []
    with both.writing() as unit:
        happens(unit.session, stand, "looked_at")
    with both.reading() as session:
        (line,) = queries.tool_list(session, TODAY)
        assert (line.trouble, line.look_day) == (None, TODAY)
        assert codes(session) == []


def test_a_tool_put_away_leaves_the_list_and_keeps_its_card(both: Database) -> None:
    with both.writing() as unit:
        knife = tool(unit.session, truck(unit.session))
        happens(unit.session, knife, "put_away")
    with both.reading() as session:
        assert queries.tool_list(session, TODAY) == ()
        assert queries.tool_card(session, knife, TODAY).tool.hidden


@pytest.mark.parametrize(
    ("wrong", "code", "field"),
    [
        ({"sort": "wand"}, "choice.unknown", "sort"),
        ({"name": "  "}, "text.needed", "name"),
        ({"place_id": 99}, "choice.unknown", "place_id"),
        ({"place_id": None}, "choice.unknown", "place_id"),
        ({"share": 1_001}, "count.too_large", "share"),
        ({"price": -1}, "money.negative", "price"),
        ({"price": 100, "scrap": 101}, "tools.scrap_above_price", "scrap"),
        ({"life": 0}, "count.too_small", "life"),
        ({"edge": 0}, "count.too_small", "edge"),
        ({"edge_cost": -1}, "money.negative", "edge_cost"),
        ({"stage": "hot"}, "tools.stage_of_rasp", "stage"),
        ({"sort": "rasp", "stage": "worn"}, "choice.unknown", "stage"),
        ({"look_days": 0}, "count.too_small", "look_days"),
        ({"bought": date(202, 6, 1)}, "day.far_off", ""),
    ],
)
def test_what_cannot_be_meant_is_refused_beside_its_field(
    database: Database, wrong: dict[str, Any], code: str, field: str
) -> None:
    with database.writing() as unit:
        right = ToolDetails(sort="knife", name="right", place_id=truck(unit.session))
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_tool(unit.session, replace(right, **wrong))
    assert (refused.value.code, refused.value.field) == (code, field)


def test_the_second_of_two_people_to_save_a_tool_is_told(both: Database) -> None:
    with both.writing() as unit:
        knife = tool(unit.session, truck(unit.session))
    with both.reading() as session:
        seen = queries.tool_details(session, knife)
    with both.writing() as unit:
        service.save_tool(unit.session, replace(seen, name="loop"), knife)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_tool(unit.session, replace(seen, name="spare"), knife)
    with both.reading() as session:
        assert queries.tool_details(session, knife).name == "loop"


def test_a_tool_or_an_event_there_is_not_is_refused(database: Database) -> None:
    with database.writing() as unit:
        knife = tool(unit.session, truck(unit.session))
    with pytest.raises(Refused, match=r"choice\.unknown"), database.writing() as unit:
        happens(unit.session, knife, "sang")
    with pytest.raises(Refused, match=r"record\.missing"), database.writing() as unit:
        happens(unit.session, 99, "sharpened")
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        queries.tool_card(session, 99, TODAY)


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        ("UPDATE tool_state SET since = since + 1", "broken.tool_since"),
        ("UPDATE tool_state SET total = total - 1", "broken.tool_total"),
        ("UPDATE tool_state SET trouble = NULL", "broken.tool_state"),
        ("UPDATE tool_state SET look_day = '2026-03-17'", "broken.tool_state"),
        (
            "INSERT INTO wear (entry_id, tool_id, units, cost, undoes_id)"
            " VALUES (1, 1, -999, 0, 1)",
            "broken.wear_undo",
        ),
    ],
)
def test_a_planted_fault_is_found(both: Database, fault: str, code: str) -> None:
    with both.writing() as unit:
        place = truck(unit.session)
        tool(unit.session, place, "stand")
        close(unit.session, [work(place)])
        happens(unit.session, 1, "fell")
    with both.reading() as session:
        assert codes(session) == []
    with both.writing() as unit:
        unit.session.execute(sa.text(fault))
    with both.reading() as session:
        assert code in codes(session)


def test_a_tool_without_its_counts_is_found(database: Database) -> None:
    with database.writing() as unit:
        tool(unit.session, truck(unit.session))
        unit.session.execute(sa.delete(ToolState))
    with database.reading() as session:
        assert set(codes(session)) == {
            "broken.tool_since",
            "broken.tool_total",
            "broken.tool_state",
        }


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("work"), st.sampled_from(list(FootWork))),
        st.tuples(st.just("undo"), st.integers(0, 30)),
        st.tuples(
            st.just("event"), st.sampled_from(["sharpened", "went_dull", "looked_at", "fell"])
        ),
    ),
    max_size=25,
)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(STEPS)
def test_whatever_happens_the_counts_agree_with_the_rows_and_never_fall_below_nothing(
    database: Database, steps: list[tuple[str, Any]]
) -> None:
    with database.writing() as unit:
        session = unit.session
        place = truck(session, f"Truck {session.scalar(sa.text('SELECT count(*) FROM place'))}")
        knife, spare = tool(session, place, share=700), tool(session, place, share=300)
        standing: list[int] = []
        for step, what in steps:
            if step == "work":
                (worn,) = close(session, [work(place, (what,) * 4)])
                standing += [w.wear_id for w in worn]
            elif step == "undo" and standing:
                wear_id = standing.pop(what % len(standing))
                entry = daybook.record(session, "correction", TODAY)
                service.undo_wear(session, entry, [wear_id])
            elif step == "event":
                happens(session, knife, what)
            assert min(*counts(session, knife), *counts(session, spare)) >= 0
        assert codes(session) == []


def test_two_trucks_closing_at_once_with_a_sharpening_between_lose_no_work(both: Database) -> None:
    with both.writing() as unit:
        place = truck(unit.session)
        knife = tool(unit.session, place)

    def evening(number: int) -> None:
        for turn in range(6):
            with both.writing() as unit:
                if number == 0 and turn % 2:
                    happens(unit.session, knife, "sharpened")
                else:
                    close(unit.session, [work(place)])

    with ThreadPoolExecutor(max_workers=4) as trucks:
        list(trucks.map(evening, range(4)))
    with both.reading() as session:
        assert counts(session, knife)[1] == 21_000
        assert codes(session) == []
