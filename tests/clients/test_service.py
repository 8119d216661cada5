"""Clients, yards, horses; who pays for them, how to handle them, where they went."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice.clients import checks, queries, service
from backoffice.clients.models import PayerPart, PayerSet
from backoffice.clients.rules import ClientDetails, HorseDetails, HorseTypeDetails, YardDetails
from backoffice.daybook.models import Change
from backoffice.daybook.service import note_changes
from backoffice.db import Database
from backoffice.db import Session as Writing
from backoffice.errors import Refused
from backoffice.words import Speech

JANUARY, MARCH = date(2026, 1, 5), date(2026, 3, 17)

HOSTILE = [
    "\u202eQuill\u200fhaven",
    "<script>alert(1)</script>",
    "\" onmouseover='x'",
    "{{ 7*7 }}{% raw %}{0}",
    "=HYPERLINK(1)",
    "+1",
    "@SUM(A1)",
    "\uff05_\\%",
    "'; DROP TABLE client; --",
    "🐴\u200d Zoë",
]


def three(session: Session) -> tuple[int, int, int]:
    """Save a horse and two clients, and give their numbers."""
    horse = service.save_horse(session, HorseDetails(name="Duke"))
    one = service.save_client(session, ClientDetails(name="Wenna Harrow"))
    return horse, one, service.save_client(session, ClientDetails(name="Bram Ostler"))


def payers(session: Session, horse: int, day: date) -> queries.Payers:
    return queries.payers_on(session, [horse], day)[horse]


def test_records_come_back_as_saved_with_what_is_not_known_still_not_known(
    both: Database,
) -> None:
    client = ClientDetails(
        name="Zoë", address="1 Lane\nAverdale", phone="07", email="z@example.org", notes="gate 4",
        sort="business", bill_when="monthly", bill_how="email", terms_days=15,
    )  # fmt: skip
    yard = YardDetails(name="Larkmoss", ground="mud", miles=10, call_out=4_500, gate_note="4711")
    kind = HorseTypeDetails(name="Cob", nails=6)
    with both.writing() as unit:
        ids = (
            service.save_client(unit.session, client),
            service.save_client(unit.session, ClientDetails()),
            service.save_yard(unit.session, yard),
            service.save_yard(unit.session, YardDetails()),
            service.save_horse_type(unit.session, kind),
            service.save_horse(unit.session, HorseDetails()),
        )
        horse = HorseDetails(
            name="Duke", words="the big one", type_id=ids[4], yard_id=ids[2], weight_lb=1_900
        )
        duke = service.save_horse(unit.session, horse)
    with both.reading() as session:
        assert queries.client_card(session, ids[0], MARCH).details == replace(client, version=1)
        assert queries.client_card(session, ids[1], MARCH).details == ClientDetails(version=1)
        assert queries.yard_card(session, ids[2], MARCH).details == replace(yard, version=1)
        assert queries.yard_card(session, ids[3], MARCH).details == YardDetails(version=1)
        assert queries.horse_type_card(session, ids[4]).details == replace(kind, version=1)
        assert queries.horse_card(session, ids[5], MARCH).details == HorseDetails(version=1)
        card = queries.horse_card(session, duke, MARCH)
        assert card.details == replace(horse, version=1)
        assert (card.type_name, card.yard_name, card.life) == ("Cob", "Larkmoss", "active")
        assert [(payer.client_id, payer.parts) for payer in card.payers] == [(None, 1)]


@pytest.mark.parametrize("text", HOSTILE)
def test_strange_text_comes_back_and_is_found(both: Database, text: str) -> None:
    with both.writing() as unit:
        made = service.save_client(unit.session, ClientDetails(name=text, notes=text))
        service.save_client(unit.session, ClientDetails(name="Wenna"))
    with both.reading() as session:
        details = queries.client_card(session, made, MARCH).details
        assert (details.name, details.notes) == (text, text)
        assert [row.id for row in queries.client_list(session, text).rows] == [made]


@pytest.mark.parametrize(
    ("save", "details", "code", "field"),
    [
        (service.save_client, ClientDetails(name="a\0b"), "text.control", "name"),
        (service.save_client, ClientDetails(email="a@b\nBcc: c@d"), "text.control", "email"),
        (service.save_client, ClientDetails(notes="x" * 10_000), "text.too_long", "notes"),
        (service.save_client, ClientDetails(name="x" * 201), "text.too_long", "name"),
        (service.save_client, ClientDetails(terms_days=-1), "count.negative", "terms_days"),
        (service.save_client, ClientDetails(bill_when="never"), "choice.unknown", "bill_when"),
        (service.save_yard, YardDetails(call_out=-1), "money.negative", "call_out"),
        (service.save_yard, YardDetails(ground="ice"), "choice.unknown", "ground"),
        (service.save_horse_type, HorseTypeDetails(name=""), "text.needed", "name"),
        (
            service.save_horse_type,
            HorseTypeDetails(name="Cob", nails=17),
            "count.too_large",
            "nails",
        ),
        (
            service.save_horse_type,
            HorseTypeDetails(name="Cob", wear_factor=0),
            "count.too_small",
            "wear_factor",
        ),
        (service.save_horse, HorseDetails(weight_lb=0), "count.too_small", "weight_lb"),
        (service.save_horse, HorseDetails(type_id=99), "choice.unknown", "type_id"),
        (service.save_horse, HorseDetails(yard_id=99), "choice.unknown", "yard_id"),
    ],
)
def test_what_cannot_be_kept_is_refused_beside_its_field(
    database: Database,
    save: Callable[[Session, object], int],
    details: object,
    code: str,
    field: str,
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        save(unit.session, details)

    assert (refused.value.code, refused.value.field) == (code, field)
    assert Speech().say(code, **refused.value.facts)


def test_the_second_of_two_people_on_one_client_is_told(both: Database) -> None:
    with both.writing() as unit:
        made = service.save_client(unit.session, ClientDetails(name="Wenna"))
        read = queries.client_card(unit.session, made, MARCH).details
    with both.writing() as unit:
        service.save_client(unit.session, replace(read, phone="07"), made)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_client(unit.session, replace(read, phone="08"), made)
    with both.reading() as session:
        assert queries.client_card(session, made, MARCH).details.phone == "07"


def test_two_kinds_of_horse_cannot_have_one_name(both: Database) -> None:
    with both.writing() as unit:
        service.save_horse_type(unit.session, HorseTypeDetails(name="Cob"))
    with pytest.raises(Refused, match=r"name\.taken"), both.writing() as unit:
        service.save_horse_type(unit.session, HorseTypeDetails(name="Cob"))


def test_who_pays_is_who_was_named_last_before_the_day(both: Database) -> None:
    with both.writing() as unit:
        horse, one, two = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(two, 60), (one, 40)])
        service.set_payers(unit.session, horse, MARCH, [(one, 1)])
    with both.reading() as session:
        assert payers(session, horse, JANUARY - timedelta(1)) == ((None, 1),)
        assert payers(session, horse, JANUARY) == ((two, 60), (one, 40))
        assert payers(session, horse, MARCH - timedelta(1)) == ((two, 60), (one, 40))
        assert payers(session, horse, MARCH) == ((one, 1),)


def test_naming_nobody_says_that_the_payer_is_not_known_from_then_on(both: Database) -> None:
    with both.writing() as unit:
        horse, one, _ = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1)])
        service.set_payers(unit.session, horse, MARCH, [])
    with both.reading() as session:
        assert payers(session, horse, MARCH - timedelta(1)) == ((one, 1),)
        assert payers(session, horse, MARCH) == ((None, 1),)


def test_payers_named_twice_for_a_day_are_those_named_last_and_the_change_is_written_down(
    both: Database,
) -> None:
    with both.writing() as unit:
        horse, one, two = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1), (two, 1)])
    with both.writing() as unit:
        service.set_payers(unit.session, horse, JANUARY, [(two, 1), (one, 3)])
    with both.reading() as session:
        assert payers(session, horse, JANUARY) == ((two, 1), (one, 3))
        assert session.scalars(sa.select(PayerSet.from_day)).all() == [JANUARY]
        changed = session.scalars(sa.select(Change.table_name).distinct()).all()
        assert changed == ["payer_part"]
        assert sa.event.contains(Writing, "before_flush", note_changes)
    with both.writing() as unit:
        service.set_payers(unit.session, horse, JANUARY, [(one, 1)])
        assert payers(unit.session, horse, JANUARY) == ((one, 1),)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1), (two, 2)])
    with both.reading() as session:
        assert payers(session, horse, JANUARY) == ((one, 1), (two, 2))


def test_payers_that_make_nothing_leave_the_old_ones(both: Database) -> None:
    with both.writing() as unit:
        horse, one, _ = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1)])
    for parts, code in (([(one, 0)], "shares.make_nothing"), ([(99, 1)], "choice.unknown")):
        with pytest.raises(Refused, match=re.escape(code)), both.writing() as unit:
            service.set_payers(unit.session, horse, MARCH, parts)
    with both.reading() as session:
        assert payers(session, horse, MARCH) == ((one, 1),)


def test_the_payers_of_many_horses_are_one_question(both: Database) -> None:
    with both.writing() as unit:
        horse, one, _ = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1)])
        more = [service.save_horse(unit.session, HorseDetails()) for _ in range(20)]
    with both.reading() as session:
        asked: list[str] = []
        sa.event.listen(
            session.connection(), "before_cursor_execute", lambda *told: asked.append(told[2])
        )
        found = queries.payers_on(session, [horse, *more], MARCH)
    assert len(asked) == 1
    assert found == {horse: ((one, 1),)} | dict.fromkeys(more, ((None, 1),))


def test_a_flag_holds_from_its_first_to_its_last_day(both: Database) -> None:
    with both.writing() as unit:
        horse, _, _ = three(unit.session)
        kicks = service.flag(unit.session, horse, "kicks", "left behind", JANUARY)
        service.flag(unit.session, horse, "leans", None, MARCH)
        service.end_flag(unit.session, kicks, MARCH)
    with both.reading() as session:

        def on(day: date) -> list[tuple[str, str | None]]:
            return [(f.flag, f.note) for f in queries.flags_on(session, [horse], day)[horse]]

        assert on(JANUARY - timedelta(1)) == []
        assert on(JANUARY) == [("kicks", "left behind")]
        assert on(MARCH) == [("kicks", "left behind"), ("leans", None)]
        assert on(MARCH + timedelta(1)) == [("leans", None)]


def test_a_flag_cannot_end_before_it_began_or_be_one_nobody_knows(database: Database) -> None:
    with database.writing() as unit:
        horse, _, _ = three(unit.session)
        kicks = service.flag(unit.session, horse, "kicks", None, MARCH)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.end_flag(unit.session, kicks, JANUARY)
    assert "Mar 17, 2026" in Speech().say(refused.value.code, **refused.value.facts)
    with pytest.raises(Refused, match=r"choice\.unknown"), database.writing() as unit:
        service.flag(unit.session, horse, "bites", None, MARCH)
    with pytest.raises(Refused, match=r"choice\.unknown"), database.writing() as unit:
        service.flag(unit.session, 99, "kicks", None, MARCH)
    with pytest.raises(Refused, match=r"record\.missing"), database.writing() as unit:
        service.end_flag(unit.session, 99, MARCH)


def test_a_horse_of_no_known_place_may_stand_at_any_yard(both: Database) -> None:
    with both.writing() as unit:
        here = service.save_yard(unit.session, YardDetails(name="Larkmoss"))
        there = service.save_yard(unit.session, YardDetails(name="Quillhaven"))
        duke, bess, tom = (
            service.save_horse(unit.session, HorseDetails(name=name, yard_id=yard))
            for name, yard in (("Duke", here), ("Bess", there), ("Tom", None))
        )
    with both.reading() as session:

        def maybe(yard: int | None) -> set[int]:
            return {line.id for line in queries.horses_maybe_of_yard(session, yard, MARCH)}

        assert maybe(here) == {duke, tom}
        assert maybe(there) == {bess, tom}
        assert maybe(None) == {duke, bess, tom}


@pytest.mark.parametrize("state", ["sold", "gone", "dead"])
def test_a_horse_that_went_is_left_out_from_that_day_on_and_may_come_back(
    both: Database, state: str
) -> None:
    with both.writing() as unit:
        yard = service.save_yard(unit.session, YardDetails(name="Larkmoss"))
        horse = service.save_horse(unit.session, HorseDetails(name="Duke", yard_id=yard))
        service.set_life(unit.session, horse, JANUARY, "active")
        service.set_life(unit.session, horse, JANUARY, state)
        service.set_life(unit.session, horse, MARCH, "active")
    with both.reading() as session:

        def here(day: date) -> list[int]:
            return [line.id for line in queries.active_horses_of_yard(session, yard, day)]

        assert here(JANUARY - timedelta(1)) == [horse]
        assert here(JANUARY) == here(MARCH - timedelta(1)) == []
        assert here(MARCH) == [horse]
        assert queries.lives_on(session, [horse], JANUARY) == {horse: state}
        assert queries.horse_card(session, horse, JANUARY).life_since == JANUARY
        assert queries.horse_list(session, JANUARY).rows == ()
        assert [row.life for row in queries.horse_list(session, JANUARY, gone=True).rows] == [state]
        assert [row.horses for row in queries.yard_list(session, JANUARY).rows] == [0]
        assert [row.horses for row in queries.yard_list(session, MARCH).rows] == [1]


def test_the_life_of_a_horse_is_one_of_a_few_words_and_the_horse_is_there(
    database: Database,
) -> None:
    with database.writing() as unit:
        horse, _, _ = three(unit.session)
    with pytest.raises(Refused, match=r"choice\.unknown"), database.writing() as unit:
        service.set_life(unit.session, horse, MARCH, "asleep")
    with pytest.raises(Refused, match=r"record\.missing"), database.writing() as unit:
        service.set_life(unit.session, 99, MARCH, "sold")
    with pytest.raises(Refused, match=r"day\.far_off"), database.writing() as unit:
        service.set_life(unit.session, horse, date(1026, 3, 17), "sold")


def test_the_books_of_clients_hold_after_all_of_this(both: Database) -> None:
    with both.writing() as unit:
        horse, one, two = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1), (two, 1)])
        service.flag(unit.session, horse, "kicks", None, MARCH)
    with both.reading() as session:
        assert list(checks.check(session)) == []


def test_a_payer_named_twice_behind_our_back_is_found(both: Database) -> None:
    with both.writing() as unit:
        horse, one, _ = three(unit.session)
        service.set_payers(unit.session, horse, JANUARY, [(one, 1)])
        payer_set = unit.session.scalars(sa.select(PayerSet.id)).one()
        unit.session.add(PayerPart(set_id=payer_set, client_id=one, place_no=1, parts=1))
    with both.reading() as session:
        (found,) = checks.check(session)
    assert found.code == "broken.payer_twice"
    assert Speech().say(found.code, **found.facts)


@pytest.mark.parametrize(
    ("statement", "code"),
    [
        ("UPDATE client SET search_key = 'nobody' WHERE id = 1", "broken.search_key"),
        ("UPDATE horse SET name = 'Dusty'", "broken.search_key"),
        ("UPDATE horse_flag SET until_day = '2025-01-01'", "broken.flag_ends_before"),
    ],
)
def test_a_record_changed_behind_our_back_is_found(
    both: Database, statement: str, code: str
) -> None:
    with both.writing() as unit:
        horse, _, _ = three(unit.session)
        service.flag(unit.session, horse, "kicks", None, MARCH)
        unit.session.execute(sa.text(statement))
    with both.reading() as session:
        (found,) = checks.check(session)
    assert found.code == code
    assert Speech().say(found.code, **found.facts)
