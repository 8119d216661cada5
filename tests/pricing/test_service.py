"""Services, prices, agreements, sales tax and recipes, on both engines."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseTypeDetails
from backoffice.db import Database, Session
from backoffice.errors import Refused
from backoffice.pricing import queries, service
from backoffice.pricing.models import Price
from backoffice.pricing.rules import Dated, RecipePart, ServiceDetails, TaxRule
from backoffice.stock.models import Item
from backoffice.words import CATALOGUE

JANUARY, TODAY = date(2026, 1, 1), date(2026, 3, 17)
FRONTS = ServiceDetails(name="Fronts + trim hinds", front="new", minutes=55, place_no=2)


def offered(session: Session, details: ServiceDetails = FRONTS) -> int:
    return service.save_service(session, details)


def kind(session: Session, name: str = "Draft horse") -> int:
    return clients.save_horse_type(session, HorseTypeDetails(name=name))


def client(session: Session, name: str = "Ada Marsh") -> int:
    return clients.save_client(session, ClientDetails(name=name))


def item(session: Session) -> int:
    row = Item(
        sort="pad", name="Leather pad", size_text="M", size_key="3:M", pattern="either", pack=2,
        care="", supplier_id=None, hidden=False,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return row.id


def amount(session: Session, day: date, *about: Any) -> int | None:
    found = queries.price_book(session, day).price_of(*about)
    return found.amount if found else None


def test_the_price_in_force_on_the_day_is_the_newest_that_has_begun(both: Database) -> None:
    with both.writing() as unit:
        fronts, draft = offered(unit.session), kind(unit.session)
        for year, any_kind in ((2024, 10_800), (2025, 11_400), (2026, 12_000)):
            service.set_price(unit.session, fronts, None, date(year, 1, 1), any_kind)
        service.set_price(unit.session, fronts, draft, JANUARY, 23_000)
    with both.reading() as session:
        assert amount(session, date(2023, 12, 31), fronts, None, ()) is None
        assert amount(session, date(2024, 12, 31), fronts, None, ()) == 10_800
        assert amount(session, date(2025, 1, 1), fronts, draft, ()) == 11_400
        assert amount(session, TODAY, fronts, None, ()) == 12_000
        assert amount(session, TODAY, fronts, draft, ()) == 23_000


def test_a_price_said_twice_for_a_day_is_replaced(both: Database) -> None:
    with both.writing() as unit:
        fronts, draft = offered(unit.session), kind(unit.session)
        service.set_price(unit.session, fronts, None, JANUARY, 12_000)
        service.set_price(unit.session, fronts, draft, JANUARY, 23_000)
    with both.writing() as unit:
        service.set_price(unit.session, fronts, None, JANUARY, 12_500)
    with both.reading() as session:
        rows = session.execute(sa.select(Price.type_id, Price.amount).order_by(Price.id)).all()
        assert rows == [(None, 12_500), (draft, 23_000)]


def test_an_agreed_price_begins_and_ends_on_its_days(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        fronts, ada, zoe = offered(session), client(session), client(session, "Zoe")
        service.set_price(session, fronts, None, date(2020, 1, 1), 12_000)
        service.agree_price(session, ada, fronts, JANUARY, 11_000)
        service.agree_price(session, ada, fronts, date(2026, 3, 1), 10_000, until_day=TODAY)
    with both.reading() as session:
        agreed = queries.price_book(session, TODAY).price_of(fronts, None, (ada,))
        assert agreed is not None
        assert (agreed.amount, agreed.reason, agreed.facts) == (
            10_000, "price.agreed", {"from_day": "2026-03-01"},
        )  # fmt: skip
        assert amount(session, TODAY, fronts, None, (zoe,)) == 12_000
        assert amount(session, date(2025, 12, 31), fronts, None, (ada,)) == 12_000
        assert amount(session, TODAY + timedelta(days=1), fronts, None, (ada,)) == 11_000
        assert [(a.service_name, a.amount) for a in queries.agreed_with(session, ada)] == [
            ("Fronts + trim hinds", 10_000),
            ("Fronts + trim hinds", 11_000),
        ]


def test_an_agreement_said_twice_for_its_first_day_is_replaced(both: Database) -> None:
    with both.writing() as unit:
        fronts, ada = offered(unit.session), client(unit.session)
        service.agree_price(unit.session, ada, fronts, JANUARY, 11_000, until_day=TODAY)
        service.agree_price(unit.session, ada, fronts, JANUARY, 10_500)
    with both.reading() as session:
        (agreed,) = queries.agreed_with(session, ada)
        assert (agreed.amount, agreed.until_day) == (10_500, None)


def test_sales_tax_in_force_on_the_day_is_the_newest_that_has_begun(both: Database) -> None:
    with both.writing() as unit:
        service.set_tax(unit.session, "goods", JANUARY, "S", 60_000)
        service.set_tax(unit.session, "goods", date(2026, 7, 1), "S", 71_250)
        service.set_tax(unit.session, "labour", JANUARY, "E", 0)
        service.set_tax(unit.session, "goods", JANUARY, "S", 62_500)
    with both.reading() as session:
        before, now, later = (
            queries.price_book(session, day).taxes["goods"]
            for day in (date(2025, 12, 31), TODAY, date(2026, 7, 1))
        )
        assert before == TaxRule(category="O", rate_ppm=0)
        assert now == TaxRule(category="S", rate_ppm=62_500)
        assert later == TaxRule(category="S", rate_ppm=71_250)
        assert queries.price_book(session, TODAY).taxes["travel"] == TaxRule(category="E")
        assert [(t.tax_kind, t.rate_ppm) for t in queries.tax_lines(session)] == [
            ("goods", 71_250), ("goods", 62_500), ("labour", 0),
        ]  # fmt: skip


def test_sales_tax_that_ended_leaves_the_newest_category(both: Database) -> None:
    with both.writing() as unit:
        service.set_tax(unit.session, "labour", JANUARY, "S", 200_000)
        service.set_tax(unit.session, "labour", date(2026, 3, 1), "O", 0)
    with both.reading() as session:
        assert queries.price_book(session, TODAY).taxes["labour"] == TaxRule(category="O")


def test_a_recipe_is_set_changed_and_taken_away(both: Database) -> None:
    with both.writing() as unit:
        fronts, pad = offered(unit.session), item(unit.session)
        service.set_recipe(unit.session, fronts, pad, 1, "horse")
        service.set_recipe(unit.session, fronts, pad, 2, "shod_foot")
    with both.reading() as session:
        part = RecipePart(item=pad, qty=2, per_foot=True)
        assert queries.price_book(session, TODAY).recipes == {fronts: (part,)}
        (named,) = queries.recipes(session)[fronts]
        assert (named.item_name, named.qty, named.per) == ("Leather pad", 2, "shod_foot")
    with both.writing() as unit:
        service.set_recipe(unit.session, fronts, pad, 0, "horse")
        service.set_recipe(unit.session, fronts, pad, 0, "horse")
    with both.reading() as session:
        assert queries.recipes(session) == {}


def test_the_price_list_shows_services_offered_and_kinds_in_use(both: Database) -> None:
    with both.writing() as unit:
        session = unit.session
        fronts, trim = offered(session), offered(session, ServiceDetails(name="Trim", place_no=1))
        offered(session, ServiceDetails(name="Old", hidden=True))
        draft, pony = kind(session), kind(session, "Pony")
        service.set_price(session, fronts, None, JANUARY, 12_000)
        service.set_price(session, fronts, draft, JANUARY, 23_000)
        service.set_price(session, fronts, pony, date(2027, 1, 1), 10_800)
    with both.reading() as session:
        table = queries.price_table(session, TODAY)
        assert table.types == ((draft, "Draft horse"), (pony, "Pony"))
        assert [row.service.id for row in table.rows] == [trim, fronts]
        assert table.rows[0].any_kind is None
        assert table.rows[1].any_kind == Dated(amount=12_000, from_day=JANUARY)
        assert table.rows[1].own == {draft: Dated(amount=23_000, from_day=JANUARY)}
        assert len(queries.services_by_id(session)) == 3


def test_the_price_book_asks_the_same_five_statements_however_much_there_is(
    database: Database,
) -> None:
    with database.writing() as unit:
        kind(unit.session)
        asked: list[str] = []
        sa.event.listen(
            database.writer, "before_cursor_execute", lambda *about: asked.append(about[2])
        )
        queries.price_book(unit.session, TODAY)
        few = len(asked)
        for number in range(6):
            made = offered(unit.session, ServiceDetails(name=f"Service {number}"))
            service.set_price(unit.session, made, None, JANUARY, 100 * number)
            service.agree_price(unit.session, client(unit.session), made, JANUARY, 50)
        unit.session.expire_all()
        asked.clear()
        queries.price_book(unit.session, TODAY)

    assert few == len(asked) == 5


def test_the_second_of_two_people_to_save_a_service_is_told(both: Database) -> None:
    with both.writing() as unit:
        fronts = offered(unit.session)
    with both.reading() as session:
        seen = queries.service_details(session, fronts)
        assert seen == replace(FRONTS, version=seen.version)
    with both.writing() as unit:
        service.save_service(unit.session, replace(seen, minutes=50), fronts)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_service(unit.session, replace(seen, minutes=60), fronts)
    with both.reading() as session:
        assert queries.services(session)[0].minutes == 50


@pytest.mark.parametrize(
    ("wrong", "code", "field"),
    [
        ({"name": " "}, "text.needed", "name"),
        ({"name": "Fronts + trim hinds"}, "name.taken", "name"),
        ({"front": "polish"}, "choice.unknown", "front"),
        ({"hind": "not_done"}, "choice.unknown", "hind"),
        ({"minutes": -1}, "count.negative", "minutes"),
        ({"minutes": 1_441}, "count.too_large", "minutes"),
        ({"place_no": -1}, "count.negative", "place_no"),
    ],
)
def test_a_service_that_cannot_be_meant_is_refused_beside_its_field(
    database: Database, wrong: dict[str, Any], code: str, field: str
) -> None:
    with database.writing() as unit:
        offered(unit.session)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_service(unit.session, replace(ServiceDetails(name="Trim"), **wrong))
    assert (refused.value.code, refused.value.field) == (code, field)


@pytest.mark.parametrize(
    ("setter", "about", "code", "field"),
    [
        ("set_price", (1, None, JANUARY, -1), "money.negative", "amount"),
        ("set_price", (1, None, JANUARY, 10**11), "money.too_large", "amount"),
        ("set_price", (9, None, JANUARY, 1), "choice.unknown", "service_id"),
        ("set_price", (1, None, date(206, 1, 1), 1), "day.far_off", ""),
        ("agree_price", (1, 1, JANUARY, -1), "money.negative", "amount"),
        ("agree_price", (1, 9, JANUARY, 1), "choice.unknown", "service_id"),
        ("set_tax", ("air", JANUARY, "S", 1), "choice.unknown", "tax_kind"),
        ("set_tax", ("goods", JANUARY, "X", 1), "choice.unknown", "category"),
        ("set_tax", ("goods", JANUARY, "S", 0), "price.rate_needed", "rate_ppm"),
        ("set_tax", ("goods", JANUARY, "E", 1), "price.no_rate_here", "rate_ppm"),
        ("set_tax", ("goods", JANUARY, "S", 1_000_001), "count.too_large", "rate_ppm"),
        ("set_recipe", (1, 1, -1, "horse"), "count.negative", "qty"),
        ("set_recipe", (1, 1, 1, "yard"), "choice.unknown", "per"),
        ("set_recipe", (9, 1, 1, "horse"), "choice.unknown", "service_id"),
    ],
)
def test_what_cannot_be_meant_is_refused_beside_its_field(
    database: Database, setter: str, about: tuple[Any, ...], code: str, field: str
) -> None:
    with database.writing() as unit:
        offered(unit.session)
        client(unit.session)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        getattr(service, setter)(unit.session, *about)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert code in CATALOGUE["us"]


def test_an_agreement_cannot_end_before_it_begins(database: Database) -> None:
    with database.writing() as unit:
        fronts, ada = offered(unit.session), client(unit.session)
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.agree_price(
            unit.session, ada, fronts, TODAY, 1, until_day=TODAY - timedelta(days=1)
        )
    assert (refused.value.code, refused.value.field) == ("price.ends_before", "until_day")


def test_a_service_there_is_not_is_refused(database: Database) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        queries.service_details(session, 9)
