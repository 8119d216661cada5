"""What is offered, at which price, and how is it taxed, on a day?"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from backoffice.clients.models import HorseType
from backoffice.errors import Refused
from backoffice.practice.rules import details_of
from backoffice.pricing.models import AgreedPrice, Price, Recipe, Service, TaxRate
from backoffice.pricing.rules import (
    Dated,
    PriceBook,
    RecipePart,
    ServiceDetails,
    ServiceLine,
    TaxRule,
    tax_rules,
)
from backoffice.stock.models import Item


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRow:
    """A service on the price list; ``own`` by kind of horse, ``any_kind`` for all others."""

    service: ServiceLine
    any_kind: Dated | None
    own: Mapping[int, Dated]


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceTable:
    """The price list of a day: services down, kinds of horse across."""

    types: tuple[tuple[int, str], ...]
    rows: tuple[PriceRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreedLine:
    """A price agreed with a client."""

    id: int
    service_id: int
    service_name: str
    from_day: date
    until_day: date | None
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxLine:
    """How sales tax treats a kind of line from a day on."""

    tax_kind: str
    from_day: date
    category: str
    rate_ppm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeLine:
    """What a service takes besides shoes and nails, named."""

    item_id: int
    item_name: str
    size_text: str
    qty: int
    per: str


def services_by_id(session: Session) -> dict[int, ServiceLine]:
    """Give every service by number, also those no longer offered, in the order of the list."""
    rows = session.scalars(select(Service).order_by(Service.place_no, Service.id))
    return {row.id: details_of(ServiceLine, row) for row in rows}


def services(session: Session) -> tuple[ServiceLine, ...]:
    """Give the services offered, in the order of the list."""
    return tuple(row for row in services_by_id(session).values() if not row.hidden)


def service_details(session: Session, service_id: int) -> ServiceDetails:
    """Give a service as its edit form shows it.

    Raises: Refused if there is none of that number.
    """
    row = session.get(Service, service_id)
    if row is None:
        raise Refused("record.missing")
    return details_of(ServiceDetails, row)


def price_book(session: Session, day: date) -> PriceBook:
    """Gather everything that is in force on a day, in five statements however much there is."""
    agreed = session.execute(
        _newest(
            (AgreedPrice.client_id, AgreedPrice.service_id),
            AgreedPrice.from_day,
            AgreedPrice.amount,
            AgreedPrice.from_day <= day,
            AgreedPrice.until_day.is_(None) | (AgreedPrice.until_day >= day),
        )
    )
    taxes = session.execute(
        _newest(
            (TaxRate.tax_kind, TaxRate.category), TaxRate.from_day, TaxRate.rate_ppm,
            TaxRate.from_day <= day, of=(TaxRate.tax_kind,),
        )
    )  # fmt: skip
    return PriceBook(
        services=services_by_id(session),
        recipes=recipe_parts(session),
        listed=_listed(session, day),
        agreed={
            (client, service): Dated(amount=amount, from_day=from_day)
            for client, service, from_day, amount in agreed
        },
        taxes=tax_rules(
            {kind: TaxRule(category=category, rate_ppm=rate) for kind, category, _, rate in taxes}
        ),
    )


def _newest(
    keys: tuple[Any, ...],
    from_day: Any,
    value: Any,
    *where: ColumnElement[bool],
    of: tuple[Any, ...] | None = None,
) -> Any:
    """Select, of the rows that hold, the newest of each key."""
    place = func.row_number().over(partition_by=of or keys, order_by=from_day.desc())
    rows = select(*keys, from_day, value, place.label("place")).where(*where).subquery()
    columns = [column for column in rows.c if column.key != "place"]
    return select(*columns).where(rows.c.place == 1)


def _listed(session: Session, day: date) -> dict[tuple[int, int | None], Dated]:
    rows = session.execute(
        _newest(
            (Price.service_id, Price.type_id), Price.from_day, Price.amount, Price.from_day <= day
        )
    )
    return {
        (service, type_id): Dated(amount=amount, from_day=from_day)
        for service, type_id, from_day, amount in rows
    }


def price_table(session: Session, day: date) -> PriceTable:
    """Give the price list of a day, for the services offered and the kinds of horse in use."""
    types = session.execute(
        select(HorseType.id, HorseType.name).where(HorseType.hidden == 0).order_by(HorseType.id)
    )
    listed = _listed(session, day)
    return PriceTable(
        types=tuple(types),
        rows=tuple(
            PriceRow(
                service=service,
                any_kind=listed.get((service.id, None)),
                own={
                    type_id: dated
                    for (service_id, type_id), dated in listed.items()
                    if service_id == service.id and type_id is not None
                },
            )
            for service in services(session)
        ),
    )


def agreed_with(session: Session, client_id: int) -> tuple[AgreedLine, ...]:
    """List the prices agreed with a client, the newest first."""
    rows = session.execute(
        select(
            AgreedPrice.id, AgreedPrice.service_id, Service.name.label("service_name"),
            AgreedPrice.from_day, AgreedPrice.until_day, AgreedPrice.amount,
        )
        .join(Service, Service.id == AgreedPrice.service_id)
        .where(AgreedPrice.client_id == client_id)
        .order_by(AgreedPrice.from_day.desc(), AgreedPrice.id.desc())
    ).mappings()  # fmt: skip
    return tuple(AgreedLine(**row) for row in rows)


def tax_lines(session: Session) -> tuple[TaxLine, ...]:
    """List what was set for sales tax, the newest first."""
    rows = session.scalars(select(TaxRate).order_by(TaxRate.from_day.desc(), TaxRate.tax_kind))
    return tuple(details_of(TaxLine, row) for row in rows)


def recipe_parts(session: Session) -> dict[int, tuple[RecipePart, ...]]:
    """Give what each service takes besides shoes and nails, for counting."""
    parts: dict[int, tuple[RecipePart, ...]] = {}
    for row in session.scalars(select(Recipe).order_by(Recipe.service_id, Recipe.id)):
        part = RecipePart(item=row.item_id, qty=row.qty, per_foot=row.per == "shod_foot")
        parts[row.service_id] = (*parts.get(row.service_id, ()), part)
    return parts


def recipes(session: Session) -> dict[int, tuple[RecipeLine, ...]]:
    """Give what each service takes besides shoes and nails, for reading."""
    rows = session.execute(
        select(
            Recipe.service_id, Recipe.item_id, Item.name.label("item_name"), Item.size_text,
            Recipe.qty, Recipe.per,
        )
        .join(Item, Item.id == Recipe.item_id)
        .order_by(Recipe.service_id, Recipe.id)
    )  # fmt: skip
    lines: dict[int, tuple[RecipeLine, ...]] = {}
    for service_id, item_id, item_name, size_text, qty, per in rows:
        line = RecipeLine(
            item_id=item_id, item_name=item_name, size_text=size_text, qty=qty, per=per
        )
        lines[service_id] = (*lines.get(service_id, ()), line)
    return lines
