"""What is everybody and everything called, by number?"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.clients.models import Client, Horse, HorseType, Yard
from backoffice.practice import queries as practice
from backoffice.practice.models import Farrier, Place
from backoffice.pricing.models import Service
from backoffice.stock.models import Item
from backoffice.suppliers.models import Supplier
from backoffice.words import Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """The names of a practice's records, None where a name is not known, and its words."""

    speech: Speech
    clients: Mapping[int | None, str | None]
    yards: Mapping[int | None, str | None]
    horses: Mapping[int | None, str | None]
    kinds: Mapping[int | None, str | None]
    services: Mapping[int | None, str | None]
    farriers: Mapping[int | None, str | None]
    places: Mapping[int | None, str | None]
    suppliers: Mapping[int | None, str | None]
    items: Mapping[int | None, str | None]

    def say(self, code: str) -> str:
        """Word one of the headings or words of the workbook."""
        return self.speech.say(code)

    def word(self, code: str, value: str | None) -> str | None:
        """Word a word that is kept, such as how something was paid."""
        return None if value is None else self.speech.say(f"{code}.{value}")


def names(session: Session) -> Names:
    """Read all names at once."""

    def by_number(model: Any, name: Any) -> dict[int | None, str | None]:
        return dict(session.execute(select(model.id, name)).all())

    called = func.coalesce(Horse.name, Horse.words)
    items = session.execute(select(Item.id, Item.name, Item.size_text))
    return Names(
        speech=practice.speech(session),
        clients=by_number(Client, Client.name),
        yards=by_number(Yard, Yard.name),
        horses=by_number(Horse, called),
        kinds=by_number(HorseType, HorseType.name),
        services=by_number(Service, Service.name),
        farriers=by_number(Farrier, Farrier.name),
        places=by_number(Place, Place.name),
        suppliers=by_number(Supplier, Supplier.name),
        items={number: f"{name} {size}".strip() for number, name, size in items},
    )


def listed(found: list[str | None]) -> str | None:
    """Write names in one cell, each once, in the order they came; those not known are left out."""
    return ", ".join(dict.fromkeys(name for name in found if name)) or None
