"""What a growing practice keeps: shelves first in, first out, and tools that wear."""

from collections import deque
from dataclasses import dataclass, field
from datetime import date

from tests.speed.bulk import Bulk

EACH = {"knife": 15, "rasp": 62, "nippers": 5, "clinchers": 4, "hammer": 3, "stand": 6}
LASTS = {"knife": 15_000, "rasp": 34_000}


@dataclass
class Shelf:
    """An item's deliveries that are not used up, and what its books must say in the end."""

    item: int
    pack: int
    cost: int
    lots: deque[list[int]] = field(default_factory=deque)
    used: int = 0
    last: tuple[int, int] = (0, 0)


@dataclass
class Kit:
    """A tool in use: its number, how long it lasts, and what one horse on it costs."""

    id: int
    sort: str
    each: int
    until: int | None
    since: int = 0
    total: int = 0
    sharpened: date | None = None


class Stores:
    """The shelves and the tools of one truck."""

    def __init__(self, bulk: Bulk, truck: int, supplier: int) -> None:
        self.bulk, self.truck, self.supplier = bulk, truck, supplier
        self._shelves = {
            item: Shelf(item, 2_500 if sort == "nail" else 40, 10 if sort == "nail" else 550)
            for item, sort in bulk.ask("SELECT id, sort FROM item")
        }
        self._kits = [
            Kit(number, sort, EACH[sort], LASTS.get(sort))
            for number, sort in bulk.ask("SELECT id, sort FROM tool ORDER BY id")
        ]
        self._first = [kit.id for kit in self._kits]
        self._worn_out: list[int] = []

    def draw(self, item: int, qty: int, day: date, entry_id: int) -> tuple[int, int]:
        """Take single pieces from the oldest delivery; order more when they run out."""
        add, shelf, truck = self.bulk.add, self._shelves[item], self.truck
        if sum(left for _, left in shelf.lots) < qty:
            self._deliver(shelf, day)
        use = add("stock_use", entry_id=entry_id, item_id=item, place_id=truck, qty=qty, why="work")
        shelf.used += qty
        wanted = qty
        while wanted:
            lot = shelf.lots[0]
            taken = min(wanted, lot[1])
            add(
                "stock_move", entry_id=entry_id, item_id=item, place_id=truck, lot_id=lot[0],
                use_id=use, sort="draw", qty=-taken, cost=-taken * shelf.cost,
            )  # fmt: skip
            lot[1] -= taken
            wanted -= taken
            if not lot[1]:
                add("lot_left", lot_id=lot[0], place_id=truck, item_id=item, qty=0, cost=0)
                shelf.lots.popleft()
        return use, qty * shelf.cost

    def _deliver(self, shelf: Shelf, day: date) -> None:
        add, cost = self.bulk.add, shelf.pack * shelf.cost
        entry_id = self.bulk.entry(day, "delivery")
        lot = add(
            "lot", entry_id=entry_id, item_id=shelf.item, supplier_id=self.supplier,
            qty=shelf.pack, cost=cost,
        )  # fmt: skip
        add(
            "stock_move", entry_id=entry_id, item_id=shelf.item, place_id=self.truck,
            lot_id=lot, sort="arrive", qty=shelf.pack, cost=cost,
        )  # fmt: skip
        bill = add(
            "supplier_bill", entry_id=entry_id, supplier_id=self.supplier, day=day,
            reference=f"A{lot}", total=cost + 6_000, paid_by="card",
        )  # fmt: skip
        add("supplier_bill_line", bill_id=bill, sort="stock", lot_id=lot, what="", amount=cost)
        add("supplier_bill_line", bill_id=bill, sort="expense", what="Diesel", amount=6_000)
        shelf.lots.append([lot, shelf.pack])
        shelf.last = (shelf.pack, cost)

    def look_after(self, day: date) -> None:
        """Sharpen a dull knife and replace a rasp that is worn out, before a stop."""
        for kit in self._kits:
            if kit.until and kit.since >= kit.until:
                self._renew(kit, day)

    def wear(self, work: int, entry_id: int, *, shod: bool) -> int:
        """Put a horse on every tool that was in hand, and give what that cost."""
        spent = 0
        for kit in self._kits:
            if not shod and kit.sort in ("clinchers", "hammer"):
                continue
            wear = self.bulk.add(
                "wear", entry_id=entry_id, tool_id=kit.id, units=1_000, cost=kit.each
            )
            self.bulk.add("work_tool", work_id=work, wear_id=wear)
            kit.since += 1_000
            kit.total += 1_000
            spent += kit.each
        return spent

    def _renew(self, kit: Kit, day: date) -> None:
        if kit.sort == "rasp":
            self._state(kit)
            self._worn_out.append(kit.id)
            kit.id = self.bulk.add(
                "tool", sort="rasp", name=f"Rasp of {day}", place_id=self.truck, share=1_000,
                price=2_400, scrap=0, life=34_000, edge_cost=0, bought=day, hidden=False, version=1,
            )  # fmt: skip
            kit.since = kit.total = 0
            return
        entry_id = self.bulk.entry(day, "tool")
        self.bulk.add(
            "tool_event", entry_id=entry_id, tool_id=kit.id, sort="sharpened", units=kit.total,
            cost=0,
        )  # fmt: skip
        kit.since, kit.sharpened = 0, day

    def _state(self, kit: Kit) -> None:
        if kit.id in self._first:
            self.bulk.ask("DELETE FROM tool_state WHERE tool_id = ?", kit.id)
        self.bulk.add(
            "tool_state", tool_id=kit.id, since=kit.since, total=kit.total,
            service_day=kit.sharpened,
        )  # fmt: skip

    def finish(self) -> None:
        """Write down what is left on each shelf, and how each tool stands."""
        for shelf in self._shelves.values():
            for lot, left in shelf.lots:
                self.bulk.add(
                    "lot_left", lot_id=lot, place_id=self.truck, item_id=shelf.item, qty=left,
                    cost=left * shelf.cost,
                )  # fmt: skip
            self.bulk.ask(
                "UPDATE on_hand SET qty = ?, last_qty = ?, last_cost = ?, used = ? "
                "WHERE item_id = ?",
                sum(left for _, left in shelf.lots), *shelf.last, shelf.used, shelf.item,
            )  # fmt: skip
        for kit in self._kits:
            self._state(kit)
        self.bulk.flush()
        for number in self._worn_out:
            self.bulk.ask("UPDATE tool SET hidden = 1 WHERE id = ?", number)
