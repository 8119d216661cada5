"""Letting people in and out, on both engines."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from backoffice.access import queries, rules, service
from backoffice.access.models import SignIn, StartLink, Tries, User
from backoffice.daybook.models import Change
from backoffice.db import Database
from backoffice.errors import Refused

NOON = datetime(2026, 3, 17, 12, tzinfo=UTC)
PASSWORD = "three dry hooves"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare the tests the dear hash."""
    monkeypatch.setattr(rules, "COST", 4)


def owner(database: Database) -> int:
    with database.writing() as unit:
        return service.first_owner(unit.session, "Ruth")


def who(database: Database, token: str, now: datetime = NOON) -> str | None:
    with database.reading() as session:
        found = queries.who(session, token, now)
        return found.name if found else None


def test_the_first_owner_is_let_in_once(both: Database) -> None:
    owner(both)
    with pytest.raises(Refused, match=r"access\.somebody_already"), both.writing() as unit:
        service.first_owner(unit.session, "Eve")

    with both.reading() as session:
        (line,) = queries.users(session)
    assert (line.name, line.role, line.has_password) == ("Ruth", "owner", False)


@pytest.mark.parametrize("name", ["Zoë", "ZOË", " zoë "])
def test_no_two_people_go_by_one_name(both: Database, name: str) -> None:
    with both.writing() as unit:
        service.add_user(unit.session, "Zoë", "field")
    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.add_user(unit.session, name, "books")

    assert refused.value.field == "name"


@pytest.mark.parametrize(
    ("name", "role", "field"), [(" ", "field", "name"), ("Ann", "boss", "role")]
)
def test_a_user_needs_a_name_and_a_known_role(
    database: Database, name: str, role: str, field: str
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.add_user(unit.session, name, role)

    assert refused.value.field == field


def test_a_start_link_signs_in_once_on_each_engine(both: Database) -> None:
    user_id = owner(both)
    with both.writing() as unit:
        token = service.make_start_link(unit.session, user_id, NOON)
    with both.writing() as unit:
        assert service.use_start_link(unit.session, token, NOON) == user_id
    for now in (NOON, NOON + timedelta(minutes=6)):
        with pytest.raises(Refused) as refused, both.writing() as unit:
            service.use_start_link(unit.session, token, now)
        assert refused.value.field == "token"


def test_of_two_who_use_a_start_link_at_once_one_gets_in(both: Database) -> None:
    user_id = owner(both)
    with both.writing() as unit:
        token = service.make_start_link(unit.session, user_id, NOON)
    got = []

    def use() -> None:
        try:
            with both.writing() as unit:
                got.append(service.use_start_link(unit.session, token, NOON))
        except Refused as refused:
            got.append(refused.code)

    threads = [threading.Thread(target=use) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(got, key=str) == [user_id, *["access.link_used"] * 3]


def test_old_start_links_and_sign_ins_are_swept_away(both: Database) -> None:
    user_id = owner(both)
    with both.writing() as unit:
        service.make_start_link(unit.session, user_id, NOON)
        service.sign_in(unit.session, user_id, NOON)
    later = NOON + timedelta(days=7)
    with both.writing() as unit:
        service.make_start_link(unit.session, user_id, later)
        service.sign_in(unit.session, user_id, later)
    with both.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(StartLink)) == 1
        assert session.scalar(sa.select(sa.func.count()).select_from(SignIn)) == 1


def test_a_sign_in_is_known_until_it_ends(both: Database) -> None:
    user_id = owner(both)
    with both.writing() as unit:
        one, two = (service.sign_in(unit.session, user_id, NOON) for _ in range(2))

    assert who(both, one) == "Ruth"
    assert who(both, one, NOON + timedelta(hours=12)) is None
    assert who(both, "made up") is None
    with both.writing() as unit:
        service.sign_out(unit.session, one)
    assert (who(both, one), who(both, two)) == (None, "Ruth")
    with both.writing() as unit:
        service.sign_out_everywhere(unit.session, user_id)
    assert who(both, two) is None


def test_who_is_shut_out_leaves_no_way_in(both: Database) -> None:
    owner(both)
    with both.writing() as unit:
        user_id = service.add_user(unit.session, "Ann", "field")
        service.set_password(unit.session, user_id, PASSWORD)
        link = service.make_start_link(unit.session, user_id, NOON)
        token = service.sign_in(unit.session, user_id, NOON)
    with both.writing() as unit:
        service.shut_out(unit.session, user_id)

    assert who(both, token) is None
    with pytest.raises(Refused), both.writing() as unit:
        service.use_start_link(unit.session, link, NOON)
    with both.writing() as unit:
        claim = service.claim(unit.session, "Ann", "here", NOON)
    assert service.fits(claim, PASSWORD) is None


def test_somebody_stays_the_owner(both: Database) -> None:
    user_id = owner(both)
    with pytest.raises(Refused, match=r"access\.last_owner"), both.writing() as unit:
        service.shut_out(unit.session, user_id)


def test_the_right_password_fits_and_lets_tries_start_afresh(both: Database) -> None:
    user_id = owner(both)
    with both.writing() as unit:
        service.set_password(unit.session, user_id, PASSWORD)
    for _ in range(2):
        with both.writing() as unit:
            claim = service.claim(unit.session, "ruth", "here", NOON)
        assert service.fits(claim, "wrong") is None
    assert service.fits(claim, PASSWORD) == user_id
    with both.writing() as unit:
        service.forget_tries(unit.session, claim)
    with both.reading() as session:
        assert session.scalars(sa.select(Tries)).all() == []


def test_tries_wait_longer_and_longer_and_name_nobody(both: Database) -> None:
    for _ in range(5):
        with both.writing() as unit:
            service.claim(unit.session, "somebody's secret", "here", NOON)
    with pytest.raises(Refused) as refused, both.writing() as unit:
        service.claim(unit.session, "somebody's secret", "here", NOON)

    assert refused.value.facts == {"seconds": 1}
    with both.reading() as session:
        kept = session.scalars(sa.select(Tries.name)).all()
    assert not [name for name in kept if "secret" in name]


def test_tries_an_hour_old_are_swept_away(both: Database) -> None:
    with both.writing() as unit:
        service.claim(unit.session, "Ann", "here", NOON)
    with both.writing() as unit:
        service.claim(unit.session, "Ben", "there", NOON + timedelta(hours=1))
    with both.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Tries)) == 2


def test_one_password_is_hashed_at_a_time(both: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    at_once, most = [0], [0]
    real = rules.password_fits

    def slow(password: str, kept: str) -> bool:
        at_once[0] += 1
        most[0] = max(most[0], at_once[0])
        fits = real(password, kept)
        at_once[0] -= 1
        return fits

    monkeypatch.setattr(rules, "COST", 12)
    kept = rules.hash_password(PASSWORD, b"salt")
    monkeypatch.setattr(rules, "password_fits", slow)
    claim = service.Claim("Ruth", "here", 1, kept)
    threads = [threading.Thread(target=service.fits, args=(claim, "x")) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert most == [1]


def test_a_password_is_written_down_nowhere_but_hashed(both: Database) -> None:
    user_id = owner(both)
    for password in (PASSWORD, "four dry hooves"):
        with both.writing() as unit:
            service.set_password(unit.session, user_id, password)
    with both.reading() as session:
        assert session.scalars(sa.select(Change)).all() == []
        kept = session.scalar(sa.select(User.password_hash))
    assert str(kept).startswith("scrypt$")
