"""Bringing a workbook in: read it, ask what it does not say, and report what became of it."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

import click

from backoffice.cli.opened import data_option, each_second, ready, today_in
from backoffice.errors import Refused
from backoffice.interchange import service as interchange
from backoffice.interchange.document import brought as questions
from backoffice.interchange.rules.brought import DATE_ORDERS, SHOES, Doubt, Options
from backoffice.practice import queries as practice
from backoffice.practice.rules import today_of
from backoffice.words import Speech


class _DryRun(Exception):
    """All went well, and none of it is to be saved."""


@click.command("bring-in")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Say what would come in, and save nothing.")
@click.option("--date-order", type=click.Choice(DATE_ORDERS), help="How 3/4 is meant.")
@click.option("--shoes", type=click.Choice(SHOES), help="How the shoes of the stock are counted.")
@click.option("--answers", default="", help="A file with the answers to what was asked.")
@data_option
def bring_in(
    file: Path,
    dry_run: bool,  # noqa: FBT001 (click passes its options so)
    date_order: str | None,
    shoes: str | None,
    answers: str,
    data: str,
) -> None:
    """Bring in the workbook a practice kept before, all of it or nothing.

    Example: backoffice bring-in horses.xlsx --dry-run
    """
    from backoffice.interchange.rules import understand
    from backoffice.interchange.workbook import read_grids

    with ready(data) as database:
        with database.reading() as session:
            speech, details = practice.speech(session), practice.practice(session)
        today = today_of(details, today_in(details.zone))
        told = _answers(Path(answers), may_miss=dry_run) if answers else {}
        brought = understand(
            read_grids(file),
            Options(
                date_order=date_order or _one_of(DATE_ORDERS, told.get("date-order")),
                shoes=shoes or _one_of(SHOES, told.get("shoes")),
                answers=told,
            ),
            today=today,
            currency=details.currency,
        )
        if brought.doubts:
            _ask(brought.doubts, told, speech, answers, write=dry_run)
        progress = each_second()
        with suppress(_DryRun), database.writing() as unit:
            report = interchange.bring_in(
                unit.session,
                brought,
                today=today,
                progress=lambda what, rows: progress(speech.say(f"bring.progress.{what}"), rows),
            )
            if dry_run:
                unit.session.flush()
                raise _DryRun
    for line in questions.report_lines(report, speech, file=file.name, saved=not dry_run):
        click.echo(line)


def _one_of(choices: Sequence[str], said: str | None) -> str | None:
    return said if said in choices else None


def _answers(file: Path, *, may_miss: bool) -> dict[str, str]:
    if not file.exists() and may_miss:
        return {}
    try:
        return questions.read_answers(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError):
        raise Refused("bring.no_file", file=file) from None


def _ask(
    doubts: Sequence[Doubt], told: Mapping[str, str], speech: Speech, answers: str, *, write: bool
) -> NoReturn:
    """Say what must be answered first; in a dry run the questions are put into a file as well."""
    if answers and write:
        text = questions.answers_text(doubts, told, speech)
        try:
            Path(answers).write_text(text, encoding="utf-8")
        except OSError:
            raise Refused("bring.not_written", file=answers) from None
    written = write and bool(answers)
    for line in questions.doubt_lines(doubts, speech, answers=answers, written=written):
        click.echo(line, err=True)
    raise SystemExit(2)
