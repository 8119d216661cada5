"""An apprentice along for a day, and what the day is owed, on both engines."""

from datetime import date
from threading import Thread

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice import schema
from backoffice.books import queries, service
from backoffice.books.models import PayOwed
from backoffice.clients import service as clients
from backoffice.clients.rules import YardDetails
from backoffice.daybook import service as daybook
from backoffice.daybook.models import Entry
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.practice import service as people
from backoffice.practice.rules import FarrierDetails
from backoffice.visits import service as visits
from backoffice.visits.models import Fact, Visit
from backoffice.words import Speech
from tests.factories import plan, small_practice

FRIDAY, TUESDAY = date(2026, 3, 13), date(2026, 3, 17)
TAM_PAY, UNA_PAY = 9_000, 11_000


class Crew:
    """A practice with one stop on Friday and two on Tuesday, and three apprentices."""

    def __init__(self, both: Database) -> None:
        self.both = both
        with both.writing() as unit:
            session = unit.session
            small = small_practice(session)
            self.farrier = small.farrier
            self.tam = self.apprentice(session, "Tam", TAM_PAY)
            self.una = self.apprentice(session, "Una", UNA_PAY)
            self.guest = self.apprentice(session, "Guest", None)
            plan(session, small, FRIDAY, small.bay, service=small.trim)
            plan(session, small, TUESDAY, small.bay, service=small.trim)
            second = visits.NewStop(
                farrier_id=small.farrier,
                yard_id=clients.save_yard(session, YardDetails(name="Fernholt")),
                day=TUESDAY,
                horses=(small.shared,),
                services={small.shared: small.trim},
            )
            visits.plan_stop(session, second, today=FRIDAY)

    def apprentice(self, session: Session, name: str, pay: int | None) -> int:
        return people.save_farrier(
            session, FarrierDetails(name=name, place_id=1, sort="apprentice", day_pay=pay)
        )

    def come(self, farrier: int | None, day: date = TUESDAY) -> None:
        with self.both.writing() as unit:
            service.come_along(unit.session, day, farrier, today=TUESDAY)

    def pay(self) -> dict[int, tuple[int, int, int]]:
        """Days along, days without pay and what is owed in March, for each apprentice."""
        with self.both.reading() as session:
            lines = queries.pay_owed(session, date(2026, 3, 1), date(2026, 3, 31))
        return {line.farrier_id: (line.days, line.unpaid, line.amount) for line in lines}

    def facts(self) -> int:
        with self.both.reading() as session:
            return session.scalars(
                sa.select(sa.func.count(Fact.seq)).where(Fact.sort == "along")
            ).one()

    def rows(self) -> list[tuple[int, int, int | None]]:
        with self.both.reading() as session:
            found = sa.select(PayOwed.farrier_id, PayOwed.amount, PayOwed.undoes_id)
            return [tuple(row) for row in session.execute(found.order_by(PayOwed.id))]


@pytest.fixture
def crew(both: Database) -> Crew:
    return Crew(both)


def test_one_tick_says_it_at_every_stop_and_owes_the_day_once(crew: Crew) -> None:
    crew.come(crew.tam)

    assert crew.facts() == 2
    assert crew.rows() == [(crew.tam, TAM_PAY, None)]
    assert crew.pay() == {crew.tam: (1, 0, TAM_PAY)}
    with crew.both.reading() as session:
        entry = session.scalars(sa.select(Entry).order_by(Entry.id.desc()).limit(1)).one()
        assert (entry.sort, entry.day) == ("pay", TUESDAY)
        helpers = sa.select(Visit.helper_id).where(Visit.day == TUESDAY)
        assert session.scalars(helpers).all() == [crew.tam, crew.tam]
    assert schema.check(crew.both) == []


def test_said_twice_it_counts_once(crew: Crew) -> None:
    for _ in range(3):
        crew.come(crew.tam)

    assert (crew.facts(), len(crew.rows())) == (2, 1)


