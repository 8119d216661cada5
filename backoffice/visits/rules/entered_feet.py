"""Which shoe, with which nails, does an entry about feet mean?"""

from collections.abc import Iterable, Sequence
from typing import Any

from backoffice.errors import Refused
from backoffice.units import Foot, FootWork
from backoffice.visits.rules.entries import Lost, Otherwise
from backoffice.visits.rules.facts import FootState, WorkState, foot_facts
from backoffice.visits.rules.onsheet import FeetOn, OnLine, Shoe, holding, one_of

FeetSaid = dict[str, dict[str, dict[str, Any]]]


def one_end(work: WorkState, *, fronts: bool) -> FeetSaid:
    """Say that one end of a horse was done as planned, and what was planned for the other not.

    Raises: Refused while nothing is planned for its feet.
    Source: docs/rules/entry.md#feet
    """
    if not any(state.done.worked for state in work.plan.values()):
        raise Refused("entry.no_plan")
    left = FootState(planned=FootWork.NOT_DONE, done=FootWork.NOT_DONE)
    return _carried(
        {
            foot: left if foot.front is not fronts and state.done.worked else state
            for foot, state in work.plan.items()
        }
    )


def feet_said(
    done: Otherwise | Lost, line: OnLine, work: WorkState, shoes: Sequence[Shoe]
) -> FeetSaid:
    """Say what was done to the feet an entry names; what it leaves open is as it stood.

    Raises: Refused for a size that is not kept, or that more than one shoe has.
    Source: docs/rules/entry.md#feet
    """
    return _carried({foot: _foot(done, foot, line, work, shoes) for foot in done.feet})


def _carried(feet: FeetOn) -> FeetSaid:
    return {"feet": {foot.value: foot_facts(state) for foot, state in feet.items()}}


def _foot(
    done: Otherwise | Lost, foot: Foot, line: OnLine, work: WorkState, shoes: Sequence[Shoe]
) -> FootState:
    plan = work.plan.get(foot)
    meant = [state for state in (work.feet.get(foot), plan) if state and state.done.shod]
    shod = [*meant, *([line.wears[foot]] if foot in line.wears else [])]
    planned = plan.planned if plan else FootWork.NONE
    what = _what(done, meant, shoes)
    if not what.shod:
        return FootState(planned=planned, done=what)
    others = [
        state
        for other in sorted(Foot, key=lambda other: other.front is not foot.front)
        for state in (work.feet.get(other), line.wears.get(other))
        if state is not None
    ]
    near = [*shod, *others]
    lost = {True: "found", False: "gone"}[done.found] if isinstance(done, Lost) else None
    return FootState(
        planned=planned,
        done=what,
        shoe=_shoe(done.size, done.shoe, foot, near, shoes)
        if done.size is not None
        else _first(state.shoe for state in shod),
        nail=_first(state.nail for state in near),
        nails=done.nails if done.nails is not None else _first(state.nails for state in shod),
        pad=_first(state.pad for state in shod),
        lost=lost,
    )


def _what(done: Otherwise | Lost, meant: Sequence[FootState], shoes: Sequence[Shoe]) -> FootWork:
    """Say what was done where only a size or nails were typed: another size is a new shoe."""
    if isinstance(done, Lost):
        return FootWork.RESET if done.found else FootWork.NEW
    if done.done is not None:
        return done.done
    if not meant:
        if done.size is None:
            raise Refused("entry.new_or_reset", nails=done.nails)
        return FootWork.NEW
    sizes = {shoe.id: shoe.size.casefold() for shoe in shoes}
    same = done.size is None or sizes.get(meant[0].shoe or 0) == done.size.casefold()
    return meant[0].done if same else FootWork.NEW


def _first(values: Iterable[int | None]) -> int | None:
    return next((value for value in values if value is not None), None)


def _shoe(
    size: str, words: str | None, foot: Foot, near: Sequence[FootState], shoes: Sequence[Shoe]
) -> int:
    """Give the shoe of a size: of the name the foot wears, else the only one that fits."""
    of_size = [shoe for shoe in shoes if shoe.size.casefold() == size.casefold()]
    if not of_size:
        sizes = ", ".join(dict.fromkeys(shoe.size for shoe in shoes if shoe.size))
        raise Refused("entry.no_size" if sizes else "entry.no_sizes", typed=size, sizes=sizes)
    end = "front" if foot.front else "hind"
    fits = [shoe for shoe in of_size if shoe.pattern in ("either", end)] or of_size
    if words:
        named = holding(tuple((shoe.id, shoe.name) for shoe in fits), words)
        offered = tuple((shoe.id, shoe.name) for shoe in fits)
        return one_of(named, words, "shoe", offered)
    names = {shoe.id: shoe.name for shoe in shoes}
    for state in near:
        same = [shoe for shoe in fits if shoe.name == names.get(state.shoe or 0)]
        if len(same) == 1:
            return same[0].id
    if len(fits) == 1:
        return fits[0].id
    raise Refused("entry.which_shoe", typed=size, names=", ".join(shoe.name for shoe in fits))
