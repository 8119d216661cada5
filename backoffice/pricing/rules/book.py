"""What is offered, at which price, and how is it taxed, on a day?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from backoffice.money import half_up
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

    def price_of_part(
        self,
        done: Mapping[Foot, FootWork],
        type_id: int | None,
        client_ids: Sequence[int],
    ) -> int | None:
        """Price feet by what was done to each, from the services that do just that; None, unknown.

        A trimmed pair is half a trim. A pair done otherwise is the service that does it and trims
        the rest, less that half; failing that, what the one pair leaves of a service for both, or
        half of it. A single foot is half its pair.
        Units: minor units. Rounding: half up, once for the horse.
        Source: docs/rules/pricing.md#done-in-part
        """

        quarters = 0
        for foot, work in done.items():
            if work.worked:
                pair = self._pair(work, foot, type_id, client_ids)
                if pair is None:
                    return None
                quarters += pair
        return half_up(quarters, 4)

    def _pair(
        self, work: FootWork, foot: Foot, type_id: int | None, client_ids: Sequence[int]
    ) -> int | None:
        """Price the pair a foot belongs to, in halves of a minor unit."""

        def asked(front: FootWork, hind: FootWork) -> int | None:
            return self._price_of_doing(front, hind, type_id, client_ids)

        trim = asked(FootWork.TRIM, FootWork.TRIM)
        if work is FootWork.TRIM:
            return trim
        apart = asked(work, FootWork.TRIM) if foot.front else asked(FootWork.TRIM, work)
        if apart is not None and trim is not None:
            return 2 * apart - trim
        both = asked(work, work)
        fronts = None if foot.front else asked(work, FootWork.TRIM)
        if both is None or fronts is None or trim is None:
            return both
        return 2 * both - (2 * fronts - trim)

    def _price_of_doing(
        self, front: FootWork, hind: FootWork, type_id: int | None, client_ids: Sequence[int]
    ) -> int | None:
        for service in self.services.values():
            if (service.front, service.hind) == (front, hind) and not service.hidden:
                found = self.price_of(service.id, type_id, client_ids)
                if found is not None:
                    return found.amount
        return None


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
