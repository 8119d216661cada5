"""What a password must be, and how long to wait."""

from datetime import UTC, datetime, timedelta

import pytest

from backoffice.access import rules
from backoffice.errors import Refused

NOON = datetime(2026, 3, 17, 12, tzinfo=UTC)


def test_a_password_is_hashed_dearly_and_says_how(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = rules.hash_password("three dry hooves", b"salt" * 4)

    assert kept.startswith("scrypt$17$8$1$")
    monkeypatch.setattr(rules, "COST", 4)
    assert rules.password_fits("three dry hooves", kept)
    assert not rules.password_fits("three dry hoofs", kept)
    assert rules.hash_password("x", b"1").startswith("scrypt$4$8$1$")


def test_the_same_password_never_looks_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "COST", 4)

    assert rules.hash_password("x", b"1") != rules.hash_password("x", b"2")


@pytest.mark.parametrize(
    "password",
    ["three dry hooves", "Überraschung!", "  8 spaces", "x7" * 3 + "qpz", "🐴🐎🦄" * 3 + "ab"],
)
def test_ordinary_passwords_will_do(password: str) -> None:
    assert rules.good_password(password, "Ruth") == password


@pytest.mark.parametrize(
    "password",
    ["", "7 chars", "password", "Password1", "12345678", "87654321", "abcdefgh", "aaaaaaaaaa",
     "abababab", "qwerty123", "Ruth20261", "x" * 257],
)  # fmt: skip
def test_passwords_that_are_guessed_at_once_will_not(password: str) -> None:
    with pytest.raises(Refused) as refused:
        rules.good_password(password, "Ruth")

    assert refused.value.field == "password"


@pytest.mark.parametrize(
    ("failed", "seconds"),
    [(0, 0), (4, 0), (5, 1), (6, 2), (7, 4), (12, 128), (13, 256), (14, 300), (10_000, 300)],
)
def test_five_tries_are_free_and_no_wait_is_longer_than_five_minutes(
    failed: int, seconds: int
) -> None:
    assert rules.wait(failed, NOON, NOON) == timedelta(seconds=seconds)
    assert rules.wait(failed, NOON, NOON + timedelta(seconds=seconds)) == timedelta()


def test_an_hour_of_peace_forgets_failed_tries() -> None:
    assert rules.failed_before(9, NOON, NOON + timedelta(minutes=59)) == 9
    assert rules.failed_before(9, NOON, NOON + timedelta(hours=1)) == 0


@pytest.mark.parametrize(
    ("began", "seen", "good"),
    [
        (timedelta(0), timedelta(0), True),
        (timedelta(hours=12), timedelta(hours=11, minutes=59), True),
        (timedelta(hours=12), timedelta(hours=12), False),
        (timedelta(days=7) - timedelta(seconds=1), timedelta(0), True),
        (timedelta(days=7), timedelta(0), False),
    ],
)
def test_a_sign_in_ends_by_idleness_and_by_age(
    began: timedelta,
    seen: timedelta,
    good: bool,  # noqa: FBT001
) -> None:
    assert rules.still_good(NOON - began, NOON - seen, NOON) is good
