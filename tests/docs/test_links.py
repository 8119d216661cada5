"""Does every link lead somewhere, and does the index lead everywhere?"""

from pathlib import Path

from tests.docs.markdown import DOCS, anchor, documents, headings, links, read


def dead(path: Path, text: str) -> list[str]:
    """Give the links of a document that lead nowhere."""
    wrong = []
    for link in links(text):
        if "://" in link:
            continue
        file, _, at = link.partition("#")
        target = (path.parent / file).resolve() if file else path
        if not target.is_file() or (
            at and at not in [anchor(one) for one in headings(read(target))]
        ):
            wrong.append(f"{path.name}: {link}")
    return wrong


def test_every_link_leads_somewhere() -> None:
    assert [one for path in documents() for one in dead(path, read(path))] == []


def test_a_dead_link_is_seen() -> None:
    text = "[a](cli.md) [b](nowhere.md) [c](cli.md#nowhere) [d](cli.md#check)"

    assert dead(DOCS / "index.md", text) == ["index.md: nowhere.md", "index.md: cli.md#nowhere"]


def test_the_index_leads_to_every_document() -> None:
    index = DOCS / "index.md"
    led_to = {(DOCS / link).resolve() for link in links(read(index))}

    assert {path.resolve() for path in DOCS.rglob("*.md")} - led_to == {index.resolve()}
