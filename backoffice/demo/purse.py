"""Who is billed when, and when the money comes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from backoffice.demo.dice import Dice
from backoffice.demo.herd import Herd
from backoffice.demo.told import PaidTold, SpentTold, StopTold

Plan = Mapping[str, Any]


@dataclass(slots=True, kw_only=True)
class Purse:
    """What clients owe for which day, and when each will pay."""

    scenario: Plan
    dice: Dice
    _month: set[str] = field(default_factory=set)
    _coming: list[tuple[date, PaidTold]] = field(default_factory=list)
    _lost: list[tuple[date, str, date]] = field(default_factory=list)

    def bill(
        self, stops: Sequence[StopTold], herd: Herd, day: date, *, month_ends: bool
    ) -> tuple[str, ...]:
        """Say who is billed tonight, and make up when each pays."""
        tonight: set[str] = set()
        for work in (work for stop in stops for work in stop.works):
            if work.outcome != "absent":
                for client, _ in herd.horses[work.horse].told.payers:
                    monthly = herd.clients[client].bill_when == "monthly"
                    (self._month if monthly else tonight).add(client)
        if month_ends:
            tonight |= self._month
            self._month = set()
        for client in sorted(tonight):
            self._promise(client, herd, day)
        return tuple(sorted(tonight))

    def _promise(self, client: str, herd: Herd, day: date) -> None:
        habit, paying = herd.habits[client], self.scenario["paying"]
        mean = habit["days"]
        days = max(1, self.dice.near(mean, mean // 3)) if mean else 0
        if self.dice.hits(habit.get("never", 0)):
            self._lost.append((day + timedelta(days=paying["give_up_days"]), client, day))
            return
        method = self.dice.weighted(paying["methods"])
        tip = self.dice.between(1, 4) * 500 if self.dice.hits(paying["tip"]) else 0
        part = 500 if self.dice.hits(paying["part"]) else 1_000
        paid = PaidTold(client=client, billed=day, method=method, part=part, tip=tip)
        self._coming.append((day + timedelta(days=days), paid))
        if part < 1_000:
            rest = PaidTold(client=client, billed=day, method=method)
            self._coming.append((day + timedelta(days=days + 20), rest))

    def paid(self, day: date) -> tuple[PaidTold, ...]:
        """Give the money that has come by an evening."""
        come = [paid for when, paid in self._coming if when <= day]
        self._coming = [row for row in self._coming if row[0] > day]
        return tuple(come)

    def given_up(self, day: date) -> tuple[tuple[str, date], ...]:
        """Give the bills that nobody hopes for any longer."""
        gone = tuple((client, billed) for when, client, billed in self._lost if when <= day)
        self._lost = [row for row in self._lost if row[0] > day]
        return gone

    def spent(self, day: date, trucks: int) -> tuple[SpentTold, ...]:
        """Give what is paid at the end of a month."""
        told = []
        for row in self.scenario["overhead"]:
            if row["each"] == "month" or day.month % 3 == 0:
                amount = row["amount"] * (trucks if row.get("truck") else 1)
                amount += amount * self.dice.near(0, 60) // 1_000
                told.append(
                    SpentTold(
                        supplier=row["supplier"],
                        what=row["what"],
                        amount=amount,
                        paid_by=row["paid_by"],
                    )
                )
        return tuple(told)
