"""What became of a workbook, and what is asked before, as it is read at a terminal."""

import pytest

from backoffice.errors import Refused
from backoffice.interchange.document.brought import (
    WIDTH,
    answers_text,
    doubt_lines,
    read_answers,
    report_lines,
)
from backoffice.interchange.rules.brought import Cell, Doubt, Note
from backoffice.interchange.rules.report import Report, Taken, Tally
from backoffice.words import CATALOGUE, Speech

SPEECH = Speech()
ASKED = (
    Doubt(code="bring.left_out.price_kind", option="shoes", facts={"kind": "any"},
          choices=("pairs", "singles"), rows=17),
    Doubt(code="bring.left_out.price_kind", option="client:fell",
          facts={"kind": "Fell\nor \x1b[2J"}, choices=("Anne Fell", "Joan Fell")),
    Doubt(code="bring.left_out.price_kind", option='barn "the old"', facts={"kind": "old"}),
)  # fmt: skip


def note(row: int, value: str, code: str = "bring.changed.shoe_made", **facts: object) -> Note:
    return Note(Cell("Horses", row, 2), value, code, facts)


def told(report: Report, *, saved: bool = True) -> list[str]:
    return list(report_lines(report, SPEECH, file="mine.xlsx", saved=saved))


def test_what_was_taken_is_told_sheet_by_sheet_new_and_known_apart() -> None:
    report = Report(
        taken=(
            Taken(sheet="Clients", kind="client", new=1, known=0),
            Taken(sheet="Clients", kind="yard", new=0, known=2),
            Taken(sheet="Jobs 26", kind="job", new=12, known=3),
        ),
        notes=(),
        waits=(),
    )

    assert told(report) == [
        "Brought in from mine.xlsx:",
        "",
        "  Clients  1 client, 2 barns (here already)",
        "  Jobs 26  12 past jobs (and 3 here already)",
        "",
        "Saved: 13 records.",
        "Who is due stands under Plan, what is owed under Money.",
    ]
    assert "dry run" in told(report, saved=False)[-1]


def test_what_is_said_of_many_cells_alike_is_said_once_and_every_cell_is_named() -> None:
    alike = [note(row, "6 draft") for row in range(2, 9)]
    others = [note(row, f"size {row}") for row in range(10, 20)]
    lines = told(Report(taken=(), notes=(*alike, *others), waits=()))
    said = " ".join(" ".join(lines).split())

    assert said.count("“6 draft”") == 1
    assert "B2, B3, B4 and 4 more “6 draft”; B10 “size 10”; B11" in said
    assert said.count("“size ") == 3
    assert said.count("is in no stock list") == 1
    for row in range(13, 20):
        assert f"B{row}" in said
    assert all(len(line) <= WIDTH for line in lines)


def test_of_many_sentences_alike_some_are_said_and_the_rest_are_named_by_their_cells() -> None:
    notes = tuple(
        note(row, "Pads", "bring.changed.price_stays", here_cents=row * 100) for row in range(2, 9)
    )
    said = "\n".join(told(Report(taken=(), notes=notes, waits=())))

    assert said.count("“Pads”: the price set here") == 4
    assert "and 3 more like these: B6, B7, B8" in said


def test_what_was_left_out_stands_before_what_was_changed_and_what_is_not_known_yet() -> None:
    tally = Tally()
    tally.wait("bring.wait.payer", "Rook")
    for number in range(12):
        tally.wait("bring.wait.yard", f"Horse {number}")
    tally.note(Cell("Horses", 3, 1), "QH", "bring.changed.shoe_made")
    tally.note(Cell("prices", 5, 2), "Pads", "bring.left_out.extra", price_cents=2_600)
    said = "\n".join(told(tally.report(["Horses"], ())))

    sections = ("Left out", "Read other", "Not known")
    left_out, changed, waits = (said.index(word) for word in sections)
    assert left_out < changed < waits
    assert "B5 “Pads”: an extra at $26.00" in said
    assert "Who pays: Rook" in said
    assert "and 4 more" in said[waits:]


def test_nothing_in_a_report_runs_in_a_terminal() -> None:
    evil = note(2, "\x1b]0;gone\x07\r\nfake line")

    waits = (("bring.wait.yard", ("\x9b1m",)),)
    said = "\n".join(told(Report(taken=(), notes=(evil,), waits=waits)))

    assert all(line.isprintable() for line in said.splitlines())


def test_a_question_names_its_option_or_the_file() -> None:
    said = "\n".join(doubt_lines(ASKED, SPEECH, answers="", written=False))

    assert "3 things must be known" in said
    assert "Add --shoes pairs or --shoes singles to the command." in said
    assert "Anne Fell | Joan Fell" in said
    assert "--dry-run --answers" in said
    for written, words in ((False, "Write the answers into a.toml"), (True, "are in a.toml now")):
        named = "\n".join(doubt_lines(ASKED, SPEECH, answers="a.toml", written=written))
        assert words in named
    only_option = "\n".join(doubt_lines(ASKED[:1], SPEECH, answers="", written=False))
    assert "--answers" not in only_option
    assert "one thing must be known" in only_option


def test_the_questions_are_a_file_that_reads_back_as_it_was_filled_in() -> None:
    text = answers_text(ASKED, {"shoes": "pairs", "horse:onyx": 'the "bay" \\ 2\x7f'}, SPEECH)

    assert read_answers(text) == {"shoes": "pairs", "horse:onyx": 'the "bay" \\ 2\x7f'}
    assert '"client:fell" = ""' in text
    assert "# Answer one of: Anne Fell | Joan Fell" in text
    filled = text.replace('"client:fell" = ""', '"client:fell" = " Joan Fell "')
    assert read_answers(filled)["client:fell"] == "Joan Fell"


@pytest.mark.parametrize("text", ['"shoes" = pairs', "shoes = 2", "[shoes]\na = 1", "\x00"])
def test_a_file_that_cannot_be_read_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(Refused) as refused:
        read_answers(text)

    assert "\n" not in SPEECH.say(refused.value.code, **refused.value.facts)


def test_every_kind_and_wait_has_its_words() -> None:
    for words in CATALOGUE.values():
        codes = [code for code in words if code.startswith(("bring.kind.", "bring.wait."))]
        assert len(codes) == 16
        assert all(Speech().say(code, count=2) for code in codes)


def test_a_workbook_nothing_was_taken_of_says_so() -> None:
    rows = (note(2, "?", "bring.left_out.extra", price_cents=5),)
    report = Report(taken=(), notes=rows, waits=())

    assert told(report)[-1] == "Nothing in it could be brought in."
