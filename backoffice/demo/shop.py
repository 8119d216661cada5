"""What is truly on the trucks: shoes and nails as they go and come, and blades as they dull."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from backoffice.demo.dice import THOUSAND, Dice
from backoffice.demo.herd import Kept
from backoffice.demo.told import DeliveryTold, StopTold, ToolTold
from backoffice.units import FootWork

Plan = Mapping[str, Any]
WEAR = {
    "pony": 700, "light": 1_000, "stock": 1_000, "sport": 1_150, "draft": 3_000, "donkey": 800,
    "foal": 400,
}  # fmt: skip
SHOD_FOOT = 1_450  # of a trimmed one, in thousandths: clinches are rasped too
LARGE_ORDER = 30_000


@dataclass(slots=True, kw_only=True)
class _Blade:
    """A blade or a rasp: what it has done since it was sharp, and what it will bear."""

    name: str
    share: int
    bears: int
    edges: int
    done: int = 0


@dataclass(slots=True, kw_only=True)
class Truck:
    """What is truly on one truck."""

    scenario: Plan
    place: str
    tools: Sequence[Plan]
    packs: Mapping[str, int]
    dice: Dice
    on_hand: dict[str, int] = field(default_factory=dict)
    _blades: list[_Blade] = field(default_factory=list)
    _nippers: int = 0

    def __post_init__(self) -> None:
        """Put sharp blades on the truck."""
        self._blades = [
            self._sharp(tool["name"], tool["share"], tool["sort"])
            for tool in self.tools
            if tool["sort"] in ("knife", "rasp")
        ]

    def _sharp(self, name: str, share: int, sort: str) -> _Blade:
        of = self.scenario["tools"]
        mean, spread = of["rasp_units"] if sort == "rasp" else of["knife_units"]
        edges = 0 if sort == "rasp" else max(20, self.dice.near(*of["knife_edges"]))
        bears = max(5, self.dice.near(mean, spread)) * THOUSAND
        return _Blade(name=name, share=share, bears=bears, edges=edges)

    def use(self, stops: Sequence[StopTold], herd: Mapping[str, Kept], day: date) -> list[ToolTold]:
        """Take what a day's work took; give what was done to the tools in its evening."""
        units = 0
        for work in (work for stop in stops for work in stop.works):
            worked = [foot for foot in work.feet.values() if foot.done.worked]
            if not worked or work.outcome == "absent":
                continue
            hard = sum(SHOD_FOOT if foot.done.shod else THOUSAND for foot in worked)
            units += WEAR[herd[work.horse].told.kind] * hard // (4 * THOUSAND)
            self._materials(work.service, [foot for foot in worked if foot.done.shod])
        return self._wear(units, self.scenario["tools"]["dry"].get(str(day.month), THOUSAND))

    def _materials(self, service: str, feet: Sequence[Any]) -> None:
        for foot in feet:
            if foot.done is FootWork.NEW:
                self._take(foot.shoe, 1)
                self._take(foot.pad, 1)
            waste = self.dice.near(*self.scenario["buying"]["nail_waste"])
            self._take(foot.nail, foot.nails)
            if self.dice.hits(max(0, waste) * foot.nails):
                self._take(foot.nail, 1)
        recipes = (row.get("takes", ()) for row in self.scenario["service"])
        names = [row["name"] for row in self.scenario["service"]]
        for item, qty, _ in dict(zip(names, recipes, strict=True)).get(service, ()):
            self._take(item, qty)

    def _take(self, item: str | None, qty: int) -> None:
        if item is not None:
            self.on_hand[item] = max(0, self.on_hand.get(item, 0) - qty)

    def _wear(self, units: int, dry: int) -> list[ToolTold]:
        told = []
        for place, blade in enumerate(self._blades):
            rasp = blade.edges == 0
            blade.done += units * blade.share * (dry if rasp else THOUSAND) // THOUSAND**2
            if blade.done < blade.bears:
                continue
            if rasp or blade.edges == 1:
                self._blades[place] = self._sharp(
                    blade.name, blade.share, "rasp" if rasp else "knife"
                )
                told.append(ToolTold(place=self.place, tool=blade.name, what="replaced"))
                if rasp:
                    self._take("rasp", 1)
            else:
                fresh = self._sharp(blade.name, blade.share, "knife")
                blade.done, blade.edges, blade.bears = 0, blade.edges - 1, fresh.bears
                told.append(ToolTold(place=self.place, tool=blade.name, what="sharpened"))
        self._nippers += units
        if self._nippers > self.scenario["tools"]["nippers_units"] * THOUSAND:
            self._nippers = 0
            nippers = next(tool["name"] for tool in self.tools if tool["sort"] == "nippers")
            told.append(ToolTold(place=self.place, tool=nippers, what="reground", cost=6_500))
        return told

    def lose(self) -> None:
        """Let a little go missing that nobody writes down."""
        for item, qty in self.on_hand.items():
            self.on_hand[item] = qty - qty * self.scenario["buying"]["drift"] // THOUSAND

    def buy(self, horses: Sequence[Kept], day: date) -> DeliveryTold | None:
        """Order what will not last, up to what the horses of this truck will want."""
        wants = self._wants(horses)
        buying = self.scenario["buying"]
        lines = []
        for item in sorted(wants):
            here = self.on_hand.get(item, 0)
            if here * THOUSAND >= wants[item] * buying["again_days"] + 2 * THOUSAND:
                continue
            pack = self.packs[item]
            lacks = wants[item] * buying["level_days"] // THOUSAND + 4 - here
            qty = -(-lacks // pack) * pack
            self.on_hand[item] = here + qty
            lines.append((item, qty, self._cost(item, qty, day)))
        if not lines:
            return None
        large = sum(cost for _, _, cost in lines) > LARGE_ORDER
        supplier = "Emberlatch Supply" if large else "Gorsefield Counter"
        return DeliveryTold(supplier=supplier, place=self.place, lines=tuple(lines))

    def _wants(self, horses: Sequence[Kept]) -> dict[str, int]:
        """Give what the horses take of each item, in thousandths of a single a day."""
        wants = {"rasp": len(horses) * THOUSAND // 1_600}
        for horse in horses:
            if horse.status in ("trim", "foal"):
                continue
            for foot in (foot for foot in horse.sizes if foot.front or horse.full):
                size = horse.sizes[foot]
                shoe = f"bar {size}" if horse.special and foot.front else size
                wants[shoe] = wants.get(shoe, 0) + 16
                wants[horse.nail] = wants.get(horse.nail, 0) + 24 * horse.nails
            if horse.padded or horse.snow:
                wants["pad"] = wants.get("pad", 0) + 24
                wants["packing"] = wants.get("packing", 0) + 80
            if horse.told.kind == "sport" and horse.full:
                wants["plug"] = wants.get("plug", 0) + 90
        return wants

    def _cost(self, item: str, qty: int, day: date) -> int:
        buying = self.scenario["buying"]
        known = {int(year): level for year, level in buying["cost"].items()}
        level = known.get(day.year, known[min(known)] if day.year < min(known) else THOUSAND)
        year, month, risen = buying["rise"]
        if day.year == year and day.month >= month:
            level = risen
        cost: int = self.scenario["cost"][item] * qty * level // THOUSAND**2
        return cost
