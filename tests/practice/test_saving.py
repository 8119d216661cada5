"""Whatever is typed into the business, a place or a farrier comes back, or is refused by name."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy.orm import Session

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import queries, service
from backoffice.practice.rules import FarrierDetails, PlaceDetails, PracticeDetails
from backoffice.words import Speech

HOSTILE = (
    "\u202eQuill\u200fhaven", "<script>alert(1)</script>", "{{ 7*7 }}{% raw %}{0}",
    "=HYPERLINK(1)", "'; DROP TABLE place; --", "\"'><b>", "🐴\u200d Zoë", "x" * 200,
)  # fmt: skip


def save_farrier(session: Session, details: FarrierDetails, id: int | None = None) -> int:
    if id is None:
        truck = service.save_place(session, PlaceDetails(name="Truck A"))
        details = replace(details, place_id=truck)
    return service.save_farrier(session, details, id)


KINDS: dict[str, tuple[Any, Callable[..., int], Callable[[Session, int], Any]]] = {
    "practice": (
        PracticeDetails(name="Marlpit Forge"),
        service.save_practice,
        lambda session, id: queries.practice(session),
    ),
    "place": (PlaceDetails(name="Truck A"), service.save_place, queries.place),
    "farrier": (FarrierDetails(name="Idris", place_id=1), save_farrier, queries.farrier),
}


@pytest.mark.parametrize("kind", KINDS)
def test_strange_text_comes_back_as_it_was_typed(both: Database, kind: str) -> None:
    details, save, read = KINDS[kind]
    with both.writing() as unit:
        made = save(unit.session, details)
    for version, text in enumerate(HOSTILE, 1):
        with both.writing() as unit:
            save(unit.session, replace(details, name=text, version=version), made)
        with both.reading() as session:
            kept = read(session, made)
            assert (kept.name, kept.version) == (text, version + 1)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("text", "code"), [("a\0b", "text.control"), ("x" * 10_000, "text.too_long")]
)
def test_text_that_cannot_be_kept_is_refused_beside_its_field(
    database: Database, kind: str, text: str, code: str
) -> None:
    details, save, _ = KINDS[kind]
    with pytest.raises(Refused) as refused, database.writing() as unit:
        save(unit.session, replace(details, name=text))

    assert (refused.value.code, refused.value.field) == (code, "name")
    assert Speech().say(code, **refused.value.facts)


@pytest.mark.parametrize("kind", KINDS)
def test_the_second_of_two_people_on_one_page_is_told(both: Database, kind: str) -> None:
    details, save, read = KINDS[kind]
    with both.writing() as unit:
        made = save(unit.session, details)
    with both.reading() as session:
        seen = read(session, made)
    with both.writing() as unit:
        save(unit.session, replace(seen, name="The first"), made)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        save(unit.session, replace(seen, name="The second"), made)
    with both.reading() as session:
        assert read(session, made).name == "The first"


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("country", "", "text.needed"),
        ("country", "USA", "choice.unknown"),
        ("email", "a@b\nBcc: c@d", "text.control"),
        ("phone", "5" * 201, "text.too_long"),
        ("address", "x" * 4_001, "text.too_long"),
        ("how_to_pay", "a\x1bb", "text.control"),
        ("tax_number", "a\0b", "text.control"),
    ],
)
def test_each_field_of_the_business_speaks_for_itself(
    database: Database, field: str, value: str, code: str
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_practice(unit.session, replace(PracticeDetails(), **{field: value}))

    assert (refused.value.code, refused.value.field) == (code, field)


@pytest.mark.parametrize(
    ("details", "code", "field"),
    [
        (PlaceDetails(name=" "), "text.needed", "name"),
        (PlaceDetails(name="Truck", sort="boat"), "choice.unknown", "sort"),
    ],
)
def test_a_place_needs_a_name_and_is_a_truck_or_the_shop(
    database: Database, details: PlaceDetails, code: str, field: str
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_place(unit.session, details)

    assert (refused.value.code, refused.value.field) == (code, field)


@pytest.mark.parametrize("read", [queries.place, queries.farrier])
def test_what_is_not_there_is_refused(
    database: Database, read: Callable[[Session, int], object]
) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        read(session, 99)
