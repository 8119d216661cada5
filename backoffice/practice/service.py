"""Setting up the business, its trucks and its farriers, and saving records in general."""

from typing import Any, TypeVar
from zoneinfo import available_timezones

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from backoffice.db import Base, Numbered, Versioned
from backoffice.errors import Refused
from backoffice.money import MINOR_UNITS
from backoffice.practice import rules
from backoffice.practice.models import Farrier, Place, Practice, Setting
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails

R = TypeVar("R", bound=Versioned)


def save_record(
    session: Session, model: type[R], record_id: int | None, version: int | None, **values: Any
) -> int:
    """Write a new record, or what was changed in one; give its number.

    Raises: Refused if it is gone, or was changed since the version that was edited.
    """
    if record_id is None:
        row = model(**values)
        session.add(row)
    else:
        found = session.get(model, record_id, with_for_update=True)
        if found is None:
            raise Refused("record.missing")
        row = found
        if row.version != version:
            raise Refused("changed.meanwhile")
        for name, value in values.items():
            setattr(row, name, value)
    session.flush()
    return row.id


def must_exist(session: Session, model: type[Base], row_id: int | None, field: str) -> None:
    """Refuse the number of a row that is not there; None is not known yet."""
    if row_id is not None and session.get(model, row_id) is None:
        raise Refused("choice.unknown", field=field)


def must_be_free(
    session: Session, model: type[Numbered], same: ColumnElement[bool], name: str, own: int | None
) -> None:
    """Refuse a name that another record has."""
    taken = session.scalar(select(model.id).where(same).limit(1))
    if taken is not None and taken != own:
        raise Refused("name.taken", field="name", name=name)


def save_practice(session: Session, details: PracticeDetails, id: int | None = None) -> int:
    """Set the business up, or change its details."""
    country = rules.needed(details.country, "country").upper()
    if not (len(country) == 2 and country.isascii() and country.isalpha()):
        raise Refused("choice.unknown", field="country")
    if details.zone not in available_timezones():
        raise Refused("choice.unknown", field="zone")
    if id is None and session.get(Practice, 1) is not None:
        id = 1
    values: dict[str, object] = {
        "name": rules.line(details.name, "name") or "",
        "address": rules.note(details.address, "address") or "",
        "phone": rules.line(details.phone, "phone") or "",
        "email": rules.line(details.email, "email") or "",
        "how_to_pay": rules.note(details.how_to_pay, "how_to_pay") or "",
        "country": country,
        "currency": rules.choice(details.currency, tuple(MINOR_UNITS), "currency"),
        "zone": details.zone,
        "words": rules.choice(details.words, ("us", "uk"), "words"),
        "paper": rules.choice(details.paper, ("us-letter", "a4"), "paper"),
        "prices_include_tax": details.prices_include_tax,
        "tax_number": rules.line(details.tax_number, "tax_number") or "",
        "demo_today": details.demo_today,
    }
    if id is None:
        values["id"] = 1
    return save_record(session, Practice, id, details.version, **values)


def change_setting(session: Session, name: str, value: int) -> None:
    """Set a setting to the farrier's own value.

    Raises: Refused for a setting there is not, and a value that cannot be meant.
    """
    rules.known_setting(name, value)
    row = session.scalar(select(Setting).where(Setting.name == name).with_for_update())
    if row is None:
        session.add(Setting(name=name, value=value))
    else:
        row.value = value
    session.flush()


def save_place(session: Session, details: PlaceDetails, id: int | None = None) -> int:
    """Save a truck or the shop."""
    name = rules.needed(details.name, "name")
    sort = rules.choice(details.sort, ("truck", "shop"), "sort")
    must_be_free(session, Place, Place.name == name, name, id)
    return save_record(
        session, Place, id, details.version, name=name, sort=sort, hidden=details.hidden
    )


def save_farrier(session: Session, details: FarrierDetails, id: int | None = None) -> int:
    """Save someone who does horses.

    Raises: Refused without the truck he usually drives.
    """
    name = rules.needed(details.name, "name")
    if details.place_id is None:
        raise Refused("choice.unknown", field="place_id")
    must_exist(session, Place, details.place_id, "place_id")
    pay = details.day_pay
    return save_record(
        session,
        Farrier,
        id,
        details.version,
        name=name,
        sort=rules.choice(details.sort, ("farrier", "apprentice"), "sort"),
        day_pay=None if pay is None else rules.amount(pay, "day_pay"),
        place_id=details.place_id,
        hidden=details.hidden,
    )