def test_said_from_two_phones_at_once_it_counts_once(crew: Crew) -> None:
    threads = [Thread(target=crew.come, args=(crew.tam,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert (crew.facts(), len(crew.rows())) == (2, 1)
    assert schema.check(crew.both) == []


def test_a_change_of_mind_takes_the_first_pay_back(crew: Crew) -> None:
    for farrier in (crew.tam, crew.una, None, crew.tam):
        crew.come(farrier)
        assert schema.check(crew.both) == []

    assert crew.facts() == 8
    assert crew.rows() == [
        (crew.tam, 9_000, None),
        (crew.tam, -9_000, 1),
        (crew.una, 11_000, None),
        (crew.una, -11_000, 3),
        (crew.tam, 9_000, None),
    ]
    assert crew.pay() == {crew.tam: (1, 0, 9_000)}


def test_nobody_is_an_answer_and_owes_nothing(crew: Crew) -> None:
    crew.come(None)

    with crew.both.reading() as session:
        found = queries.along(session, TUESDAY)
    assert (found.on.said, found.on.farrier_id) == (True, None)
    assert (crew.facts(), crew.rows()) == (2, [])


def test_without_a_pay_set_the_day_is_written_down_and_counted_as_unpaid(crew: Crew) -> None:
    crew.come(crew.guest)
    assert (crew.facts(), crew.rows()) == (2, [])
    assert crew.pay() == {crew.guest: (1, 1, 0)}
    assert schema.check(crew.both) == []

    with crew.both.writing() as unit:
        now = practice.farrier(unit.session, crew.guest)
        paid = FarrierDetails(
            name=now.name, place_id=1, sort="apprentice", day_pay=5_000, version=now.version
        )
        people.save_farrier(unit.session, paid, crew.guest)
    crew.come(crew.guest)
    assert (crew.facts(), crew.pay()) == (2, {crew.guest: (1, 0, 5_000)})


def test_a_stop_planned_afterwards_is_said_with_the_next_tick(crew: Crew) -> None:
    crew.come(crew.tam)
    with crew.both.writing() as unit:
        other = visits.NewStop(
            farrier_id=crew.farrier,
            yard_id=clients.save_yard(unit.session, YardDetails(name="Millholm")),
            day=TUESDAY,
            horses=(3,),
            services={3: None},
        )
        visits.plan_stop(unit.session, other, today=TUESDAY)
    crew.come(crew.tam)

    assert (crew.facts(), len(crew.rows())) == (3, 1)


def test_who_came_on_the_last_day_worked_is_offered(crew: Crew) -> None:
    crew.come(crew.una, FRIDAY)

    with crew.both.reading() as session:
        tuesday, friday = queries.along(session, TUESDAY), queries.along(session, FRIDAY)
        thursday = queries.along(session, date(2026, 3, 19))
    assert (tuesday.on.said, tuesday.on.name) == (False, None)
    assert tuesday.before == friday.on
    assert (friday.on.day, friday.on.name, friday.before) == (FRIDAY, "Una", None)
    assert thursday.before is not None
    assert (thursday.before.day, thursday.before.said) == (TUESDAY, False)


def test_pay_of_a_closed_period_is_entered_on_its_first_open_day(crew: Crew) -> None:
    with crew.both.writing() as unit:
        daybook.lock(unit.session, date(2026, 3, 15), "handed in")
    crew.come(crew.tam, FRIDAY)

    with crew.both.reading() as session:
        entry = session.scalars(sa.select(Entry).order_by(Entry.id.desc()).limit(1)).one()
        assert entry.day == date(2026, 3, 16)
        lines = queries.pay_owed(session, FRIDAY, FRIDAY)
    assert [(line.name, line.amount) for line in lines] == [("Tam", TAM_PAY)]


@pytest.mark.parametrize(
    ("who", "day", "code"),
    [
        ("farrier", TUESDAY, "books.not_an_apprentice"),
        ("tam", date(2026, 3, 18), "books.day_to_come"),
        ("tam", date(2026, 3, 16), "books.no_stop"),
    ],
)
def test_what_cannot_be_is_refused(crew: Crew, who: str, day: date, code: str) -> None:
    with pytest.raises(Refused) as refused:
        crew.come(getattr(crew, who), day)

    assert refused.value.code == code
    assert Speech().say(code, **refused.value.facts)
    assert (crew.facts(), crew.rows()) == (0, [])


PLANTED = {
    "INSERT INTO pay_owed SELECT 9, entry_id, farrier_id, day, amount, NULL FROM pay_owed"
    " WHERE id = 1": "check.pay_twice",
    "UPDATE pay_owed SET day = '2026-03-16' WHERE id = 1": "check.pay_not_along",
    "UPDATE visit SET helper_id = NULL": "check.pay_not_along",
    "INSERT INTO pay_owed SELECT 9, entry_id, farrier_id, day, -amount + 1, 1 FROM pay_owed"
    " WHERE id = 1": "check.pay_taken_back",
}


@pytest.mark.parametrize("fault", PLANTED)
def test_a_planted_fault_is_found(database: Database, fault: str) -> None:
    crew = Crew(database)
    crew.come(crew.tam)
    assert schema.check(database) == []
    with database.writer.begin() as connection:
        for verb in ("INSERT", "UPDATE"):
            connection.exec_driver_sql(f"DROP TRIGGER keep_pay_owed_{verb}")
        connection.exec_driver_sql(fault)

    found = schema.check(database)

    assert PLANTED[fault] in {broken.code for broken in found}
    for broken in found:
        assert Speech().say(broken.code, **broken.facts)
