"""What does a horse's work cost the client, why, who pays which part, and what comes next time?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from backoffice.money import PPM, half_up, split
from backoffice.units import Foot, FootWork

UNKNOWN = "price.unknown"
UNTAXED = "O"


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceDetails:
    """Something offered, as its edit form shows it."""

    name: str
    front: str = "trim"
    hind: str = "trim"
    minutes: int = 0
    place_no: int = 0
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceLine:
    """Something offered: what it does to fronts and hinds, and its standard minutes."""

    id: int
    name: str
    front: str
    hind: str
    minutes: int
    place_no: int
    hidden: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipePart:
    """What a service takes besides shoes and nails."""

    item: int
    qty: int
    per_foot: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxRule:
    """How sales tax treats a kind of line: its EN 16931 category, and the rate."""

    category: str = UNTAXED
    rate_ppm: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A price that was looked up, and why it is this one."""

    amount: int
    reason: str
    facts: Mapping[str, int | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """An amount, and the day it holds from."""

    amount: int
    from_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBook:
    """Everything that is in force on a day, looked up without asking again.

    ``listed`` by service and kind of horse (None is any kind without its own), ``agreed`` by
    client and service, ``taxes`` by kind of line.
    """

    services: Mapping[int, ServiceLine]
    recipes: Mapping[int, tuple[RecipePart, ...]]
    listed: Mapping[tuple[int, int | None], Dated]
    agreed: Mapping[tuple[int, int], Dated]
    taxes: Mapping[str, TaxRule]

    def price_of(
        self, service_id: int | None, type_id: int | None, client_ids: Sequence[int]
    ) -> Found | None:
        """Look up a price: agreed with who pays, else the price list; None is not known yet.

        Of several who pay, the first named who has agreed a price decides for all. The list's
        price for this kind of horse goes before the one for any kind.
        Units: minor units.
        Source: docs/rules/pricing.md#price-of-a-service
        """
        if service_id is None:
            return None
        for client_id in client_ids:
            if agreed := self.agreed.get((client_id, service_id)):
                return _found(agreed, "price.agreed")
        if type_id is not None and (own := self.listed.get((service_id, type_id))):
            return _found(own, "price.listed_for_kind")
        anyone = self.listed.get((service_id, None))
        return _found(anyone, "price.listed") if anyone else None


def _found(dated: Dated, reason: str) -> Found:
    facts = {"from_day": dated.from_day.isoformat()}
    return Found(amount=dated.amount, reason=reason, facts=facts)


def tax_rules(in_force: Mapping[str, TaxRule]) -> dict[str, TaxRule]:
    """Say how sales tax treats each kind of line, also those nothing was set for.

    While nothing is set, all is outside sales tax (O). EN 16931 allows nothing else on a bill that
    is outside (BR-O-11 to BR-O-14), so once any kind is inside, the others are exempt (E).
    Units: parts per million.
    Source: docs/rules/pricing.md#sales-tax-of-a-line
    """
    inside = any(rule.category != UNTAXED for rule in in_force.values())
    rest = TaxRule(category="E" if inside else UNTAXED)
    return {
        kind: rest if (rule := in_force.get(kind, rest)).category == UNTAXED else rule
        for kind in ("labour", "goods", "travel")
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceFacts:
    """What the price of one horse's work is decided on; None is not known yet.

    ``booked`` is what the day sheet said for this very service, ``travel`` the horse's part of the
    trip as fixed in the morning, ``listed`` what the price book says.
    """

    service_id: int | None
    outcome: str
    told: int | None
    booked: int | None
    listed: Found | None
    travel: int
    taxes: Mapping[str, TaxRule]
    includes_tax: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a price, with its reason as a code and facts. ``waived`` was not charged."""

    sort: str
    service_id: int | None
    qty: int
    quoted: int
    net: int
    waived: int
    tax_kind: str
    category: str
    rate_ppm: int
    reason: str
    facts: Mapping[str, int | str]


def price_found(facts: PriceFacts) -> Found | None:
    """Decide the price of one horse's work; None is not known yet.

    First match wins: told at the yard, as booked on the day sheet, agreed with who pays, the price
    list. A horse that was absent, or done in part, has only the price that was told.
    Units: minor units.
    Source: docs/rules/pricing.md#which-price-wins
    """
    if facts.told is not None:
        return Found(amount=facts.told, reason="price.told")
    if facts.outcome in ("absent", "part"):
        return None
    if facts.booked is not None:
        return Found(amount=facts.booked, reason="price.booked")
    return facts.listed


def price_work(facts: PriceFacts) -> tuple[Line, ...]:
    """Make the lines of one horse's work: its service, and its part of the trip.

    A price not known yet makes no line. An absent horse's part of the trip is waived, not charged.
    Units: minor units. Rounding: as ``net_of``.
    Source: docs/rules/pricing.md#lines-of-a-work
    """
    lines = []
    if found := price_found(facts):
        sort = "told" if facts.told is not None else "service"
        lines.append(_line(facts, sort, "labour", found))
    if facts.travel and facts.outcome == "absent":
        waived = Found(amount=0, reason="price.travel_waived")
        lines.append(_line(facts, "travel", "travel", waived, waived=facts.travel))
    elif facts.travel:
        booked = Found(amount=facts.travel, reason="price.travel_booked")
        lines.append(_line(facts, "travel", "travel", booked))
    return tuple(lines)


def _line(facts: PriceFacts, sort: str, tax_kind: str, found: Found, *, waived: int = 0) -> Line:
    tax = facts.taxes[tax_kind]
    return Line(
        sort=sort,
        service_id=None if sort == "travel" else facts.service_id,
        qty=1,
        quoted=found.amount,
        net=net_of(found.amount, tax.rate_ppm) if facts.includes_tax else found.amount,
        waived=waived,
        tax_kind=tax_kind,
        category=tax.category,
        rate_ppm=tax.rate_ppm,
        reason=found.reason,
        facts=found.facts,
    )


def net_of(quoted: int, rate_ppm: int) -> int:
    """Take the tax out of a price that includes it.

    Units: minor units; the rate in parts per million.
    Rounding: half up on the magnitude.
    Source: docs/rules/pricing.md#prices-that-include-tax
    """
    return half_up(quoted * PPM, PPM + rate_ppm)


def travel_parts(call_out: int | None, horses: int) -> tuple[int, ...]:
    """Share a call-out over the horses booked; none set is 0 for each.

    Units: minor units.
    Rounding: floors, then a cent each in the order of the day sheet; the parts sum to the whole.
    Source: docs/rules/pricing.md#the-call-out
    """
    return split(call_out or 0, [1] * horses) if horses else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One payer's part of a line; no client means that who pays is still to be found out."""

    client_id: int | None
    quoted: int
    net: int


def share_line(line: Line, payers: Sequence[tuple[int | None, int]]) -> tuple[Share, ...]:
    """Share a line over who pays, by their parts in the order named; nobody is one unknown payer.

    Units: minor units; parts are weights.
    Rounding: floors, then a cent each in the order named, for the quoted amount and for the net
    each, so that both sum to the line's.
    Source: docs/rules/pricing.md#who-pays-which-part
    """
    who = payers or ((None, 1),)
    weights = [parts for _, parts in who]
    parts = zip(who, split(line.quoted, weights), split(line.net, weights), strict=True)
    return tuple(Share(client_id=client, quoted=q, net=n) for (client, _), q, n in parts)


def planned_feet(front: str, hind: str) -> dict[Foot, FootWork]:
    """Say what a service does to each foot.

    Source: docs/rules/pricing.md#feet-of-a-service
    """
    return {foot: FootWork(front if foot.front else hind) for foot in Foot}


def propose_next(done: Sequence[int], services: Mapping[int, ServiceLine]) -> int | None:
    """Propose a horse's next service from its own pattern, its services oldest first.

    After new shoes: a reset, if the last time it had new shoes on these feet that was followed by
    a reset of them. After a reset: the new shoes it last had on these feet. Else the same again.
    Source: docs/rules/pricing.md#next-time
    """
    past = [services[service] for service in done if service in services]
    if not past:
        return None
    last, earlier = past[-1], past[:-1]
    if _has(last, "new"):
        for before, after in zip(reversed(earlier), reversed(past), strict=False):
            if _shod(before) == _shod(last) and _has(before, "new"):
                return after.id if _is_reset_of(after, last) else last.id
    elif _has(last, "reset"):
        for before in reversed(earlier):
            if _shod(before) == _shod(last) and _has(before, "new"):
                return before.id
    return last.id


def _has(service: ServiceLine, work: str) -> bool:
    return work in (service.front, service.hind)


def _shod(service: ServiceLine) -> tuple[bool, bool]:
    return FootWork(service.front).shod, FootWork(service.hind).shod


def _is_reset_of(after: ServiceLine, shod: ServiceLine) -> bool:
    return _has(after, "reset") and not _has(after, "new") and _shod(after) == _shod(shod)


def starting_services(words: str) -> tuple[ServiceDetails, ...]:
    """Give the services a practice starts with, with the minutes they usually take.

    Common practice of the trade: one person, a quiet horse.
    Source: docs/rules/pricing.md#starting-services
    """
    reset, lost = ("refit", "Cast shoe") if words == "uk" else ("reset", "Lost shoe")
    offered = (
        ("Trim", "trim", "trim", 20),
        ("Fronts + trim hinds", "new", "trim", 55),
        (f"Fronts {reset} + trim hinds", "reset", "trim", 48),
        ("Full set", "new", "new", 85),
        (f"Full {reset}", "reset", "reset", 75),
        ("Pull shoes + trim", "pulled", "pulled", 35),
        (lost, "none", "none", 20),
    )
    return tuple(
        ServiceDetails(name=name, front=front, hind=hind, minutes=minutes, place_no=place_no)
        for place_no, (name, front, hind, minutes) in enumerate(offered, 1)
    )
