"""Saving services, what they cost from a day on, what they take, and how they are taxed."""

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.days import sensible
from backoffice.errors import Refused
from backoffice.money import PPM
from backoffice.practice.rules import amount as sensible_amount
from backoffice.practice.rules import choice, needed, whole
from backoffice.practice.service import must_be_free, must_exist, save_record
from backoffice.pricing.models import (
    FOOT_PLANS,
    TAX_KINDS,
    AgreedPrice,
    Price,
    Recipe,
    Service,
    TaxRate,
)
from backoffice.pricing.rules import ServiceDetails, starting_services

CATEGORIES = ("S", "Z", "E", "O")
MOST_MINUTES = 1_440


def save_service(session: Session, details: ServiceDetails, service_id: int | None = None) -> int:
    """Save something offered.

    Raises: Refused for what cannot be meant, a name that is taken, and if it was changed meanwhile.
    """
    name = needed(details.name, "name")
    must_be_free(session, Service, Service.name == name, name, service_id)
    return save_record(
        session,
        Service,
        service_id,
        details.version,
        name=name,
        front=choice(details.front, FOOT_PLANS, "front"),
        hind=choice(details.hind, FOOT_PLANS, "hind"),
        minutes=whole(details.minutes, "minutes", most=MOST_MINUTES),
        place_no=whole(details.place_no, "place_no"),
        hidden=details.hidden,
    )


def set_price(
    session: Session, service_id: int, type_id: int | None, from_day: date, amount: int
) -> None:
    """Set the price of a service for a kind of horse from a day on; of no kind, for all others.

    Said twice for a day, the second replaces the first; other days stay as they are.
    """
    must_exist(session, Service, service_id, "service_id")
    cents = sensible_amount(amount, "amount")
    row = session.scalar(
        select(Price)
        .where(
            Price.service_id == service_id,
            Price.type_id == type_id,
            Price.from_day == sensible(from_day),
        )
        .with_for_update()
    )
    if row is None:
        session.add(Price(service_id=service_id, type_id=type_id, from_day=from_day, amount=cents))
    else:
        row.amount = cents
    session.flush()


def agree_price(
    session: Session,
    client_id: int,
    service_id: int,
    from_day: date,
    amount: int,
    *,
    until_day: date | None = None,
) -> None:
    """Agree a price for a service with a client from a day on, perhaps until one.

    Said twice for a first day, the second replaces the first.
    Raises: Refused if it would end before it begins.
    """
    must_exist(session, Service, service_id, "service_id")
    cents = sensible_amount(amount, "amount")
    if until_day is not None and sensible(until_day) < from_day:
        raise Refused("price.ends_before", field="until_day", from_day=from_day)
    row = session.scalar(
        select(AgreedPrice)
        .where(
            AgreedPrice.client_id == client_id,
            AgreedPrice.service_id == service_id,
            AgreedPrice.from_day == sensible(from_day),
        )
        .with_for_update()
    )
    if row is None:
        row = AgreedPrice(client_id=client_id, service_id=service_id, from_day=from_day)
        session.add(row)
    row.amount, row.until_day = cents, until_day
    session.flush()


def set_tax(session: Session, tax_kind: str, from_day: date, category: str, rate_ppm: int) -> None:
    """Set how sales tax treats a kind of line from a day on.

    Said twice for a day, the second replaces the first.
    Raises: Refused for a standard rate of nothing, or any rate in another category.
    """
    choice(tax_kind, TAX_KINDS, "tax_kind")
    choice(category, CATEGORIES, "category")
    whole(rate_ppm, "rate_ppm", most=PPM)
    if (category == "S") != (rate_ppm > 0):
        code = "price.rate_needed" if category == "S" else "price.no_rate_here"
        raise Refused(code, field="rate_ppm")
    row = session.scalar(
        select(TaxRate)
        .where(TaxRate.tax_kind == tax_kind, TaxRate.from_day == sensible(from_day))
        .with_for_update()
    )
    if row is None:
        row = TaxRate(tax_kind=tax_kind, from_day=from_day)
        session.add(row)
    row.category, row.rate_ppm = category, rate_ppm
    session.flush()


def set_recipe(session: Session, service_id: int, item_id: int, qty: int, per: str) -> None:
    """Say what a service takes of an item for the horse or for each shod foot; 0 takes none."""
    must_exist(session, Service, service_id, "service_id")
    choice(per, ("horse", "shod_foot"), "per")
    count = whole(qty, "qty")
    row = session.scalar(
        select(Recipe)
        .where(Recipe.service_id == service_id, Recipe.item_id == item_id)
        .with_for_update()
    )
    if not count:
        if row is not None:
            session.delete(row)
    elif row is None:
        session.add(Recipe(service_id=service_id, item_id=item_id, qty=count, per=per))
    else:
        row.qty, row.per = count, per
    session.flush()


def start_services(session: Session, words: str) -> None:
    """Give a new practice the services everybody offers; what they cost is the farrier's to say."""
    for details in starting_services(words):
        save_service(session, details)
