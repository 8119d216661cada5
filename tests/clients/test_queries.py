"""Lists and cards of clients, yards and horses, on both engines."""

from collections.abc import Callable
from datetime import date

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice.clients import queries, service
from backoffice.clients.rules import ClientDetails, HorseDetails, HorseTypeDetails, YardDetails
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.words import Speech

MARCH = date(2026, 3, 17)


def test_clients_are_listed_by_name_and_found_by_name_telephone_or_email(both: Database) -> None:
    with both.writing() as unit:
        made = [
            service.save_client(unit.session, details)
            for details in (
                ClientDetails(name="Zoë Ångström", phone="07 12"),
                ClientDetails(name="bram ostler", email="bram@example.org"),
                ClientDetails(name="Álvaro", hidden=True),
            )
        ]
    with both.reading() as session:

        def found(search: str = "", **more: bool) -> list[int]:
            return [row.id for row in queries.client_list(session, search, **more).rows]

        assert found() == [made[1], made[0]]
        assert found(hidden=True) == [made[2], made[1], made[0]]
        assert found("ANGSTROM") == found("07 12") == [made[0]]
        assert found("@example") == [made[1]]
        assert found("%") == found("_") == found("nobody") == []
        assert queries.client_choices(session, Speech()) == (
            (made[1], "bram ostler"),
            (made[0], "Zoë Ångström"),
        )


def test_a_client_without_a_name_may_still_be_chosen(database: Database) -> None:
    with database.writing() as unit:
        client = service.save_client(unit.session, ClientDetails())
        yard = service.save_yard(unit.session, YardDetails())
        kind = service.save_horse_type(unit.session, HorseTypeDetails(name="Cob"))
    uk = Speech(words="uk", currency="GBP")
    with database.reading() as session:
        assert queries.client_choices(session, uk) == ((client, "a client not named yet"),)
        assert queries.yard_choices(session, uk) == ((yard, "a yard not named yet"),)
        assert queries.type_choices(session) == ((kind, "Cob"),)
        assert queries.horses_of_type(session, kind) == ()


def test_a_long_list_comes_in_pages_that_leave_nobody_out(both: Database) -> None:
    with both.writing() as unit:
        for number in range(201):
            service.save_client(unit.session, ClientDetails(name=f"Client {number:03}"))
    with both.reading() as session:
        first, second = queries.client_list(session), queries.client_list(session, page=2)
        assert (len(first.rows), first.more) == (200, True)
        assert ([row.name for row in second.rows], second.more) == (["Client 200"], False)
        assert queries.client_list(session, page=-5).rows == first.rows
        assert queries.client_list(session, page=3).rows == ()


def test_yards_are_found_by_name_and_address_whatever_the_accents(both: Database) -> None:
    with both.writing() as unit:
        lark = service.save_yard(unit.session, YardDetails(name="Larkmoss Lívery"))
        quill = service.save_yard(unit.session, YardDetails(name="Quillhaven", address="Pönd Row"))
        service.save_yard(unit.session, YardDetails(name="Old pond", hidden=True))
    with both.reading() as session:

        def found(search: str) -> list[int]:
            return [row.id for row in queries.yard_list(session, MARCH, search).rows]

        assert found("") == [lark, quill]
        assert found("LIVERY") == [lark]
        assert found("pond") == [quill]


def test_a_client_shows_the_horses_he_pays_for_now_and_not_those_he_paid_for(
    both: Database,
) -> None:
    with both.writing() as unit:
        one = service.save_client(unit.session, ClientDetails(name="Wenna"))
        two = service.save_client(unit.session, ClientDetails(name="Bram"))
        duke = service.save_horse(unit.session, HorseDetails(name="Duke"))
        shared = service.save_horse(unit.session, HorseDetails(words="the grey"))
        service.set_payers(unit.session, duke, date(2025, 1, 1), [(one, 1)])
        service.set_payers(unit.session, duke, MARCH, [(two, 1)])
        service.set_payers(unit.session, shared, date(2025, 1, 1), [(two, 1), (one, 1)])
    with both.reading() as session:

        def his(client: int, day: date) -> list[int]:
            return [horse.id for horse in queries.client_card(session, client, day).horses]

        assert his(one, date(2026, 3, 16)) == [duke, shared]
        assert his(one, MARCH) == [shared]
        assert his(two, MARCH) == [duke, shared]
        names = [(p.name, p.parts) for p in queries.horse_card(session, shared, MARCH).payers]
        assert names == [("Bram", 1), ("Wenna", 1)]


def test_a_yard_shows_its_horses_with_how_to_handle_them(both: Database) -> None:
    with both.writing() as unit:
        yard = service.save_yard(unit.session, YardDetails(name="Larkmoss"))
        duke = service.save_horse(unit.session, HorseDetails(name="Duke", yard_id=yard))
        bay = service.save_horse(unit.session, HorseDetails(words="bay", yard_id=yard))
        service.save_horse(unit.session, HorseDetails(name="Old", yard_id=yard, hidden=True))
        service.save_horse(unit.session, HorseDetails(name="Elsewhere"))
        service.flag(unit.session, duke, "leans", "all the time", date(2025, 1, 1))
    with both.reading() as session:
        here = queries.yard_card(session, yard, MARCH).horses
        assert [(one.horse.id, [f.flag for f in one.flags]) for one in here] == [
            (bay, []),
            (duke, ["leans"]),
        ]
        assert {row.yard_name for row in queries.horse_list(session, MARCH).rows} == {
            "Larkmoss",
            None,
        }
        assert [row.id for row in queries.horse_list(session, MARCH, "BAY").rows] == [bay]


@pytest.mark.parametrize(
    "card", [queries.client_card, queries.yard_card, queries.horse_card], ids=lambda c: c.__name__
)
def test_a_record_that_is_not_there_is_refused(
    database: Database, card: Callable[[Session, int, date], object]
) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        card(session, 99, MARCH)


def statements(database: Database, ask: Callable[[Session], object]) -> int:
    """Count the statements a question costs."""
    asked: list[str] = []
    with database.reading() as session:
        sa.event.listen(
            session.connection(), "before_cursor_execute", lambda *told: asked.append(told[2])
        )
        ask(session)
    return len(asked)


QUESTIONS: dict[str, tuple[Callable[[Session], object], int]] = {
    "clients": (lambda s: queries.client_list(s, "c"), 1),
    "yards": (lambda s: queries.yard_list(s, MARCH), 1),
    "horses": (lambda s: queries.horse_list(s, MARCH, "h"), 1),
    "a client": (lambda s: queries.client_card(s, 1, MARCH), 2),
    "a yard": (lambda s: queries.yard_card(s, 1, MARCH), 3),
    "a horse": (lambda s: queries.horse_card(s, 1, MARCH), 6),
}


@pytest.mark.parametrize("page", QUESTIONS)
def test_a_page_asks_as_often_with_thirty_horses_as_with_one(both: Database, page: str) -> None:
    ask, budget = QUESTIONS[page]
    counts = []
    for many in (1, 29):
        with both.writing() as unit:
            yard = service.save_yard(unit.session, YardDetails(name="yard"))
            client = service.save_client(unit.session, ClientDetails(name="client"))
            for number in range(many):
                horse = service.save_horse(
                    unit.session, HorseDetails(name=f"horse {number}", yard_id=1)
                )
                service.set_payers(unit.session, horse, MARCH, [(1, 1), (client, 1)][:yard])
                service.flag(unit.session, horse, "kicks", None, MARCH)
        counts.append(statements(both, ask))

    assert counts == [budget, budget]
