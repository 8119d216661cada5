"""What became of a workbook, as a person reads it at the terminal; and the questions before it."""

import json
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from textwrap import wrap

from backoffice.errors import Refused
from backoffice.interchange.rules.brought import Doubt, Note
from backoffice.interchange.rules.report import Report, Taken
from backoffice.words import Speech

WIDTH = 78
SHOWN = 4  # cells named with a sentence, and sentences of one kind; the rest by their cells
LEFT_OUT_SHOWN = 30  # of what is left out each is worth reading
NAMED = 8  # names after a thing that is not known yet
OPTIONS = ("date-order", "shoes")  # what has an option of its own on the command line


def report_lines(report: Report, speech: Speech, *, file: str, saved: bool) -> Iterator[str]:
    """Word what became of a workbook: what was taken, changed, left out and is not known yet."""
    if report.taken:
        yield speech.say("bring.heading" if saved else "bring.heading_dry", file=file)
        yield from ("", *_taken(report.taken, speech))
    sheets = [line.sheet for line in report.taken]
    if report.left_out:
        yield from ("", speech.say("bring.section.left_out"))
        yield from _noted(report.left_out, sheets, speech, shown=LEFT_OUT_SHOWN)
    if report.changed:
        yield from ("", speech.say("bring.section.changed"))
        yield from _noted(report.changed, sheets, speech)
    if report.waits or report.find_out:
        yield from ("", speech.say("bring.section.find_out"))
        for code, names in report.waits:
            what = speech.say(code, count=len(names))
            yield from _hung(f"  {what}: {_named(list(dict.fromkeys(names)), speech)}", 4)
        yield from _noted(report.find_out, sheets, speech)
    yield ""
    yield speech.say(f"bring.{_end(report, saved=saved)}", count=report.new)
    if saved and report.new:
        yield speech.say("bring.look")


def _end(report: Report, *, saved: bool) -> str:
    if not report.taken:
        return "nothing_taken"
    if not report.new:
        return "nothing_new"
    return "saved" if saved else "not_saved"


def _taken(taken: Sequence[Taken], speech: Speech) -> Iterator[str]:
    sheets = list(dict.fromkeys(line.sheet for line in taken))
    wide = min(max(map(len, sheets), default=0), 28)
    for sheet in sheets:
        parts = [_part(line, speech) for line in taken if line.sheet == sheet]
        yield from _hung(f"  {sheet:<{wide}}  {', '.join(parts)}", wide + 4)


def _part(line: Taken, speech: Speech) -> str:
    what = speech.say(f"bring.kind.{line.kind}", count=line.new or line.known)
    if not line.new:
        return speech.say("bring.here_already", what=what)
    if line.known:
        return speech.say("bring.beside", what=what, known=line.known)
    return speech.say("bring.in_all", what=what, sum_cents=line.amount) if line.amount else what


def _noted(
    notes: Sequence[Note], sheets: Sequence[str], speech: Speech, *, shown: int = SHOWN
) -> Iterator[str]:
    """Word notes sheet by sheet; what is said of many cells alike is said once."""
    noted = dict.fromkeys(note.at.sheet for note in notes)
    for sheet in dict.fromkeys([*(one for one in sheets if one in noted), *noted]):
        yield f"  {sheet}"
        own = [note for note in notes if note.at.sheet == sheet]
        for code in dict.fromkeys(note.code for note in own):
            alike = [note for note in own if note.code == code]
            yield from _alike(alike, speech, shown)


def _alike(notes: Sequence[Note], speech: Speech, shown: int) -> Iterator[str]:
    said: dict[str, dict[str, list[str]]] = {}
    for note in notes:
        values = said.setdefault(speech.say(note.code, **note.facts), {})
        values.setdefault(_plain(note.value), []).append(note.at.address)
    for sentence, values in list(said.items())[:shown]:
        where = "; ".join(_where(list(values.items())[:shown], speech))
        hidden = [cell for cells in list(values.values())[shown:] for cell in cells]
        if hidden:
            where = f"{where}; {', '.join(hidden)}"
        yield from _hung(f"    {where}: {sentence}", 6)
    rest = [c for values in list(said.values())[shown:] for cells in values.values() for c in cells]
    if rest:
        more = speech.say("bring.more", count=len(rest), cells=", ".join(rest))
        yield from _hung(f"    {more}", 6)


