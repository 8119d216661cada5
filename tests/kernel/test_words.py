"""Every code has its sentence, and every sentence is in the farrier's words."""

import ast
import re
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from string import Formatter

import pytest
from jinja2 import Environment, nodes

from backoffice import words
from backoffice.practice.rules import SETTINGS
from backoffice.words import CATALOGUE, UK, US, Speech

ROOT = Path(__file__).parents[2]
MODULES = sorted((ROOT / "backoffice").rglob("*.py"))
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
PARTS = [import_module(f"{words.__name__}.{part.name}") for part in iter_modules(words.__path__)]
NEVER_SHOWN = re.compile(
    r"\b(horse-units?|lots?|edges?|payer shares?|posteriors?|horizons?|ledgers?|reversals?"
    r"|true-ups?|idempoten\w*)\b",
    re.IGNORECASE,
)
SPEAKERS = {"Refused", "Broken", "say", "_say", "_no", "flash"}


def test_the_uk_words_override_only_sentences_there_are() -> None:
    for part in PARTS:
        assert set(part.UK) <= set(part.US), part.__name__
    assert set(UK) == set(US)


def test_every_part_is_in_the_catalogue_and_no_two_word_the_same_code() -> None:
    codes = [code for part in PARTS for code in part.US]

    assert set(codes) == set(US)
    assert sorted(code for code in set(codes) if codes.count(code) > 1) == []


def asked_for(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name}


def test_every_sentence_can_be_read_and_both_ask_for_the_same_facts() -> None:
    for code, sentence in US.items():
        assert sentence.strip(), code
        assert asked_for(UK[code]) == asked_for(sentence), code


def literals(node: ast.AST) -> Iterator[str]:
    """Give the codes an expression may be; an f-string as its pattern."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield re.escape(node.value)
    elif isinstance(node, ast.IfExp):
        yield from literals(node.body)
        yield from literals(node.orelse)
    elif isinstance(node, ast.JoinedStr):
        yield "".join(
            re.escape(str(part.value)) if isinstance(part, ast.Constant) else r"[\w.]+"
            for part in node.values
        )


def said_in(text: str) -> set[str]:
    """Give the codes a module says or refuses with."""
    return {
        code
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and node.args
        if getattr(node.func, "attr", getattr(node.func, "id", "")) in SPEAKERS
        for code in literals(node.args[0])
    }


def said_by(template: str) -> set[str]:
    """Give the codes a template says; where part of one is computed, its pattern."""
    said = set()
    for call in Environment(autoescape=True).parse(template).find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name == "say":
            first = call.args[0]
            pieces = first.nodes if isinstance(first, nodes.Concat) else [first]
            said |= {
                "".join(
                    re.escape(str(piece.value)) if isinstance(piece, nodes.Const) else r"[\w.]+"
                    for piece in pieces
                )
            }
    return said - {r"[\w.]+"}


def unknown(codes: set[str]) -> list[str]:
    return sorted(code for code in codes if not any(re.fullmatch(code, worded) for worded in US))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_code_a_module_says_has_a_sentence(path: Path) -> None:
    assert unknown(said_in(path.read_text(encoding="utf-8"))) == []


def test_every_code_a_template_says_has_a_sentence() -> None:
    said = {code for path in TEMPLATES for code in said_by(path.read_text(encoding="utf-8"))}

    assert unknown(said) == []
    assert len(said) > 20


def test_a_code_without_a_sentence_is_seen() -> None:
    module = (
        "raise Refused('no.such', field='x')\nsay(f'nor.{this}')\nBroken('a' if b else 'c', {})"
    )

    assert unknown(said_in(module)) == sorted(["no\\.such", "nor\\.[\\w.]+", "a", "c"])
    assert unknown(said_by("{{ say('no.such') }}{{ say('nor.' ~ this) }}")) == [
        r"no\.such",
        r"nor\.[\w.]+",
    ]


def labels(text: str) -> Iterator[str]:
    """Give the labels a module gives its form fields."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name.endswith("Field"):
                yield str(node.args[0].value)


LABELS = [
    label
    for path in MODULES
    if path.is_relative_to(ROOT / "backoffice" / "web")
    for label in labels(path.read_text(encoding="utf-8"))
]


def test_every_word_a_label_borrows_is_there() -> None:
    borrowed = {code for label in LABELS for code in re.findall(r"\{([\w.]+)\}", label)}

    assert borrowed - set(US) == set()
    assert len(LABELS) > 50


class Shown(HTMLParser):
    """Collects what of a page somebody reads or is read to."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def handle_data(self, data: str) -> None:
        """Keep text."""
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the attributes that are shown or read aloud."""
        shown = ("title", "alt", "placeholder", "aria-label", "value")
        self.texts += [text or "" for name, text in attrs if name in shown]


def shown_by(template: str) -> str:
    page = Shown()
    page.feed(re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", " ", template, flags=re.DOTALL))
    return " ".join(page.texts)


@pytest.mark.parametrize("spoken", CATALOGUE)
def test_no_sentence_uses_a_word_of_ours(spoken: str) -> None:
    assert {c: s for c, s in CATALOGUE[spoken].items() if NEVER_SHOWN.search(s)} == {}


def test_no_label_and_no_reason_for_a_setting_uses_a_word_of_ours() -> None:
    shown = [*LABELS, *(f"{setting.why} {setting.unit}" for setting in SETTINGS)]

    assert [text for text in shown if NEVER_SHOWN.search(text)] == []


def test_no_template_shows_a_word_of_ours() -> None:
    found = {
        path.name: NEVER_SHOWN.findall(shown_by(path.read_text(encoding="utf-8")))
        for path in TEMPLATES
    }

    assert {name: hits for name, hits in found.items() if hits} == {}


def test_a_word_of_ours_is_seen() -> None:
    assert NEVER_SHOWN.findall(shown_by('<p class="edge">{{ edge }} the oldest lot</p>')) == ["lot"]
    assert not NEVER_SHOWN.search("a pilot, a lottery, a hedge")


def test_amounts_and_days_are_said_as_this_practice_writes_them() -> None:
    us, uk = Speech(), Speech(words="uk", currency="GBP")

    assert us.say("billing.changed", now_cents=123_450).count("$1,234.50") == 1
    assert uk.say("billing.changed", now_cents=123_450).count("£1,234.50") == 1
    for day in (date(2026, 3, 17), "2026-03-17"):
        assert "Tue, Mar 17, 2026" in us.say("flag.ends_before", from_day=day)
        assert "Tue 17 Mar 2026" in uk.say("flag.ends_before", from_day=day)
    assert us.long_day(date(2026, 3, 17)) == "Tuesday, March 17, 2026"
    assert uk.long_day(date(2026, 3, 17)) == "Tuesday 17 March 2026"
    assert (us.foot("LF"), uk.foot("LF")) == ("LF", "NF")


def test_one_is_said_differently_from_many() -> None:
    said = [Speech().say("access.wait", seconds=seconds) for seconds in (0, 1, 2)]

    assert ["second," in sentence for sentence in said] == [False, True, False]


def test_what_was_typed_is_never_read_as_a_sentence() -> None:
    hostile = "{seconds:a|b}{0}{{ 7*7 }}%s"

    assert hostile in Speech().say("name.taken", name=hostile)


def test_an_unknown_code_is_a_mistake_of_ours() -> None:
    with pytest.raises(KeyError):
        Speech().say("no.such")
