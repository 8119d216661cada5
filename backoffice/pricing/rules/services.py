"""What a service does to each foot, and which one comes next."""

from collections.abc import Mapping, Sequence

from backoffice.pricing.rules.book import ServiceDetails, ServiceLine
from backoffice.units import Foot, FootWork


def planned_feet(front: str, hind: str) -> dict[Foot, FootWork]:
    """Say what a service does to each foot.

    Source: docs/rules/pricing.md#feet-of-a-service
    """
    return {foot: FootWork(front if foot.front else hind) for foot in Foot}


def feet_worked(service: ServiceLine) -> int:
    """Count the feet a service works on; of putting back what was lost it is none.

    Source: docs/rules/pricing.md#feet-of-a-service
    """
    return sum(work.worked for work in planned_feet(service.front, service.hind).values())


def propose_next(done: Sequence[int], services: Mapping[int, ServiceLine]) -> int | None:
    """Propose a horse's next service from its own pattern, its services oldest first.

    After new shoes: a reset, if the last time it had new shoes on these feet that was followed by
    a reset of them. After a reset: the new shoes it last had on these feet. Else the same again.
    Source: docs/rules/pricing.md#next-time
    """
    known = [services[service] for service in done if service in services]
    past = [service for service in known if feet_worked(service)]
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
