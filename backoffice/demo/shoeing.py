"""What a horse gets: which service, what goes on which foot, and when it is due again."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from backoffice.clients.rules import starting_types
from backoffice.demo.dice import THOUSAND, Dice
from backoffice.demo.herd import Kept
from backoffice.demo.told import FootTold, WorkTold
from backoffice.pricing.rules import planned_feet
from backoffice.units import Foot, FootWork

Plan = Mapping[str, Any]
KINDS = ("pony", "light", "stock", "sport", "draft", "donkey", "foal")
ONE = timedelta(days=1)
WINTER = (11, 12, 1, 2)
MUD = (2, 3, 4)


@dataclass(slots=True)
class Shoeing:
    """Does horses by the rates of a scenario."""

    scenario: Plan
    services: Mapping[str, Plan]
    dice: Dice

    def service(self, horse: Kept, day: date) -> str:
        """Decide what a horse gets on a day."""
        rates = self.scenario["rates"]
        if horse.status == "foal":
            return "Foal trim"
        if not horse.shod_in(day):
            return "Pull shoes + trim" if horse.shod else "Trim"
        # Horses told one by one later get new shoes each time, so that what comes next is known.
        may = bool(horse.shod) and horse.resets < 2 and horse.until is None
        if may and self.dice.hits(rates["reset"]):
            return "Full reset" if horse.full else "Fronts reset + trim hinds"
        if horse.special:
            return "Bar shoes in front + trim hinds"
        if horse.padded or (horse.snow and day.month in WINTER):
            return "Full set with front pads" if horse.full else "Fronts with pads + trim hinds"
        sport = horse.told.kind == "sport" and 3 <= day.month <= 10
        if horse.full and sport and self.dice.hits(rates["studs"]):
            return "Full set with stud holes"
        return "Full set" if horse.full else "Fronts + trim hinds"

    def work(self, horse: Kept, day: date, *, extra: bool = False) -> WorkTold:
        """Do a horse, and make up what follows: when it is due, and whether a shoe is lost."""
        name = self.service(horse, day)
        row = self.services[name]
        planned = planned_feet(row["front"], row["hind"])
        feet = {foot: self._foot(horse, foot, done, name) for foot, done in planned.items()}
        whole = row["front"] == row["hind"] == "new"
        part = whole and self.dice.hits(self.scenario["rates"]["part"])
        if part:
            for foot in feet:
                if not foot.front:
                    feet[foot] = FootTold(done=FootWork.NOT_DONE)
            horse.unfinished = day + ONE * self.dice.between(1, 10)
        reset = FootWork.RESET in planned.values()
        horse.resets = horse.resets + 1 if reset else 0
        horse.shod = tuple(foot for foot, done in planned.items() if done.shod)
        horse.last = day
        horse.due = day + ONE * self._days(horse, day)
        horse.lost = self._lost(horse, day)
        self._regrow(horse, name)
        return WorkTold(
            horse=horse.name,
            service=name,
            outcome="part" if part else "done",
            feet=feet,
            minutes=self._minutes(horse, row["minutes"]),
            extra=extra,
        )

    def _foot(self, horse: Kept, foot: Foot, done: FootWork, service: str) -> FootTold:
        if not done.shod:
            return FootTold(done=done)
        size = horse.sizes[foot]
        return FootTold(
            done=done,
            shoe=f"bar {size}" if horse.special and foot.front and done is FootWork.NEW else size,
            nail=horse.nail,
            nails=horse.nails + (1 if self.dice.hits(100) else 0),
            pad="pad" if "pads" in service and foot.front else None,
        )

    def _regrow(self, horse: Kept, service: str) -> None:
        """Let a size change by one now and then at a new set."""
        if "reset" in service or not horse.shod or horse.special or horse.until is not None:
            return
        kind = next(row for row in self.scenario["kind"] if row["name"] == horse.told.kind)
        sizes = list(kind["sizes"])
        if self.dice.hits(self.scenario["herd"]["odd_size"]) and horse.sizes[Foot.LF] in sizes:
            place = sizes.index(horse.sizes[Foot.LF]) + 1
            for foot in (foot for foot in horse.sizes if foot.front):
                horse.sizes[foot] = sizes[min(place, len(sizes) - 1)]

    def _days(self, horse: Kept, day: date) -> int:
        kind = next((row for row in self.scenario["kind"] if row["name"] == horse.told.kind), None)
        if horse.status == "foal" or kind is None:
            mean, spread, least, most = self.scenario["foal"]["days"]
        elif horse.shod or horse.told.kind == "donkey":
            mean, spread, least, most = kind["days"]
        else:
            mean, spread, least, most = self.scenario["trim"]["days"]
        days = self.dice.within(horse.told.cycle or mean, spread, least, most)
        if day.month in WINTER:
            days = days * 1_080 // THOUSAND
        return max(14, days + self.dice.near(5, 4))

    def _lost(self, horse: Kept, day: date) -> tuple[date, Foot] | None:
        rates = self.scenario["rates"]
        chance = rates["lost_in_mud"] if day.month in MUD else rates["lost"]
        for pair in ((Foot.LF, Foot.RF), (Foot.LH, Foot.RH)):
            if pair[0] in horse.shod and self.dice.hits(chance):
                foot = pair[self.dice.between(0, 1)]
                early = self.dice.hits(rates["lost_early"])
                after = self.dice.between(2, 13) if early else self.dice.between(15, 34)
                return day + ONE * after, foot
        return None

    def _minutes(self, horse: Kept, usual: int) -> int | None:
        kinds = dict(zip(KINDS, starting_types("us"), strict=True))
        took = usual * kinds[horse.told.kind].time_factor // THOUSAND
        took = took * (1_400 if horse.difficult else THOUSAND) // THOUSAND
        took = max(8, self.dice.near(took, took * 18 // 100))
        said = self.dice.hits(self.scenario["rates"]["minutes_told"])
        return took if said or horse.difficult else None

    def lost_shoe(self, horse: Kept) -> WorkTold:
        """Put back a shoe that had come off, the horse's own if it was found."""
        lost = horse.lost
        if lost is None:
            raise ValueError(f"{horse.name} has lost no shoe")
        foot, horse.lost = lost[1], None
        found = self.dice.hits(self.scenario["rates"]["lost_found"])
        size = horse.sizes[foot]
        back = FootTold(
            done=FootWork.RESET if found else FootWork.NEW,
            shoe=f"bar {size}" if horse.special and foot.front else size,
            nail=horse.nail,
            nails=horse.nails,
            lost="found" if found else "gone",
        )
        return WorkTold(horse=horse.name, service="Lost shoe", outcome="done", feet={foot: back})

    def finish(self, horse: Kept) -> WorkTold:
        """Do the hind feet that were left."""
        horse.unfinished = None
        name = "Full set"
        feet = {
            foot: self._foot(horse, foot, FootWork.NEW, name) for foot in Foot if not foot.front
        }
        return WorkTold(horse=horse.name, service=name, outcome="done", feet=feet, finishes=True)
