"""What does a horse's work cost, why, and who pays which part of it?"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from backoffice.money import PPM, half_up, split
from backoffice.pricing.rules.book import Found, TaxRule


@dataclass(frozen=True, slots=True, kw_only=True)
class Guarantee:
    """What decides whether a lost shoe is put back free: the day of how many, and how he stands.

    ``day`` counts from the day it was nailed on; None is not known.
    """

    day: int | None
    of: int
    on_schedule: bool
    owing: bool

    @property
    def holds(self) -> bool:
        """Whether the shoe is put back free."""
        return self.day is not None and self.day <= self.of and self.on_schedule and not self.owing

    @property
    def reason(self) -> str:
        """Say why it holds, or why not."""
        if self.day is None:
            return "price.lost_unknown"
        if self.day > self.of:
            return "price.lost_over"
        if not self.on_schedule:
            return "price.lost_late"
        return "price.lost_owing" if self.owing else "price.guarantee"


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceFacts:
    """What the price of one horse's work is decided on; None is not known yet.

    ``booked`` is what the day sheet said for this very service, ``travel`` the horse's part of the
    trip as fixed in the morning and ``travel_told`` as said otherwise, ``listed`` what the price
    book says, and ``part`` what it says for the feet done. ``finish`` ends a work done in part,
    ``guarantee`` is there for a shoe that had come off.
    """

    service_id: int | None
    outcome: str
    told: int | None
    booked: int | None
    listed: Found | None
    travel: int
    taxes: Mapping[str, TaxRule]
    includes_tax: bool
    part: int | None = None
    travel_told: int | None = None
    finish: bool = False
    guarantee: Guarantee | None = None


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

    First match wins: told at the yard, under guarantee, as booked on the day sheet, agreed with
    who pays, the price list. What was done in part costs what its feet do, and never more than
    the whole. A horse that was absent has only the price that was told.
    Units: minor units.
    Source: docs/rules/pricing.md#which-price-wins
    """
    if facts.told is not None:
        return Found(amount=facts.told, reason="price.told")
    if facts.outcome == "absent":
        return None
    whole = facts.listed
    if facts.booked is not None:
        whole = Found(amount=facts.booked, reason="price.booked")
    if facts.finish and whole is not None:
        whole = Found(amount=whole.amount, reason="price.finish")
    if facts.guarantee is not None and whole is not None:
        return _of_lost_shoe(facts.guarantee, whole)
    if facts.outcome != "part":
        return whole
    if facts.part is None:
        return None
    if whole is None:
        return Found(amount=facts.part, reason="price.part")
    amount = min(facts.part, whole.amount)
    return Found(amount=amount, reason="price.part_of", facts={"whole_cents": whole.amount})


def _of_lost_shoe(guarantee: Guarantee, whole: Found) -> Found:
    amount = 0 if guarantee.holds else whole.amount
    facts = {"day": guarantee.day or 0, "of": guarantee.of}
    return Found(amount=amount, reason=guarantee.reason, facts=facts)


def price_work(facts: PriceFacts) -> tuple[Line, ...]:
    """Make the lines of one horse's work: its service, and its part of the trip.

    A price not known yet makes no line. The part of the trip is waived for an absent horse, for a
    shoe put back under guarantee and for the finish of what was begun; what is told of it wins.
    Units: minor units. Rounding: as ``net_of``.
    Source: docs/rules/pricing.md#lines-of-a-work
    """
    lines = []
    if found := price_found(facts):
        sort = "told" if facts.told is not None else "service"
        free = facts.listed.amount if facts.listed and found.reason == "price.guarantee" else 0
        lines.append(line_of(facts, sort, "labour", found, waived=free))
    if facts.travel or facts.travel_told:
        found = travel_found(facts)
        waived = max(facts.travel - found.amount, 0)
        lines.append(line_of(facts, "travel", "travel", found, waived=waived))
    return tuple(lines)


def travel_found(facts: PriceFacts) -> Found:
    """Decide a horse's part of the trip.

    Units: minor units.
    Source: docs/rules/pricing.md#the-call-out
    """
    if facts.travel_told is not None:
        return Found(amount=facts.travel_told, reason="price.travel_told")
    if facts.outcome == "absent":
        return Found(amount=0, reason="price.travel_waived")
    if facts.finish:
        return Found(amount=0, reason="price.travel_finish")
    if facts.told is None and facts.guarantee is not None and facts.guarantee.holds:
        return Found(amount=0, reason="price.travel_guarantee")
    return Found(amount=facts.travel, reason="price.travel_booked")


def has_minimum(facts: PriceFacts, lines: Sequence[Line]) -> bool:
    """Whether a horse shares in the minimum of its stop.

    Not one that was absent, nor a shoe under guarantee, nor the finish of what was begun; nor one
    whose work costs nothing, or nobody knows what.
    Source: docs/rules/pricing.md#the-minimum-of-a-stop
    """
    free = facts.guarantee is not None and facts.guarantee.holds
    charged = any(line.quoted for line in lines if line.sort != "travel")
    return charged and not (free or facts.finish or facts.outcome == "absent")


def minimum_parts(minimum: int, charged: int, horses: int) -> tuple[int, ...]:
    """Share what a stop lacks to its minimum over the horses charged for there.

    Units: minor units.
    Rounding: floors, then a cent each in the order of the day sheet; the parts sum to the whole.
    Source: docs/rules/pricing.md#the-minimum-of-a-stop
    """
    return split(max(minimum - charged, 0), [1] * horses) if horses else ()


def minimum_line(facts: PriceFacts, part: int, minimum: int) -> Line:
    """Make the line that tops a horse up to the minimum of the stop.

    Source: docs/rules/pricing.md#the-minimum-of-a-stop
    """
    found = Found(amount=part, reason="price.minimum", facts={"least_cents": minimum})
    return line_of(facts, "minimum", "labour", found)


def line_of(facts: PriceFacts, sort: str, tax_kind: str, found: Found, *, waived: int = 0) -> Line:
    """Make a line of a price that was found, with the tax that falls on its kind.

    Units: minor units. Rounding: as ``net_of``.
    Source: docs/rules/pricing.md#lines-of-a-work
    """
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
