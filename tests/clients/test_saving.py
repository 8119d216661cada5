"""Yards, horses and their kinds: strange text, two people at once, long lists, far-off days."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from sqlalchemy.orm import Session

from backoffice.clients import queries, service
from backoffice.clients.rules import ClientDetails, HorseDetails, HorseTypeDetails, YardDetails
from backoffice.db import Database
from backoffice.errors import Refused

MARCH = date(2026, 3, 17)
HOSTILE = (
    "\u202eQuill\u200fhaven", "<script>alert(1)</script>", "{{ 7*7 }}{% raw %}{0}",
    "=HYPERLINK(1)", "'; DROP TABLE horse; --", "\"'><b>", "🐴\u200d Zoë", "x" * 200,
)  # fmt: skip
KINDS: dict[str, tuple[Any, Callable[..., int], Callable[[Session, int], Any]]] = {
    "client": (
        ClientDetails(name="Wenna"),
        service.save_client,
        lambda session, id: queries.client_card(session, id, MARCH).details,
    ),
    "yard": (
        YardDetails(name="Larkmoss"),
        service.save_yard,
        lambda session, id: queries.yard_card(session, id, MARCH).details,
    ),
    "horse": (
        HorseDetails(name="Duke"),
        service.save_horse,
        lambda session, id: queries.horse_card(session, id, MARCH).details,
    ),
    "kind of horse": (
        HorseTypeDetails(name="Cob"),
        service.save_horse_type,
        lambda session, id: queries.horse_type_card(session, id).details,
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_strange_text_comes_back_as_it_was_typed(both: Database, kind: str) -> None:
    details, save, read = KINDS[kind]
    with both.writing() as unit:
        made = save(unit.session, details)
    for version, text in enumerate(HOSTILE, 1):
        with both.writing() as unit:
            save(unit.session, replace(details, name=text, version=version), made)
        with both.reading() as session:
            kept = read(session, made)
            assert (kept.name, kept.version) == (text, version + 1)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("text", "code"), [("a\0b", "text.control"), ("x" * 10_000, "text.too_long")]
)
def test_text_that_cannot_be_kept_is_refused_beside_its_field(
    database: Database, kind: str, text: str, code: str
) -> None:
    details, save, _ = KINDS[kind]
    with pytest.raises(Refused) as refused, database.writing() as unit:
        save(unit.session, replace(details, name=text))

    assert (refused.value.code, refused.value.field) == (code, "name")


@pytest.mark.parametrize("kind", KINDS)
def test_the_second_of_two_people_on_one_page_is_told(both: Database, kind: str) -> None:
    details, save, read = KINDS[kind]
    with both.writing() as unit:
        made = save(unit.session, details)
    with both.reading() as session:
        seen = read(session, made)
    with both.writing() as unit:
        save(unit.session, replace(seen, name="The first"), made)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        save(unit.session, replace(seen, name="The second"), made)
    with both.reading() as session:
        assert read(session, made).name == "The first"


@pytest.mark.parametrize("kind", KINDS)
def test_a_record_that_is_not_there_cannot_be_opened_or_saved(
    database: Database, kind: str
) -> None:
    details, save, read = KINDS[kind]
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        read(session, 99)
    with pytest.raises(Refused, match=r"record\.missing"), database.writing() as unit:
        save(unit.session, replace(details, version=1), 99)


def test_a_horse_is_found_by_its_name_or_its_words_whatever_the_accents(both: Database) -> None:
    with both.writing() as unit:
        duke = service.save_horse(unit.session, HorseDetails(name="Dúke Ångström"))
        bay = service.save_horse(unit.session, HorseDetails(words="Zoë’s new bay"))
        service.save_horse(unit.session, HorseDetails(name="Bramble"))
    with both.reading() as session:

        def found(search: str) -> list[int]:
            return [row.id for row in queries.horse_list(session, MARCH, search).rows]

        assert found("duke angstrom") == found("DÜKE") == [duke]
        assert found("zoe") == [bay]
        assert found("%") == found("_") == found("{{ 7*7 }}") == []


def test_long_lists_of_yards_and_horses_come_in_pages_that_leave_none_out(both: Database) -> None:
    with both.writing() as unit:
        for number in range(201):
            service.save_yard(unit.session, YardDetails(name=f"Yard {number:03}"))
            service.save_horse(unit.session, HorseDetails(name=f"Horse {number:03}"))
    with both.reading() as session:
        for listed in (
            lambda page, search="": queries.yard_list(session, MARCH, search, page),
            lambda page, search="": queries.horse_list(session, MARCH, search, page),
        ):
            first, second = listed(1), listed(2)
            assert (len(first.rows), first.more) == (200, True)
            assert (len(second.rows), second.more) == (1, False)
            assert not {row.id for row in first.rows} & {row.id for row in second.rows}
            assert len(listed(1, "200").rows) == 1
            assert listed(99).rows == ()


@pytest.mark.parametrize("day", [date(1026, 3, 17), date(2926, 3, 17)])
def test_a_slipped_year_is_asked_back_wherever_a_day_is_given(
    database: Database, day: date
) -> None:
    with database.writing() as unit:
        horse = service.save_horse(unit.session, HorseDetails(name="Duke"))
        client = service.save_client(unit.session, ClientDetails(name="Wenna"))
        kicks = service.flag(unit.session, horse, "kicks", None, MARCH)
    for tell in (
        lambda session: service.set_payers(session, horse, day, [(client, 1)]),
        lambda session: service.set_life(session, horse, day, "sold"),
        lambda session: service.flag(session, horse, "leans", None, day),
        lambda session: service.end_flag(session, kicks, day),
    ):
        with pytest.raises(Refused, match=r"day\.far_off"), database.writing() as unit:
            tell(unit.session)


@pytest.mark.parametrize(
    ("note", "code"), [("a\0b", "text.control"), ("x" * 4_001, "text.too_long")]
)
def test_a_note_on_handling_that_cannot_be_kept_is_refused_beside_its_field(
    database: Database, note: str, code: str
) -> None:
    with database.writing() as unit:
        horse = service.save_horse(unit.session, HorseDetails(name="Duke"))
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.flag(unit.session, horse, "kicks", note, MARCH)

    assert (refused.value.code, refused.value.field) == (code, "note")


@pytest.mark.parametrize("words", ["us", "uk"])
def test_a_new_practice_starts_with_seven_kinds_of_horse(both: Database, words: str) -> None:
    with both.writing() as unit:
        service.start_types(unit.session, words)
    with both.reading() as session:
        assert len(queries.horse_types(session)) == 7
