"""What was written down, in words: each entry as it was understood, in a line of its own."""

from collections.abc import Sequence
from dataclasses import dataclass

from backoffice.clients.rules import horse_label, yard_label
from backoffice.db import Session
from backoffice.visits import queries as visits
from backoffice.visits.queries import NamesSaid, Sheet
from backoffice.visits.queries.entering import kit_names
from backoffice.visits.rules import FactSort, Said
from backoffice.visits.rules.entries import (
    AsPlanned,
    CameAlong,
    Entry,
    Extra,
    GroundWas,
    HandedOver,
    KnifeDull,
    LineEntry,
    Miles,
    Missed,
    OneEnd,
    TakenBack,
    Written,
)
from backoffice.visits.rules.onsheet import Fact, Helper, Named, Taken, holding, one_of
from backoffice.visits.service.entering import Typed
from backoffice.web import said
from backoffice.web.caller import caller
from backoffice.web.evening.wording import which_lost

# What is said after a press is one short notice; the rows of the sheet have the rest.
MOST_LINES = 5
LONGEST_LINE = 72


def understood(session: Session, typed: Typed, taken: Sequence[Taken]) -> str:
    """Say how each entry of a press was understood, each line after a line end.

    What was said before already, and is not written a second time, is told like the rest.
    """
    (sheet,) = visits.sheets(session, typed.day, typed.farrier_id, paper=False)
    words = _Words(
        sheet=sheet,
        names=visits.names_said(session, [fact for one in taken for fact in _facts(one)]),
        knives=kit_names(session, [sheet.place_id])[sheet.place_id].get("knife", ()),
    )
    lines = [_short(words.of(one)) for one in taken[:MOST_LINES]]
    if more := len(taken) - len(lines):
        lines.append(caller().speech.say("evening.understood.more", more=more))
    return "".join(f"\n{line}" for line in lines)


def _short(line: str) -> str:
    words = " ".join(line.split())
    return words if len(words) <= LONGEST_LINE else f"{words[: LONGEST_LINE - 1].rstrip()}…"


def _facts(one: Taken) -> list[Said]:
    """Give what an entry says; who came along is said as a fact once it is owed for."""
    return [
        Said(id="", subject="", sort=FactSort.ALONG, data={"farrier": step.farrier_id})
        if isinstance(step, Helper)
        else step.said
        for step in one.steps
        if isinstance(step, Fact | Helper)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    sheet: Sheet
    names: NamesSaid
    knives: Named

    def of(self, one: Taken) -> str:
        say = caller().speech.say
        match one.entry:
            case Miles(out=out, back=back):
                return say("evening.understood.miles", out=out, back=back)
            case KnifeDull(name=str(name)):
                return self._knife(name)
            case KnifeDull() | CameAlong():
                text = self._as_said(one)
                return f"{text[:1].upper()}{text[1:]}"
            case GroundWas(letter=letter, ground=ground):
                return self._ground(letter, ground)
            case Extra() as extra:
                return self._extra(extra)
            case entry:
                return self._line(entry, one)

    def _as_said(self, one: Taken) -> str:
        return ", ".join(
            said.in_words(fact.sort, fact.data, self.names)
            for fact in _facts(one)
            if fact.sort is not FactSort.WITHDRAWN
        )

    def _knife(self, name: str) -> str:
        known = dict(self.knives)
        tool = known[one_of(holding(self.knives, name), name, "knife", self.knives)]
        return caller().speech.say("evening.understood.dull", name=tool)

    def _ground(self, letter: str, ground: str) -> str:
        speech = caller().speech
        yard = next(stop.yard_name for stop in self.sheet.stops if stop.letter == letter)
        return speech.say(
            "evening.understood.line",
            number=letter,
            name=yard_label(speech, yard),
            said=speech.say(f"ground.{ground}"),
        )

    def _extra(self, extra: Extra) -> str:
        say = caller().speech.say
        line = next(
            line
            for stop in self.sheet.stops
            if stop.letter == extra.letter
            for line in stop.lines
            if (line.words or "").casefold() == extra.words.casefold()
        )
        told = "" if extra.say is None else say("evening.understood.told", say_cents=extra.say)
        parts = [line.service_name if extra.service else None, told, which_lost(line)]
        known = ", ".join(part for part in parts if part)
        return say(
            "evening.understood.line",
            number=line.number,
            name=extra.words,
            said=known or say("evening.understood.added"),
        )

    def _line(self, entry: LineEntry, one: Taken) -> str:
        speech = caller().speech
        line = next(
            line for stop in self.sheet.stops for line in stop.lines if line.number == entry.number
        )
        return speech.say(
            "evening.understood.line",
            number=line.number,
            name=horse_label(speech, line.name, line.words),
            said=self._done(entry, one),
        )

    def _done(self, entry: Entry, one: Taken) -> str:
        say = caller().speech.say
        match entry:
            case AsPlanned():
                return say("evening.as_planned")
            case OneEnd(fronts=fronts):
                return say(f"evening.understood.{'fronts' if fronts else 'hinds'}")
            case TakenBack():
                return say("evening.understood.undone")
            case Written(text=text, warning=True):
                return say("evening.understood.flag", text=text)
            case Written(text=text):
                return said.in_words(FactSort.NOTE, {"text": text}, self.names)
            case Missed(note=str(note)):
                absent = said.in_words(FactSort.ABSENT, {}, self.names)
                return f"{absent}, {said.in_words(FactSort.NOTE, {'text': note}, self.names)}"
            case HandedOver() as paid:
                data = {
                    "amount": paid.amount,
                    "tip": paid.tip,
                    "method": paid.method,
                    "receipt": paid.receipt,
                }
                return said.in_words(FactSort.PAID, data, self.names)
        return self._as_said(one)
