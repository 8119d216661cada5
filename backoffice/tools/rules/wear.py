"""How much work does a horse put on each tool, and what of the tool's cost is that?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from backoffice.money import half_up, split
from backoffice.units import THOUSAND, FootWork

FEET = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolDetails:
    """A tool as its edit form shows it; ``life`` and ``edge`` in thousandths of a horse."""

    sort: str
    name: str
    place_id: int | None
    share: int = 0
    price: int | None = None
    scrap: int = 0
    life: int | None = None
    edge: int | None = None
    edge_cost: int = 0
    stage: str | None = None
    look_days: int | None = None
    bought: date | None = None
    hidden: bool = False
    version: int | None = None


def _factors(new: int, reset: int, trim: int) -> dict[FootWork, int]:
    """A pulled shoe leaves a foot to trim."""
    work = FootWork
    return {work.NEW: new, work.RESET: reset, work.TRIM: trim, work.PULLED: trim}


_EVERY_FOOT = _factors(1_000, 1_000, 1_000)
_SHOD_FEET = _factors(1_000, 1_000, 0)
_NEW_SHOES = _factors(1_000, 0, 0)

# Common practice, the numbers estimates, in thousandths of the same tool's work on a foot that is
# trimmed or shod anew. Under a reset a foot has been dressed once before in the same growth: less
# horn for knife and nippers, and no finishing of a bare edge for the rasp. What is not named here
# (a foot left alone, a foot not done) wears nothing.
FOOT_FACTORS: Mapping[str, Mapping[FootWork, int]] = {
    "knife": _factors(1_000, 800, 1_000),
    "rasp": _factors(1_000, 700, 1_000),
    "nippers": _factors(1_000, 900, 1_000),
    "clinchers": _SHOD_FEET,
    "hammer": _SHOD_FEET,
    "stand": _EVERY_FOOT,
    "forge": _NEW_SHOES,
    "gas": _NEW_SHOES,
    "other": _EVERY_FOOT,
}


def units_of(sort: str, feet: Sequence[FootWork], *, type_factor: int, ground_factor: int) -> int:
    """Say how much work one horse was for a kind of tool.

    Units: thousandths of an ordinary horse done on four feet; the factors in thousandths.
    Rounding: half up, once, on the product.
    Source: docs/rules/tools.md#work-on-a-tool
    """
    on_feet = sum(FOOT_FACTORS[sort].get(done, 0) for done in feet)
    return half_up(on_feet * type_factor * ground_factor, FEET * THOUSAND * THOUSAND)


def share_units(units: int, shares: Sequence[int]) -> tuple[int, ...]:
    """Split a horse's work over the tools of one kind in a kit.

    Where no tool has a share, each has the same. A spare with no share beside others gets none.
    Units: thousandths of an ordinary horse; shares are weights, commonly of a thousand.
    Rounding: floors, then one thousandth each in the order of the kit; the parts sum to the whole.
    Source: docs/rules/tools.md#sharing-over-a-kit
    """
    return split(units, shares if any(shares) else [1] * len(shares))


class ToolCost(Protocol):
    """What a tool's work is costed by; None is not known yet."""

    @property
    def price(self) -> int | None: ...
    @property
    def scrap(self) -> int: ...
    @property
    def life(self) -> int | None: ...
    @property
    def edge(self) -> int | None: ...
    @property
    def edge_cost(self) -> int: ...


def cost_known(tool: ToolCost) -> bool:
    """Whether all is known that a tool's work costs by.

    Source: docs/rules/tools.md#cost-of-work
    """
    sharpened = tool.edge is not None or not tool.edge_cost
    return tool.price is not None and tool.life is not None and sharpened


def wear_cost(units: int, tool: ToolCost) -> int:
    """Cost the work a tool did, by units of production; 0 while price or life is not known.

    Units: thousandths of an ordinary horse in, minor units of money out.
    Rounding: half up on the sum of wear and sharpening.
    Source: docs/rules/tools.md#cost-of-work
    """
    if tool.price is None or tool.life is None:
        return 0
    worn_out = (tool.price - tool.scrap) * units
    if tool.edge is None:
        return half_up(worn_out, tool.life)
    sharpened = tool.edge_cost * units
    return half_up(worn_out * tool.edge + sharpened * tool.life, tool.life * tool.edge)


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What a new tool of a kind starts with: its life and edge, and how often it is looked at."""

    life: int | None = None
    edge: int | None = None
    look_days: int | None = None


def usual(sort: str, settings: Mapping[str, int]) -> Usual:
    """Give what a new tool of a kind starts with; all of it may be changed.

    Units: thousandths of an ordinary horse, days.
    Source: docs/rules/tools.md#what-a-new-tool-starts-with
    """
    edge, look = settings["knife_edge"], settings["look_days"]
    return {
        "knife": Usual(life=80 * edge, edge=edge),  # estimate: 60 to 120 sharpenings
        "rasp": Usual(life=settings["rasp_life"]),
        # One pair did about 10,000 horses with three rebuilds.
        "nippers": Usual(life=10_000_000, edge=2_500_000, look_days=look),
        "clinchers": Usual(life=3_750_000, look_days=look),  # 120,000 closes at 32 a horse
        "hammer": Usual(look_days=look),
        "stand": Usual(look_days=look),
        "forge": Usual(life=800_000, look_days=look),  # estimate: a liner, 600 to 1,000 shod horses
        "gas": Usual(look_days=look),
    }.get(sort, Usual())
