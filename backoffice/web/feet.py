"""Four feet as pages draw them."""

from collections.abc import Sequence
from dataclasses import dataclass

from backoffice.visits.queries import WorkFootLine
from backoffice.words import Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class FootDrawn:
    """One foot as ``macros/feet.html`` draws it."""

    foot: str
    label: str
    done: str
    size: str
    nails: int | None
    pad: bool
    words: str


def drawn(lines: Sequence[WorkFootLine], speech: Speech) -> tuple[FootDrawn, ...]:
    """Make feet ready to be drawn, each with its words."""
    return tuple(
        FootDrawn(
            foot=line.foot,
            label=speech.foot(line.foot),
            done=line.done,
            size=line.size or "",
            nails=line.nails,
            pad=line.pad_id is not None,
            words=_words(line, speech),
        )
        for line in lines
    )


def _words(line: WorkFootLine, speech: Speech) -> str:
    if line.done not in ("new", "reset"):
        return speech.say(f"done.{line.done}")
    size = line.size or speech.say("feet.size_unknown")
    nails = speech.say("feet.nails", nails=line.nails) if line.nails else ""
    return speech.say(f"feet.{line.done}", size=size, nails=nails)
