"""The documents as tests read them: headings, sections, code blocks and links."""

import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_HEADING = re.compile(r"^(#{1,6}) (.+)$", re.MULTILINE)
_LINK = re.compile(r"(?<!!)\[[^\]]+\]\(([^)\s]+)\)")


def read(path: Path) -> str:
    """Give the text of a document."""
    return path.read_text(encoding="utf-8")


def documents() -> list[Path]:
    """Give every document of the project."""
    return [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]


def blocks(text: str, language: str) -> list[str]:
    """Give the code blocks of a language."""
    return [code for said, code in _FENCE.findall(text) if said == language]


def _prose(text: str) -> str:
    return _FENCE.sub("", text)


def anchor(heading: str) -> str:
    """Give the anchor a heading is linked by."""
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def headings(text: str, level: int = 0) -> list[str]:
    """Give the headings of a text, all or of one level."""
    found = _HEADING.findall(_prose(text))
    return [heading for marks, heading in found if level in (0, len(marks))]


def section(text: str, wanted: str) -> str | None:
    """Give what stands under the heading with this anchor, up to the next of any level."""
    parts = re.split(_HEADING, text)
    for heading, under in zip(parts[2::3], parts[3::3], strict=True):
        if anchor(heading) == wanted:
            return under
    return None


def links(text: str) -> Iterator[str]:
    """Give where the links of a text lead."""
    yield from _LINK.findall(_prose(text))
