"""Each farrier's sheet as it is typed in: its lines, what was said of them, the day's questions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from backoffice.clients.rules import horse_label, yard_label
from backoffice.db import Session
from backoffice.practice.rules import LINE
from backoffice.visits import queries as visits
from backoffice.visits.queries import Sheet, SheetLine, SheetStop
from backoffice.visits.queries import entering as known
from backoffice.visits.queries.said import FactLine
from backoffice.visits.rules import FactSort, Said, WorkState, fold
from backoffice.web.caller import caller
from backoffice.web.evening.wording import Told, stand, which_lost
from backoffice.web.forms import CreatesForm, TextField, VersionField, new_key
from backoffice.web.free import frees

MOST_TYPED = 10 * LINE


class SheetForm(CreatesForm):
    """What is typed for one farrier's day."""

    text = TextField("What it says on the sheet", most=MOST_TYPED)
    farrier = VersionField("farrier")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Why what was sent for a farrier's day was not saved, shown beside what was typed.

    ``wrong`` has each entry that was not understood and why, ``meanwhile`` the lines somebody
    else said something about after what was ``seen``.
    """

    day: date
    farrier_id: int
    typed: str
    says: str = ""
    wrong: tuple[tuple[str, str], ...] = ()
    meanwhile: tuple[int, ...] = ()
    seen: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrote:
    """What was written down just before: for which day and farrier, and about which lines."""

    day: date | None = None
    farrier_id: int | None = None
    lines: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the sheet, and what was said of it: loud, quiet, or silent while nothing was.

    ``free`` says why a lost shoe goes back on free, ``ask`` what is still to be said of one.
    """

    line: SheetLine
    name: str
    words: tuple[str, ...]
    state: str
    wrote: bool
    free: str
    ask: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop and its lines."""

    visit_id: int
    letter: str
    name: str
    ground: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """One answer to a question of the day: what it types, and what stands on it."""

    typed: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question asked once a day: its answers to press, and what was answered."""

    presses: tuple[Press, ...]
    answered: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FarrierSheet:
    """One farrier's day as it is typed in."""

    day: date
    farrier_id: int
    farrier_name: str
    stops: tuple[Stop, ...]
    typed: str
    key: str
    seen: str
    says: str
    wrong: tuple[tuple[str, str], ...]
    meanwhile: tuple[tuple[int, str], ...]
    knife: Question
    along: Question
    out: int | None
    back: int | None

    @property
    def rows(self) -> tuple[Row, ...]:
        """All its lines."""
        return tuple(row for stop in self.stops for row in stop.rows)

    @property
    def silent(self) -> int:
        """How many horses nothing was said about yet and the rest may be said of."""
        silent = sum(row.line.outcome == "planned" for row in self.rows if not row.line.closed)
        return silent - len(self.asking)

    @property
    def asking(self) -> tuple[Row, ...]:
        """Horses with a lost shoe of which nobody said yet which it was."""
        return tuple(row for row in self.rows if row.ask)

    @property
    def open(self) -> int:
        """How many horses are not written up yet."""
        return sum(not row.line.closed for row in self.rows)

    @property
    def to_close(self) -> int:
        """How many horses something was said about are not written up yet."""
        return self.open - self.silent - len(self.asking)


def sheets_of(
    session: Session,
    day: date,
    apprentices: Mapping[int, str],
    trouble: Trouble | None,
    wrote: Wrote,
) -> list[FarrierSheet]:
    """Read each farrier's sheet of a day."""
    found = visits.sheets(session, day, paper=False)
    ids = [stop.visit_id for sheet in found for stop in sheet.stops]
    facts = known.facts_by_visit(session, ids)
    lines = known.told_at(session, ids)
    told = Told(
        standing=stand(facts),
        lines={line.id: line for line in lines},
        names=visits.names_said(session, _with_names(lines)),
    )
    kits = known.kit_names(session, {sheet.place_id for sheet in found})
    before = known.along_before(session, day) if apprentices else None
    free = frees(session, day, visits.open_lost_shoes(found))
    return [
        _sheet(
            sheet,
            facts,
            told,
            free,
            knives=[name for _, name in kits[sheet.place_id].get("knife", ())],
            along=_along(sheet, told, apprentices, before),
            trouble=_about(trouble, sheet),
            wrote=wrote.lines if _is(wrote.day, wrote.farrier_id, sheet) else frozenset(),
        )
        for sheet in found
    ]


