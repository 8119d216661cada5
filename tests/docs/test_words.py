"""Do the documents for the farrier speak as the pages do?"""

import re
from pathlib import Path

import pytest

from backoffice.words import US
from tests.docs.markdown import DOCS, ROOT, read

FOR_THE_FARRIER = (ROOT / "README.md", DOCS / "the-day.md")
OURS_ALONE = re.compile(
    r"\b(horse-units?|lots?|edges?|payer shares?|posterior|horizon|ledgers?|reversals?|true-ups?"
    r"|idempoten\w+)\b",
    re.IGNORECASE,
)
STEPS = re.compile(r"\*\*([A-Z][^*]+)\*\*")


def on_pages() -> str:
    """Give all that pages can say."""
    templates = "\n".join(read(path) for path in sorted((ROOT / "templates").rglob("*.html")))
    return "\n".join([templates, *US.values()])


def not_on_pages(text: str, pages: str) -> list[str]:
    """Give the buttons and places a text names that are on no page."""
    return [name for name in STEPS.findall(text) if name not in pages]


@pytest.mark.parametrize("path", FOR_THE_FARRIER, ids=lambda path: path.name)
def test_the_buttons_and_places_named_are_on_the_pages(path: Path) -> None:
    text = read(path)

    assert not_on_pages(text, on_pages()) == []
    assert len(STEPS.findall(text)) >= 8


def test_a_button_that_is_on_no_page_is_seen() -> None:
    assert not_on_pages("press **Make it so**, **Today**", on_pages()) == ["Make it so"]


@pytest.mark.parametrize("path", FOR_THE_FARRIER, ids=lambda path: path.name)
def test_the_documents_for_the_farrier_use_his_words(path: Path) -> None:
    assert OURS_ALONE.findall(read(path)) == []


def test_a_word_of_ours_is_seen() -> None:
    assert OURS_ALONE.findall("the oldest lot, a true-up") == ["lot", "true-up"]
