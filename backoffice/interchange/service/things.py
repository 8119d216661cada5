"""Bringing in prices, stock and tools."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy.orm import Session

from backoffice.clients.rules import search_key
from backoffice.daybook import service as daybook
from backoffice.interchange.queries import standing
from backoffice.interchange.queries.standing import ItemThere
from backoffice.interchange.rules.brought import (
    BroughtPrice,
    BroughtShoe,
    BroughtStock,
    BroughtTool,
    Cell,
)
from backoffice.interchange.rules.report import Tally
from backoffice.interchange.service.people import KindOf
from backoffice.money import half_up, split
from backoffice.practice import queries as practice
from backoffice.practice import service as practice_service
from backoffice.practice.rules import PlaceDetails
from backoffice.pricing import queries as pricing
from backoffice.pricing import service as pricing_service
from backoffice.pricing.rules import ServiceDetails
from backoffice.stock import service as stock
from backoffice.suppliers import service as suppliers
from backoffice.suppliers.queries import SupplierDetails
from backoffice.tools import service as tools
from backoffice.tools.rules import ToolDetails
from backoffice.units import THOUSAND, Foot
from backoffice.visits.queries import Worn


class ServiceOf:
    """Finds the service that does this to fronts and hinds; it is made if there is none."""

    def __init__(self, session: Session, tally: Tally) -> None:
        self._session = session
        self._tally = tally
        offered = list(pricing.services_by_id(session).values())
        self._names = {service.id: service.name for service in offered}
        self._does = {service.id: (service.front, service.hind) for service in offered}
        self._last = max((service.place_no for service in offered), default=0)
        self._plans: dict[tuple[str, str], int] = {}
        for service in sorted(offered, key=lambda service: service.hidden):
            self._plans.setdefault((service.front, service.hind), service.id)

    def __call__(self, at: Cell, words: str, fronts: str | None, hinds: str | None) -> int | None:
        """Give the service for some words; of those that do the same, the one called so.

        What does not say which feet it is for is no service.
        """
        if fronts is None and hinds is None:
            return None
        plan = (fronts or "none", hinds or "none")
        named = [one for one, name in self._names.items() if search_key(name) == search_key(words)]
        for one in named:
            if self._does[one] == plan:
                return one
        if plan not in self._plans:
            if named or not words:
                return None
            self._plans[plan] = self._made(at, words[:1].upper() + words[1:], plan)
        return self._plans[plan]

    def called(self, service_id: int | None, words: str) -> bool:
        """Whether the words say no more than what a service is called."""
        name = search_key(self._names.get(service_id or 0)).split()
        return service_id is not None and set(search_key(words).split()) <= set(name)

    def _made(self, at: Cell, name: str, plan: tuple[str, str]) -> int:
        self._last += 1
        details = ServiceDetails(name=name, front=plan[0], hind=plan[1], place_no=self._last)
        made = pricing_service.save_service(self._session, details)
        self._names[made], self._does[made] = name, plan
        self._tally.note(at, name, "bring.changed.service_made")
        return made


def bring_prices(
    session: Session,
    brought: Sequence[BroughtPrice],
    service_of: ServiceOf,
    tally: Tally,
    *,
    today: date,
) -> None:
    """Bring prices in, from the day they hold or else the first day of the year.

    A price that was set here for that day already stays.
    """
    there = standing.prices_there(session)
    seen: set[tuple[int, int | None, date]] = set()
    kind_of = KindOf(session)
    for one in brought:
        service_id = service_of(one.at, one.service, one.fronts, one.hinds)
        if service_id is None:
            tally.note(one.at, one.service, "bring.left_out.extra", price_cents=one.amount)
            continue
        type_id = kind_of(one.kind, one.like) if one.kind or one.like else None
        if type_id is None and one.kind:
            tally.note(one.at, one.service, "bring.left_out.price_kind", kind=one.kind)
            continue
        key = (service_id, type_id, one.from_day or date(today.year, 1, 1))
        if key not in seen:
            tally.count(one.at, "price", new=key not in there)
            seen.add(key)
        if key not in there:
            pricing_service.set_price(session, *key, one.amount)
            there[key] = one.amount
        elif there[key] != one.amount:
            tally.note(one.at, one.service, "bring.changed.price_stays", here_cents=there[key])


class SupplierOf:
    """Finds a supplier by name; one that is not here yet is made."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._there = standing.suppliers_there(session)

    def __call__(self, name: str | None) -> int | None:
        """Give the number of a supplier; nobody named is nobody."""
        if not name:
            return None
        key = search_key(name)
        if key not in self._there:
            self._there[key] = suppliers.save_supplier(self._session, SupplierDetails(name=name))
        return self._there[key]


def places_of(session: Session, *, shop: bool) -> tuple[int, int]:
    """Give the first truck and the first shop; a shop is made if one is wanted."""
    there = practice.places(session)
    trucks = [place.id for place in there if place.sort == "truck"] or [p.id for p in there]
    shops = [place.id for place in there if place.sort == "shop"]
    if not trucks:
        trucks = [practice_service.save_place(session, PlaceDetails(name="Truck"))]
    if not shops and shop:
        shops = [practice_service.save_place(session, PlaceDetails(name="Shop", sort="shop"))]
    return trucks[0], shops[0] if shops else trucks[0]


