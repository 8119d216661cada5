"""The business, its settings, its trucks and its farriers, on both engines."""

from dataclasses import replace

import pytest

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.practice import queries, service
from backoffice.practice.rules import STARTING, FarrierDetails, PlaceDetails, PracticeDetails
from backoffice.words import CATALOGUE


def test_before_it_is_set_up_a_practice_has_words_and_a_currency(both: Database) -> None:
    with both.reading() as session:
        assert queries.practice(session).version is None
        assert queries.speech(session).currency == "USD"
        assert queries.settings(session)["terms_private_days"] == 0


def test_a_practice_comes_back_as_it_was_saved(both: Database) -> None:
    details = replace(STARTING["uk"], name="Marlpit Forge", address="1 Lane\nAverdale")
    with both.writing() as unit:
        assert service.save_practice(unit.session, details) == 1
    with both.reading() as session:
        assert queries.practice(session) == replace(details, version=1)
        assert queries.speech(session).words == "uk"
        assert queries.settings(session)["terms_private_days"] == 14


def test_a_second_first_setup_does_not_overwrite_the_practice(both: Database) -> None:
    with both.writing() as unit:
        service.save_practice(unit.session, PracticeDetails(name="Marlpit Forge"))
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_practice(unit.session, PracticeDetails(name="Another"))
    with both.reading() as session:
        assert queries.practice(session).name == "Marlpit Forge"


@pytest.mark.parametrize(
    ("field", "value"),
    [("country", "U1"), ("currency", "XXX"), ("zone", "Mars/Base"), ("words", "fr"), ("paper", "")],
)
def test_a_practice_with_an_unknown_choice_is_refused(
    database: Database, field: str, value: str
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_practice(unit.session, replace(PracticeDetails(), **{field: value}))

    assert refused.value.field == field


def test_a_changed_setting_holds_and_is_shown_beside_its_default(both: Database) -> None:
    for value in (50_000, 70_000):
        with both.writing() as unit:
            service.change_setting(unit.session, "nail_waste_ppm", value)
    with both.reading() as session:
        assert queries.settings(session)["nail_waste_ppm"] == 70_000
        shown = {line.name: line for line in queries.setting_lines(session)}
        assert (shown["nail_waste_ppm"].value, shown["nail_waste_ppm"].default) == (70_000, 60_000)


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [
        ("no_such", 1, "setting.unknown"),
        ("guarantee_days", -1, "count.negative"),
        ("ground_mud", 0, "count.too_small"),
        ("nail_waste_ppm", 1_000_001, "count.too_large"),
    ],
)
def test_a_setting_that_cannot_be_meant_is_refused(
    database: Database, name: str, value: int, code: str
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.change_setting(unit.session, name, value)

    assert refused.value.code == code
    assert code in CATALOGUE["us"]


def test_places_and_farriers_come_back_as_saved_and_hidden_ones_only_when_asked(
    both: Database,
) -> None:
    with both.writing() as unit:
        truck = service.save_place(unit.session, PlaceDetails(name=" Truck A "))
        shop = service.save_place(unit.session, PlaceDetails(name="Shop", sort="shop", hidden=True))
        idris = service.save_farrier(unit.session, FarrierDetails(name="Idris", place_id=truck))
    with both.reading() as session:
        assert queries.place_choices(session) == ((truck, "Truck A"),)
        assert [line.id for line in queries.places(session, hidden=True)] == [truck, shop]
        assert queries.farriers(session)[0].place_name == "Truck A"
        assert queries.farrier(session, idris).version == 1
        assert queries.farrier_choices(session) == ((idris, "Idris"),)


def test_two_places_cannot_have_one_name_but_a_place_may_keep_its_own(both: Database) -> None:
    with both.writing() as unit:
        truck = service.save_place(unit.session, PlaceDetails(name="Truck A"))
    with pytest.raises(Refused, match=r"name\.taken"), both.writing() as unit:
        service.save_place(unit.session, PlaceDetails(name="Truck A"))
    with both.writing() as unit:
        edited = queries.place(unit.session, truck)
        service.save_place(unit.session, replace(edited, sort="shop"), truck)


@pytest.mark.parametrize("place_id", [None, 99])
def test_a_farrier_without_a_truck_is_refused(database: Database, place_id: int | None) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_farrier(unit.session, FarrierDetails(name="Idris", place_id=place_id))

    assert refused.value.field == "place_id"


def test_the_second_of_two_people_on_one_record_is_told(both: Database) -> None:
    with both.writing() as unit:
        truck = service.save_place(unit.session, PlaceDetails(name="Truck A"))
        read = queries.place(unit.session, truck)
    with both.writing() as unit:
        service.save_place(unit.session, replace(read, name="Truck B"), truck)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_place(unit.session, replace(read, name="Truck C"), truck)
    with pytest.raises(Refused, match=r"record\.missing"), both.writing() as unit:
        service.save_place(unit.session, replace(read, name="Truck D"), 99)
    with both.reading() as session:
        assert queries.place(session, truck).name == "Truck B"
