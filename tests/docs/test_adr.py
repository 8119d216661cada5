"""Are the decisions complete: numbered without a gap, and each with its price?"""

from collections.abc import Mapping

import pytest

from tests.docs.markdown import DOCS, headings, read, section

SECTIONS = ["Context", "Decision", "Status", "Consequences"]
ONE_PAGE = 3_500


def faults(files: Mapping[str, str]) -> list[str]:
    """Say what is wrong with decisions, by file name."""
    wrong = []
    for number, (name, text) in enumerate(sorted(files.items()), 1):
        if not name.startswith(f"{number:04d}-"):
            wrong.append(f"{name}: number {number} is missing")
        if not text.startswith(f"# {int(name[:4])}. ") or headings(text, 2) != SECTIONS:
            wrong.append(f"{name}: title or sections")
            continue
        if "We will " not in (section(text, "decision") or ""):
            wrong.append(f"{name}: decides nothing")
        consequences = section(text, "consequences") or ""
        if not ("Good: " in consequences and "Bad: " in consequences):
            wrong.append(f"{name}: one-sided")
        if len(text) > ONE_PAGE:
            wrong.append(f"{name}: more than a page")
    return wrong


def test_the_decisions_run_without_a_gap_and_have_their_sections() -> None:
    files = {path.name: read(path) for path in (DOCS / "adr").iterdir()}

    assert faults(files) == []
    assert len(files) >= 11


SOUND = (
    "# 1. Paper\n\n## Context\n\nMud.\n\n## Decision\n\nWe will write.\n\n## Status\n\nAccepted.\n"
    "\n## Consequences\n\nGood: dry.\n\nBad: twice.\n"
)


def test_a_sound_decision_passes() -> None:
    assert faults({"0001-paper.md": SOUND}) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("0002-paper.md", SOUND.replace("# 1.", "# 2.")),
        ("0001-paper.md", SOUND.replace("# 1.", "# 2.")),
        ("0001-paper.md", SOUND.replace("## Status\n\nAccepted.\n\n", "")),
        ("0001-paper.md", SOUND.replace("We will", "One might")),
        ("0001-paper.md", SOUND.replace("Bad: twice.", "")),
        ("0001-paper.md", SOUND + "x" * ONE_PAGE),
    ],
    ids=["gap", "title", "section", "decision", "one-sided", "long"],
)
def test_an_unsound_decision_is_seen(name: str, text: str) -> None:
    assert len(faults({name: text})) == 1