def bring_stock(
    session: Session,
    brought: Sequence[BroughtStock],
    supplier_of: SupplierOf,
    tally: Tally,
    *,
    today: date,
) -> None:
    """Bring items in and begin their shelves with what was counted; a shelf counted here stays."""
    if not brought:
        return
    truck, shop = places_of(session, shop=any(one.shop is not None for one in brought))
    there = {
        (item.sort, search_key(item.name), item.size.casefold()): item.id
        for item in reversed(standing.items_there(session))
    }
    counted = standing.shelves_counted(session)
    first: dict[tuple[int, int], tuple[BroughtStock, int]] = {}
    for one in brought:
        key = (one.sort, search_key(one.name), one.size.casefold())
        tally.count(one.at, "item", new=key not in there)
        if key not in there:
            details = stock.ItemDetails(
                sort=one.sort,
                name=one.name,
                size_text=one.size,
                pack=one.pack or (2 if one.sort == "shoe" else 1),
                supplier_id=supplier_of(one.supplier),
            )
            there[key] = stock.save_item(session, details)
        counts = {truck: one.truck} | ({shop: one.shop} if shop != truck else {})
        for place_id, qty in counts.items():
            shelf = (there[key], place_id)
            if qty is None:
                stock.open_shelves(session, [shelf])
            elif shelf not in counted:
                first.setdefault(shelf, (one, qty))
        if one.truck is None and one.shop is None:
            tally.wait("bring.wait.count", f"{one.name} {one.size}".strip())
    if first:
        entry_id = daybook.record(session, "count", today)
        for (item_id, place_id), (one, qty) in first.items():
            cost = 0 if one.cost is None else half_up(one.cost * qty, one.cost_for)
            found = stock.Arrival(item_id=item_id, place_id=place_id, qty=qty, cost=cost)
            stock.first_count(session, entry_id, found, today, priced=one.cost is not None)


class WornOf:
    """Finds the shoes and nails a horse wears; those nobody keeps in stock are made as items."""

    def __init__(self, session: Session, tally: Tally) -> None:
        self._session = session
        self._tally = tally
        self._there = standing.items_there(session)

    def __call__(self, at: Cell, wears: Sequence[BroughtShoe]) -> dict[Foot, Worn]:
        """Give what a horse wears, foot by foot."""
        return {
            one.foot: Worn(
                shoe=self._shoe(at, one), nail=self._nail(at, one), nails=None, pad=None, resets=0
            )
            for one in wears
        }

    def _shoe(self, at: Cell, one: BroughtShoe) -> int:
        end = "front" if one.foot.front else "hind"
        wanted = search_key(one.size, one.pattern)
        for item in self._there:
            if item.sort != "shoe" or item.pattern not in ("either", end):
                continue
            same_size = search_key(item.size) == search_key(one.size)
            if search_key(item.size) == wanted or (same_size and self._named(item, one.pattern)):
                return item.id
        name = f"Shoe, {one.pattern}" if one.pattern else "Shoe"
        return self._made(at, "shoe", name, one.size, 2)

    @staticmethod
    def _named(item: ItemThere, pattern: str | None) -> bool:
        return set(search_key(pattern).split()) <= set(search_key(item.name).split())

    def _nail(self, at: Cell, one: BroughtShoe) -> int | None:
        """Find nails by all the words for them, if only one kind has all of these."""
        if not one.nails:
            return None
        wanted = set(search_key(one.nails).split())
        nails = [item for item in self._there if item.sort == "nail"]
        exact = [item for item in nails if search_key(item.size) == search_key(one.nails)]
        found = exact or [
            item for item in nails if wanted <= set(search_key(item.name, item.size).split())
        ]
        return found[0].id if len(found) == 1 else self._made(at, "nail", "Nails", one.nails, 250)

    def _made(self, at: Cell, sort: str, name: str, size: str, pack: int) -> int:
        details = stock.ItemDetails(sort=sort, name=name, size_text=size, pack=pack)
        made = stock.save_item(self._session, details)
        self._there.append(ItemThere(id=made, sort=sort, name=name, size=size, pattern="either"))
        self._tally.note(at, f"{name} {size}", f"bring.changed.{sort}_made")
        return made


def bring_tools(session: Session, brought: Sequence[BroughtTool], tally: Tally) -> None:
    """Bring tools in on the first truck; where it has none of a sort they share its work evenly."""
    if not brought:
        return
    truck, _ = places_of(session, shop=False)
    there = standing.tools_there(session)
    had = {sort for sort, _ in there}
    sharing = {
        sort: list(split(THOUSAND, [1] * sum(1 for one in brought if one.sort == sort)))
        for sort in {one.sort for one in brought} - had
    }
    for one in brought:
        key = (one.sort, search_key(one.name))
        known = there[key] > 0
        tally.count(one.at, "tool", new=not known)
        share = sharing[one.sort].pop(0) if one.sort in sharing else 0
        if known:
            there[key] -= 1
            continue
        tools.save_tool(
            session,
            ToolDetails(
                sort=one.sort,
                name=one.name,
                place_id=truck,
                share=share,
                price=one.price,
                bought=one.bought,
            ),
        )
        if one.notes:
            tally.note(one.at, f"{one.name}: {one.notes}", "bring.left_out.tool_note")