def _with_names(lines: Sequence[FactLine]) -> Sequence[FactLine]:
    """Leave out bookings, whose shoes are only named where feet were done otherwise."""
    if any(line.sort == FactSort.FEET for line in lines):
        return lines
    return [line for line in lines if line.sort != FactSort.BOOKED]


def _is(day: date | None, farrier_id: int | None, sheet: Sheet) -> bool:
    return (day, farrier_id) == (sheet.day, sheet.farrier_id)


def _about(trouble: Trouble | None, sheet: Sheet) -> Trouble | None:
    if trouble is None or not _is(trouble.day, trouble.farrier_id, sheet):
        return None
    return trouble


def _sheet(
    sheet: Sheet,
    facts: Mapping[int, tuple[Said, ...]],
    told: Told,
    free: Mapping[int, str],
    *,
    knives: Sequence[str],
    along: Question,
    trouble: Trouble | None,
    wrote: frozenset[int],
) -> FarrierSheet:
    ids = [stop.visit_id for stop in sheet.stops]
    odometer = told.facts(ids, FactSort.ODOMETER)
    return FarrierSheet(
        day=sheet.day,
        farrier_id=sheet.farrier_id,
        farrier_name=sheet.farrier_name,
        stops=tuple(_stop(stop, facts[stop.visit_id], told, free, wrote) for stop in sheet.stops),
        typed=trouble.typed if trouble else "",
        key=new_key(),
        seen=" ".join(f"{visit_id}:{_last(facts[visit_id])}" for visit_id in ids),
        says=trouble.says if trouble else "",
        wrong=trouble.wrong if trouble else (),
        meanwhile=_meanwhile(sheet, told, trouble) if trouble else (),
        knife=_knife(knives, told.of_visits(ids, FactSort.TOOL)),
        along=along,
        out=odometer[-1].data["out"] if odometer else None,
        back=odometer[-1].data["in"] if odometer else None,
    )


def _last(facts: Sequence[Said]) -> int:
    return max((fact.seq for fact in facts), default=0)


def _meanwhile(sheet: Sheet, told: Told, trouble: Trouble) -> tuple[tuple[int, str], ...]:
    return tuple(
        (
            line.number,
            told.since(line.visit_id, line.subject, trouble.seen.get(line.visit_id, 0)),
        )
        for stop in sheet.stops
        for line in stop.lines
        if line.number in trouble.meanwhile
    )


def _stop(
    stop: SheetStop,
    facts: Sequence[Said],
    told: Told,
    free: Mapping[int, str],
    wrote: frozenset[int],
) -> Stop:
    speech = caller().speech
    works = fold(facts).works
    return Stop(
        visit_id=stop.visit_id,
        letter=stop.letter,
        name=yard_label(speech, stop.yard_name),
        ground=speech.say(f"ground.{stop.ground}"),
        rows=tuple(
            _row(
                line,
                works.get(line.subject),
                told,
                free=free.get(line.work_id, ""),
                wrote=line.number in wrote,
            )
            for line in stop.lines
        ),
    )


def _row(line: SheetLine, work: WorkState | None, told: Told, *, free: str, wrote: bool) -> Row:
    words = told.of_line(line.visit_id, line.subject, work) if work else ()
    quiet = "silent" if line.outcome == "planned" else "quiet"
    return Row(
        line=line,
        name=horse_label(caller().speech, line.name, line.words),
        words=words,
        state="loud" if words else quiet,
        wrote=wrote,
        free=free,
        ask=which_lost(line),
    )


def _knife(names: Sequence[str], answered: tuple[str, ...]) -> Question:
    say = caller().speech.say
    presses = [Press(typed=f"knife {name}", text=name) for name in names]
    nobody = Press(typed="knife no", text=say("evening.none_dull"))
    return Question(presses=(nobody, *presses) if names else (), answered=answered)


def _along(
    sheet: Sheet, told: Told, apprentices: Mapping[int, str], before: tuple[date, int] | None
) -> Question:
    say = caller().speech.say
    as_before = before[1] if before else None
    presses = [
        Press(
            typed=f"along {name}",
            text=say("evening.along_as_on", name=name, on_day=before[0])
            if before and number == as_before
            else name,
        )
        for number, name in apprentices.items()
    ]
    nobody = Press(typed="along no", text=say("evening.nobody_along"))
    ids = [stop.visit_id for stop in sheet.stops]
    return Question(
        presses=(*presses, nobody) if presses else (),
        answered=told.of_visits(ids, FactSort.ALONG)[-1:],
    )
