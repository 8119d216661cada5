"""Does every calculation have its section, and does every example in it hold?"""

import ast
import doctest
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from tests.architecture.source import PACKAGE, modules
from tests.docs.markdown import DOCS, blocks, read, section

SOURCE = "Source: docs/rules/"
PAGES = sorted((DOCS / "rules").glob("*.md"))


def sources(text: str) -> Iterator[tuple[str, str, str]]:
    """Give each function of a module that names its section: function, document, anchor."""
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.FunctionDef | ast.ClassDef):
            continue
        said = ast.get_docstring(node) or ""
        if SOURCE in said:
            target = said.split(SOURCE, 1)[1].split()[0].rstrip(".,;")
            page, _, at = target.partition("#")
            yield node.name, page, at


def unresolved(text: str, pages: Mapping[str, str]) -> list[str]:
    """Give each function whose section is not there, or does not name it."""
    wrong = []
    for name, page, at in sources(text):
        under = section(pages.get(page, ""), at)
        if under is None or not re.search(rf"[`.]{name}[`(]", under):
            wrong.append(f"{name}: {page}#{at}")
    return wrong


def failures(text: str, name: str = "page") -> tuple[int, str]:
    """Run the examples of a page; give how many fail, and the report."""
    report: list[str] = []
    test = doctest.DocTestParser().get_doctest(text, {}, name, name, 0)
    result = doctest.DocTestRunner(verbose=False).run(test, out=report.append)
    return result.failed, "".join(report)


def test_every_source_leads_to_a_section_that_names_the_function() -> None:
    pages = {path.name: read(path) for path in PAGES}
    wrong = [f"{path}: {one}" for path, text in modules() for one in unresolved(text, pages)]

    assert wrong == []


def test_every_source_is_found_where_it_is_looked_for() -> None:
    mentioned = sum(text.count(SOURCE) for _, text in modules())

    assert mentioned == sum(1 for _, text in modules() for _ in sources(text)) > 40


@pytest.mark.parametrize(
    "page",
    ["", "# Money\n\n## Halves\n\n`half_up`", "# Money\n\n## Half up\n\nRounds."],
    ids=["no page", "no heading", "not named"],
)
def test_a_source_that_leads_nowhere_is_seen(page: str) -> None:
    code = f'def half_up() -> int:\n    """Halve.\n\n    {SOURCE}money.md#half-up\n    """\n'

    assert unresolved(code, {"money.md": page}) == ["half_up: money.md#half-up"]
    assert unresolved(code, {"money.md": "## Half up\n\n`half_up`: halves."}) == []


@pytest.mark.parametrize(
    ("capability", "modules"),
    [
        ("books", ["rules.py"]),
        ("reports", ["rules.py"]),
        ("visits", ["rules/facts.py", "rules/horses.py"]),
    ],
)
def test_every_public_function_of_these_rules_is_explained(
    capability: str, modules: list[str]
) -> None:
    text = read(DOCS / "rules" / f"{capability}.md")
    public = [
        node.name
        for module in modules
        for node in ast.parse(read(PACKAGE / capability / module)).body
        if isinstance(node, ast.FunctionDef) and node.name[0] != "_"
    ]

    assert len(public) > 0
    assert [name for name in public if f"`{name}`" not in text] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_the_examples_hold(page: Path) -> None:
    text = read(page)
    failed, report = failures(text, page.name)

    assert blocks(text, "pycon")
    assert failed == 0, report


def test_an_example_that_does_not_hold_is_seen() -> None:
    assert failures("```pycon\n>>> 1 + 1\n3\n\n```\n")[0] == 1
    assert failures("```pycon\n>>> 1 + 1\n2\n\n```\n")[0] == 0
