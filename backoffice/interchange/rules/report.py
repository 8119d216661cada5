"""What became of a workbook that was brought in?"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from backoffice.interchange.rules.brought import Cell, Note

LEFT_OUT = ("read.unread.", "bring.left_out.")
FIND_OUT = ("read.find_out.", "bring.find_out.")
KINDS = (
    "client", "yard", "horse", "job", "price", "item", "tool", "spending", "owed",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """How many records of a kind came from a sheet: new ones, and those that were here already.

    ``amount`` is what all of them come to, in minor units, where they are money.
    """

    sheet: str
    kind: str
    new: int
    known: int
    amount: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What became of a workbook: ``waits`` are things not known yet, with what they are about."""

    taken: tuple[Taken, ...]
    notes: tuple[Note, ...]
    waits: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def new(self) -> int:
        """How many records were added."""
        return sum(line.new for line in self.taken)

    @property
    def left_out(self) -> tuple[Note, ...]:
        """What could not be read, or has no place here."""
        return tuple(note for note in self.notes if note.code.startswith(LEFT_OUT))

    @property
    def changed(self) -> tuple[Note, ...]:
        """What was read otherwise than it stands."""
        told_elsewhere = (*LEFT_OUT, *FIND_OUT)
        return tuple(note for note in self.notes if not note.code.startswith(told_elsewhere))

    @property
    def find_out(self) -> tuple[Note, ...]:
        """What stands in the sheets as not known."""
        return tuple(note for note in self.notes if note.code.startswith(FIND_OUT))


@dataclass(slots=True)
class Tally:
    """Counts what is brought in while it is, and notes what there is to say of it."""

    counts: Counter[tuple[str, str, bool]] = field(default_factory=Counter)
    amounts: Counter[tuple[str, str]] = field(default_factory=Counter)
    notes: list[Note] = field(default_factory=list)
    waits: dict[str, list[str]] = field(default_factory=dict)

    def count(self, at: Cell, kind: str, *, new: bool, amount: int = 0) -> None:
        """Count a record of a sheet as new or known, and what it comes to."""
        self.counts[at.sheet, kind, new] += 1
        self.amounts[at.sheet, kind] += amount

    def note(self, at: Cell, value: str, code: str, **facts: object) -> None:
        """Note what was made of something, where it stood."""
        self.notes.append(Note(at, value, code, facts))

    def wait(self, code: str, name: str) -> None:
        """Note something that is not known yet, and of whom."""
        self.waits.setdefault(code, []).append(name)

    def report(self, sheets: Iterable[str], notes: Sequence[Note]) -> Report:
        """Give the report: sheets in the order of the workbook, what the reading noted first."""
        order = list(dict.fromkeys([*sheets, *(sheet for sheet, _, _ in self.counts)]))
        return Report(
            taken=tuple(
                Taken(
                    sheet=sheet,
                    kind=kind,
                    new=new,
                    known=known,
                    amount=self.amounts[sheet, kind],
                )
                for sheet in order
                for kind in KINDS
                for new, known in [
                    (self.counts[sheet, kind, True], self.counts[sheet, kind, False])
                ]
                if new or known
            ),
            notes=(*notes, *self.notes),
            waits=tuple((code, tuple(names)) for code, names in self.waits.items()),
        )
