"""What may be typed, what a practice starts with, and which day it lives in."""

from datetime import date

import pytest

from backoffice.errors import Refused
from backoffice.practice import rules
from backoffice.practice.rules import SETTINGS, PracticeDetails, Settings, known_setting
from backoffice.words import CATALOGUE, Speech


@pytest.mark.parametrize(
    "text",
    [
        "‮Quill‬haven",
        "‏שלום",
        "<script>alert(1)</script>",
        "\"'><b>",
        "{{ 7*7 }}{% raw %}",
        "{name:horse|horses}",
        "=1+1",
        "'; DROP TABLE client; --",
        "🐴 Zoë Ångström",
        "x" * 200,
    ],
)
def test_strange_text_is_kept_as_it_was_typed(text: str) -> None:
    assert rules.line(f"  {text} ", "name") == text
    assert rules.note(text, "notes") == text


@pytest.mark.parametrize("text", ["a\0b", "a\x1bb", "a\nb", "a\x7fb", "a\x85b", "a\ud800b"])
def test_a_line_with_a_control_character_is_refused(text: str) -> None:
    with pytest.raises(Refused) as refused:
        rules.line(text, "name")

    assert (refused.value.code, refused.value.field) == ("text.control", "name")


def test_a_note_keeps_its_lines_and_tabs_and_refuses_nul() -> None:
    assert rules.note("one\r\ntwo\tthree\n", "notes") == "one\ntwo\tthree"
    with pytest.raises(Refused, match=r"text\.control"):
        rules.note("one\0two", "notes")


def test_too_long_a_text_is_refused_and_the_most_is_said() -> None:
    with pytest.raises(Refused) as refused:
        rules.line("x" * 201, "name")
    assert refused.value.facts == {"most": 200}
    with pytest.raises(Refused) as refused:
        rules.note("x" * 10_000, "notes")

    assert Speech().say(refused.value.code, **refused.value.facts) == (
        "That is longer than 4000 characters."
    )


@pytest.mark.parametrize("text", [None, "", "   "])
def test_nothing_typed_is_not_known_yet(text: str | None) -> None:
    assert rules.line(text, "name") is None
    with pytest.raises(Refused, match=r"text\.needed"):
        rules.needed(text, "name")


@pytest.mark.parametrize(
    ("value", "code"), [(-1, "negative"), (0, "too_small"), (1_000_001, "too_large")]
)
def test_a_count_out_of_bounds_is_refused_with_a_sentence(value: int, code: str) -> None:
    with pytest.raises(Refused) as refused:
        rules.whole(value, "qty", least=1)

    assert refused.value.code == f"count.{code}"
    assert Speech().say(refused.value.code, **refused.value.facts)


def test_an_amount_below_nothing_or_beyond_meaning_is_refused() -> None:
    assert rules.amount(0, "total") == 0
    for cents in (-1, 10_000_000_001):
        with pytest.raises(Refused, match="money"):
            rules.amount(cents, "total")


def test_every_setting_has_a_reason_a_label_and_defaults_within_its_bounds() -> None:
    assert len({setting.name for setting in SETTINGS}) == len(SETTINGS)
    for setting in SETTINGS:
        assert setting.why
        assert setting.unit
        known_setting(setting.name, setting.us)
        known_setting(setting.name, setting.uk)
        assert all(f"setting.{setting.name}" in words for words in CATALOGUE.values())


def test_a_setting_stands_at_the_default_of_the_words_until_it_is_changed() -> None:
    assert Settings("us", {})["ground_dry"] == 1_500
    assert Settings("uk", {})["ground_dry"] == 1_300
    assert Settings("uk", {"ground_dry": 1_250})["ground_dry"] == 1_250
    with pytest.raises(KeyError):
        Settings("us", {})["no_such_setting"]


def test_only_the_demo_stands_still() -> None:
    real = date(2031, 5, 6)

    assert rules.today_of(PracticeDetails(), real) == real
    assert rules.today_of(PracticeDetails(demo_today=date(2026, 3, 17)), real) == date(2026, 3, 17)