def _where(values: Sequence[tuple[str, list[str]]], speech: Speech) -> Iterator[str]:
    for value, cells in values:
        yield f"{_cells(cells, speech)} “{value}”" if value else _cells(cells, speech)


def _cells(cells: Sequence[str], speech: Speech) -> str:
    if len(cells) <= SHOWN:
        return ", ".join(cells)
    shown = ", ".join(cells[: SHOWN - 1])
    return speech.say("bring.cells", cells=shown, count=len(cells) - SHOWN + 1)


def _named(names: Sequence[str], speech: Speech) -> str:
    shown = ", ".join(_plain(name) for name in names[:NAMED])
    left = len(names) - NAMED
    return speech.say("bring.named", names=shown, count=left) if left > 0 else shown


def _plain(text: str) -> str:
    """Give text on one line, without anything a terminal would obey."""
    kept = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(kept.split())


def _hung(text: str, indent: int) -> list[str]:
    return wrap(text, WIDTH, subsequent_indent=" " * indent, break_long_words=False) or [""]


def doubt_lines(
    doubts: Sequence[Doubt], speech: Speech, *, answers: str, written: bool
) -> Iterator[str]:
    """Word the questions that come before anything is brought in, and where each is answered.

    ``answers`` is the file of answers if one was named, which was ``written`` if they are in it.
    """
    yield speech.say("bring.questions", count=len(doubts))
    for doubt in doubts:
        yield ""
        yield from _hung(f"  {_plain(speech.say(doubt.code, **doubt.facts))}", 2)
        if doubt.option in OPTIONS:
            yield from _hung("    " + _option(doubt, speech), 4)
        else:
            yield from _hung("    " + _choices(doubt, speech), 4)
    if answers or any(doubt.option not in OPTIONS for doubt in doubts):
        end = "file_written" if written else "answer_file" if answers else "make_file"
        yield from ("", *_hung(speech.say(f"bring.{end}", file=answers), 0))


def _option(doubt: Doubt, speech: Speech) -> str:
    choices = [f"--{doubt.option} {choice}" for choice in doubt.choices]
    return speech.say("bring.answer_option", option=speech.say("bring.or").join(choices))


def _choices(doubt: Doubt, speech: Speech) -> str:
    if not doubt.choices:
        return speech.say("bring.answer_any")
    return speech.say("bring.answer_one", choices=_plain(" | ".join(doubt.choices)))


def answers_text(doubts: Sequence[Doubt], told: Mapping[str, str], speech: Speech) -> str:
    """Write the questions as a file to be filled in; what was answered before stays in it."""
    lines = [f"# {speech.say('bring.file_heading')}"]
    for doubt in doubts:
        lines += ["", f"# {_plain(speech.say(doubt.code, **doubt.facts))}"]
        lines.append(f"# {_choices(doubt, speech)}")
        lines.append(f"{_quoted(doubt.option)} = {_quoted(told.get(doubt.option, ''))}")
    asked = {doubt.option for doubt in doubts}
    before = [f"{_quoted(k)} = {_quoted(v)}" for k, v in told.items() if k not in asked]
    if before:
        lines += ["", f"# {speech.say('bring.file_before')}", *before]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Write text as TOML does; a JSON text is one too, but for one character."""
    plain = "".join(c for c in text if unicodedata.category(c) != "Cs")
    return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007f")


def read_answers(text: str) -> dict[str, str]:
    """Read such a file back; what was left empty is not answered.

    Raises: Refused if it cannot be read.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as failure:
        raise Refused("bring.answers_unreadable", said=str(failure)) from None
    if not all(isinstance(said, str) for said in found.values()):
        raise Refused("bring.answers_unreadable", said="")
    return {option: said.strip() for option, said in found.items() if said.strip()}
