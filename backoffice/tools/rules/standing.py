"""In what state is a tool? Never "ok": when it was last looked at, and what it has done since."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from backoffice.errors import Refused
from backoffice.money import half_up
from backoffice.units import THOUSAND

# What starts a tool's count anew; a rasp's each time it goes on to easier work.
SHARPENING = ("sharpened", "reground", "staged")
_SHARPENED = ("knife", "nippers", "rasp")
_TROUBLE = {"slipped": "look_first", "fell": "do_not_use"}
_NEXT_STAGE = {"new": "finishing", "finishing": "hot"}
_WHOLE_FROM = 10 * THOUSAND  # above ten horses a half says nothing

CAUTIONS: Mapping[str, tuple[str, ...]] = {
    "knife": ("tools.caution.sharpening",),
    "nippers": ("tools.caution.sharpening",),
    "clinchers": ("tools.caution.sharpening",),
    "hammer": ("tools.caution.sharpening",),
    "stand": ("tools.caution.stand",),
    "forge": ("tools.caution.forge", "tools.caution.gas"),
    "gas": ("tools.caution.gas",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Saying:
    """A sentence about a tool as a code and its facts."""

    code: str
    facts: Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """Something that happened to a tool on a day."""

    sort: str
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class StateFacts:
    """When a tool was last sharpened and looked at, and what is wrong with it."""

    service_day: date | None = None
    look_day: date | None = None
    trouble: str | None = None


def after_events(events: Iterable[LogLine]) -> StateFacts:
    """Tell the state of a tool from all that happened to it, in the order it was recorded.

    Order: by day; of one day, as recorded. Leaned on only counts. Slipped asks for a look before
    the next day. Fell forbids its use, and a slip afterwards does not make that milder. Only a look
    clears it; a repair does not.
    Source: docs/rules/tools.md#the-state-of-a-tool
    """
    service_day = look_day = trouble = None
    for event in sorted(events, key=lambda event: event.day):
        if event.sort in SHARPENING:
            service_day = event.day
        elif event.sort == "looked_at":
            look_day, trouble = event.day, None
        elif event.sort in _TROUBLE and trouble != "do_not_use":
            trouble = _TROUBLE[event.sort]
    return StateFacts(service_day=service_day, look_day=look_day, trouble=trouble)


def next_stage(sort: str, stage: str | None) -> str:
    """Say what a rasp goes on to: from hooves to finishing, then to hot work.

    Raises: Refused for what is no rasp, and after hot work: then it is scrap.
    Source: docs/rules/tools.md#stages-of-a-rasp
    """
    if sort != "rasp" or stage not in _NEXT_STAGE:
        raise Refused("tools.no_next_stage", field="sort")
    return _NEXT_STAGE[stage]


def worth(units: int) -> tuple[str, int]:
    """Say work as ordinary horses, and which number the noun takes (1 or 2).

    Units: thousandths of an ordinary horse in; whole horses from ten on, halves below, out.
    Rounding: half up.
    Source: docs/rules/tools.md#work-in-words
    """
    if units >= _WHOLE_FROM:
        return f"{half_up(units, THOUSAND):,}", 2
    halves = half_up(2 * units, THOUSAND)
    whole, half = divmod(halves, 2)
    return (str(whole) if whole else "") + ("½" if half else "") or "0", 2 if halves > 2 else 1


class _Tool(Protocol):
    @property
    def sort(self) -> str: ...
    @property
    def look_days(self) -> int | None: ...


class _State(Protocol):
    @property
    def since(self) -> int: ...
    @property
    def service_day(self) -> date | None: ...
    @property
    def look_day(self) -> date | None: ...
    @property
    def trouble(self) -> str | None: ...


def standing(tool: _Tool, state: _State, today: date) -> tuple[Saying, ...]:
    """Say how a tool stands today, what matters most first.

    Boundary: a look that is due every 30 days is late on the 31st day after the last one.
    Source: docs/rules/tools.md#the-state-of-a-tool
    """
    said = []
    if state.trouble:
        said.append(Saying(code=f"tools.{state.trouble}", facts={}))
    if tool.look_days is not None or state.look_day is not None:
        said.append(_looked(tool.look_days, state.look_day, today))
    if tool.sort in _SHARPENED:
        said.append(_worked(tool.sort, state))
    return tuple(said)


def _looked(look_days: int | None, look_day: date | None, today: date) -> Saying:
    if look_day is None:
        return Saying(code="tools.never_looked_at", facts={})
    days = (today - look_day).days
    if look_days is not None and days > look_days:
        return Saying(code="tools.not_checked_since", facts={"look_day": look_day})
    if days <= 0:
        return Saying(code="tools.looked_at_today", facts={})
    return Saying(code="tools.looked_at", facts={"days": days})


def _worked(sort: str, state: _State) -> Saying:
    horses, number = worth(state.since)
    kind = "rasp" if sort == "rasp" else "sharpened" if state.service_day else "new"
    if horses == "0":
        return Saying(code=f"tools.since.{kind}.nothing", facts={})
    return Saying(code=f"tools.since.{kind}", facts={"horses": horses, "number": number})
