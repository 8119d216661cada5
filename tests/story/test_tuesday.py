"""A messy Tuesday, told to the services: every outcome, and the bills cent by cent.

The amounts are worked out by hand with fractions from the price list of the demo, apart from the
code that prices.
"""

import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from fractions import Fraction
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from backoffice import demo, folders, schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.billing.models import Allocation, Payment
from backoffice.clients import queries as who
from backoffice.clients import service as clients
from backoffice.clients.models import Client, Horse, HorseFlag
from backoffice.db import Database
from backoffice.stock.models import Item, OnHand, StockUse
from backoffice.tools import queries as tools
from backoffice.tools.models import Tool, ToolEvent
from backoffice.visits import queries as visits
from backoffice.visits import service
from backoffice.visits.models import (
    HorseState,
    Material,
    NextTime,
    PriceLine,
    Pricing,
    Result,
    Visit,
    Wears,
    Work,
)
from backoffice.visits.rules import FactSort, Said
from backoffice.words import Speech
from tests.conftest import empty_practice

TUESDAY, WEDNESDAY = date(2026, 3, 17), date(2026, 3, 18)
TRIM, FRONTS, AGREED, FULL, DRAFT_TRIM = 5_800, 12_000, 11_995, 17_500, 10_500
CALL_OUT = Fraction(4_500, 9)


class Day:
    """The Tuesday of the demo practice, and what is said about it."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self.said = 0
        self.before: dict[str, int] = {}
        scenario = tomllib.loads((folders.demo() / "practice.toml").read_text(encoding="utf-8"))
        demo.Builder(database, scenario, lambda _: None).run()
        with database.reading() as session:
            horses = session.execute(sa.select(Horse.name, Horse.id)).all()
            people = session.execute(sa.select(Client.name, Client.id)).all()
        self.horses = {name: number for name, number in horses if name}
        self.clients = {name: number for name, number in people if name}

    def visit_of(self, session: Session, horse: str) -> int:
        return self.work(session, horse).visit_id

    def work(self, session: Session, horse: str, day: date = TUESDAY) -> Work:
        return session.scalars(
            sa.select(Work)
            .join(Visit, Visit.id == Work.visit_id)
            .where(Visit.day == day, Work.horse_id == self.horses[horse])
            .execution_options(populate_existing=True)
        ).one()

    def tell(self, horse: str, sort: FactSort, **data: Any) -> None:
        self.tell_all([(horse, sort, data)])

    def tell_all(self, said: list[tuple[str, FactSort, dict[str, Any]]]) -> None:
        with self.database.writing() as unit:
            for horse, sort, data in said:
                self.said += 1
                fact = Said(
                    id=f"tuesday-{self.said}",
                    subject=str(self.horses[horse]),
                    sort=sort,
                    data=data,
                )
                service.say(unit.session, self.visit_of(unit.session, horse), [fact])
        assert schema.check(self.database) == []

    def tell_stop(self, horse: str, sort: FactSort, **data: Any) -> None:
        with self.database.writing() as unit:
            self.said += 1
            fact = Said(id=f"tuesday-{self.said}", subject="", sort=sort, data=data)
            service.say(unit.session, self.visit_of(unit.session, horse), [fact])

    def do(self, act: Callable[[Session], Any]) -> Any:
        with self.database.writing() as unit:
            found = act(unit.session)
        assert schema.check(self.database) == []
        return found


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def day(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Day]:
    """The Tuesday of the demo practice, written up and closed; read only."""
    folder = tmp_path_factory.mktemp("tuesday")
    with empty_practice(request.param, request, folder) as database:
        day = Day(database)
        day.before = _ready(day)
        _everything(day)
        assert day.do(lambda session: billing.close_day(session, TUESDAY, today=TUESDAY)) == 12
        yield day


def _everything(day: Day) -> None:
    with day.database.reading() as session:
        clipped = session.scalars(
            sa.select(Item.id).where(Item.name == "Steel front shoe, side clips")
        ).one()
        nail = session.scalars(sa.select(Item.id).where(Item.name == "City head nail")).one()
        stand = session.scalars(sa.select(Tool.id).where(Tool.sort == "stand")).one()
        knife = session.scalars(sa.select(Tool.id).where(Tool.name == "Right-hand knife")).one()
        livery = day.visit_of(session, "Marigold")
    lost = {"done": "reset", "shoe": clipped, "nail": nail, "nails": 6, "lost": "found"}
    day.tell("Old Boy", FactSort.FEET, feet={"LF": lost})
    day.tell("Nutmeg", FactSort.PAYERS, parts=[[day.clients["Jory Penhallow"], 1]])
    paid = {"amount": 18_800, "tip": 200, "method": "cash", "receipt": "412"}
    day.tell("Bracken", FactSort.PAID, client=None, **paid)
    day.tell("Tansy", FactSort.ABSENT)
    left = {"done": "not_done"}
    day.tell("Falconer", FactSort.FEET, feet={"LH": left, "RH": left})
    subject = day.do(
        lambda session: service.extra_horse(
            session, livery, "Sarah's new bay, by the wash bay", service_id=1, say_price=TRIM
        )
    )
    rest = ["Marigold", "Kestrel", "Quicksilver", "Nutmeg", "Larkspur", "Pippin", "Bracken", "Duke"]
    day.tell_all([(horse, FactSort.AS_PLANNED, {}) for horse in rest])
    day.do(
        lambda session: service.say(
            session, livery, [Said(id="bay", subject=subject, sort=FactSort.AS_PLANNED)]
        )
    )
    day.do(
        lambda session: clients.flag(
            session, day.horses["Falconer"], "other", "frightened behind", TUESDAY
        )
    )
    day.tell_stop("Duke", FactSort.TOOL, tool=stand, what="slipped")
    day.tell_stop("Duke", FactSort.TOOL, tool=knife, what="went_dull")
    day.tell_stop("Old Boy", FactSort.ODOMETER, out=41_210, **{"in": 41_264})


def _ready(day: Day) -> dict[str, int]:
    with day.database.reading() as session:
        return {
            bill.client or "": bill.totals.payable
            for bill in bills.ready_bills(session, includes_tax=False)
        }


def _texts(day: Day, client: str) -> list[str]:
    with day.database.reading() as session:
        (bill,) = bills.ready_bills(session, includes_tax=False, client_id=day.clients[client])
        return [line.text(Speech()) for line in bill.lines]


def _cents(amount: Fraction) -> int:
    assert amount.denominator == 1
    return int(amount)


def test_six_bills_are_ready_cent_by_cent(day: Day) -> None:
    ready = {name: owes for name, owes in _ready(day).items() if name not in day.before}

    half = Fraction(AGREED, 2)
    odd, even = half + Fraction(1, 2), half - Fraction(1, 2)
    fronts_alone = Fraction(FRONTS) - Fraction(TRIM, 2)
    assert ready == {
        "Isolde Fenwright": _cents(odd + CALL_OUT / 2),
        "Bram Quillory": _cents(even + CALL_OUT / 2),
        "Jory Penhallow": _cents(TRIM + 11_200 + 2 * CALL_OUT),
        "Sabra Thistlewood": _cents(TRIM + FRONTS + 2 * CALL_OUT),
        "Corin Wavering": _cents(fronts_alone + CALL_OUT),
        "Gorse Hollow Training": _cents(6_000 + FRONTS + 2 * CALL_OUT),
        "Piers Undermoor": DRAFT_TRIM,
    }
    assert ready["Isolde Fenwright"] == 6_248
    assert ready["Sabra Thistlewood"] == 18_800
    assert ready["Corin Wavering"] == 9_600
    assert _texts(day, "Corin Wavering") == [
        "Full set, only the feet that were done",
        "Trip fee",
    ]


def test_the_lost_shoe_is_free_under_guarantee_and_moves_no_due_day(day: Day) -> None:
    with day.database.reading() as session:
        work = day.work(session, "Old Boy")
        (line,) = session.scalars(
            sa.select(PriceLine).join(Pricing).where(Pricing.work_id == work.id)
        ).all()
        assert (line.quoted, line.waived, line.reason) == (0, 3_500, "price.guarantee")
        assert line.facts == '{"day": 9, "of": 14}'
        used = session.execute(
            sa.select(Item.sort, Material.qty)
            .join(Item, Item.id == Material.item_id)
            .where(Material.work_id == work.id, Material.waste == 0)
        ).all()
        assert [tuple(row) for row in used] == [("nail", 6)]
        assert session.get_one(HorseState, day.horses["Old Boy"]).due_day == date(2026, 4, 19)
        assert session.get_one(NextTime, day.horses["Old Boy"]).service_id == 2
        assert "Nell Ombersley" not in _ready(day)


def test_the_fronts_are_charged_now_and_the_old_hinds_stay_on(day: Day) -> None:
    with day.database.reading() as session:
        falconer = day.work(session, "Falconer")
        assert falconer.outcome == "part"
        assert visits.work_charged(session, falconer.id) == 9_100
        worn = session.scalars(
            sa.select(Wears.foot).where(Wears.horse_id == day.horses["Falconer"])
        ).all()
        assert sorted(worn) == ["LF", "LH", "RF", "RH"]  # the old hinds are still on
        state = session.get_one(HorseState, day.horses["Falconer"])
        assert state.due_day == TUESDAY
        (flag,) = session.scalars(sa.select(HorseFlag).where(HorseFlag.note == "frightened behind"))
        assert flag.from_day == TUESDAY


def test_who_was_not_there_pays_nothing_and_nobody_else_pays_it(day: Day) -> None:
    with day.database.reading() as session:
        tansy = day.work(session, "Tansy")
        (line,) = session.scalars(
            sa.select(PriceLine).join(Pricing).where(Pricing.work_id == tansy.id)
        ).all()
        assert (line.sort, line.quoted, line.waived) == ("travel", 0, 500)
        charged = session.scalars(
            sa.select(sa.func.sum(PriceLine.quoted))
            .join(Pricing)
            .join(Work, Work.id == Pricing.work_id)
            .where(Work.visit_id == tansy.visit_id, PriceLine.sort == "travel")
        ).one()
        assert charged == 4_000  # eight of nine parts
        rebook = visits.to_rebook(session, TUESDAY)
        assert [horse.name for horse in rebook] == ["Tansy"]


def test_the_three_lists_name_one_horse_each(day: Day) -> None:
    with day.database.reading() as session:
        finish = [horse.name for horse in visits.to_finish(session)]
        find_out = [(found.sort, found.words) for found in visits.to_find_out(session)]
    assert finish == ["Falconer"]
    assert find_out == [("payer", "Sarah's new bay, by the wash bay")]


def test_the_owner_pays_this_once_and_the_rule_stays(day: Day) -> None:
    trainer, nutmeg = day.clients["Gorse Hollow Training"], day.horses["Nutmeg"]
    with day.database.reading() as session:
        work = day.work(session, "Nutmeg")
        paid_by = session.scalars(
            sa.select(Result.client_id).where(Result.work_id == work.id)
        ).all()
        assert paid_by == [day.clients["Jory Penhallow"]]
        assert who.payers_on(session, [nutmeg], WEDNESDAY)[nutmeg] == ((trainer, 1),)


def test_the_stand_is_to_be_looked_at_and_the_knife_is_dull(day: Day) -> None:
    with day.database.reading() as session:
        said = session.execute(
            sa.select(Tool.name, ToolEvent.sort)
            .join(Tool, Tool.id == ToolEvent.tool_id)
            .where(ToolEvent.sort.in_(("slipped", "went_dull")))
            .order_by(ToolEvent.id)
        ).all()
        assert [tuple(row) for row in said] == [
            ("Foot stand", "slipped"),
            ("Right-hand knife", "went_dull"),
        ]
        stand = next(t for t in tools.tool_list(session, TUESDAY) if t.name == "Foot stand")
        assert stand.trouble == "look_first"


def test_the_miles_of_the_day_are_shared_by_how_far_each_yard_is(day: Day) -> None:
    with day.database.reading() as session:
        drives = session.execute(
            sa.select(Visit.drive, Visit.drive_told)
            .where(Visit.day == TUESDAY)
            .order_by(Visit.place_no)
        ).all()
        # 54 miles at 72.5 cents: 3,915 by 6, 11 and 16 miles from home.
        assert [tuple(row) for row in drives] == [(712, True), (1_305, True), (1_898, True)]
        shared = session.scalars(
            sa.select(sa.func.sum(Result.drive)).where(Result.day == TUESDAY)
        ).one()
        assert shared == 54 * 725 // 10


def test_what_client_owner_and_payer_pay_sums_to_the_cent(day: Day) -> None:
    with day.database.reading() as session:
        lines = session.scalars(
            sa.select(sa.func.sum(PriceLine.net))
            .join(Pricing)
            .join(Work, (Work.id == Pricing.work_id) & (Work.pricing_no == Pricing.no))
            .join(Visit, Visit.id == Work.visit_id)
            .where(Visit.day == TUESDAY)
        ).one()
        results = session.scalars(
            sa.select(sa.func.sum(Result.net)).where(Result.day == TUESDAY)
        ).one()
    assert lines == results
    assert lines == AGREED + 3 * TRIM + 6_000 + 2 * FRONTS + 11_200 + 9_100 + DRAFT_TRIM + 8 * 500


def test_the_days_after(day: Day) -> None:
    """The bill is paid by the cash, a size is put right under it, and the hinds are finished.

    These steps change the day, so they come last and in one.
    """
    document = _cash_before_any_bill_pays_it_and_the_tip_is_apart(day)
    _the_size_is_put_right_and_the_bill_stays(day, document)
    _the_hinds_are_charged_at_the_finish(day)


def _cash_before_any_bill_pays_it_and_the_tip_is_apart(day: Day) -> int:
    sabra = day.clients["Sabra Thistlewood"]
    with day.database.reading() as session:
        payment = session.scalars(sa.select(Payment).where(Payment.receipt == "412")).one()
        assert (payment.client_id, payment.amount, payment.tip) == (sabra, 18_800, 200)
        (ready,) = bills.ready_bills(session, includes_tax=False, client_id=sabra)
    new = billing.NewBill(client_id=sabra, expected=ready.totals.payable)
    document = day.do(lambda session: billing.issue(session, new, today=TUESDAY))
    with day.database.reading() as session:
        card = bills.bill_card(session, document)
        assert card is not None
        assert card.line.open == 0
        settled = session.scalars(
            sa.select(Allocation.amount).where(Allocation.document_id == document)
        ).all()
        assert settled == [18_800]
        assert bills.owed(session, [sabra])[sabra] == 0
    return int(document)


def _the_size_is_put_right_and_the_bill_stays(day: Day, document: int) -> None:
    with day.database.reading() as session:
        bracken = day.work(session, "Bracken")
        visit_id, work_id = bracken.visit_id, bracken.id
        items = {
            size: session.scalars(
                sa.select(Item.id).where(Item.name == "Steel riding shoe", Item.size_text == size)
            ).one()
            for size in ("0", "00")
        }
        before = {size: _on_hand(session, item) for size, item in items.items()}
        hash_before = bills.bill_card(session, document)
        cost = session.scalars(sa.select(Result.material).where(Result.work_id == work_id)).one()
    wore = {"done": "new", "shoe": items["00"], "nails": 6}
    with day.database.reading() as session:
        nail = session.scalars(sa.select(Item.id).where(Item.name == "City head nail")).one()
    said = Said(
        id="wednesday",
        subject=str(day.horses["Bracken"]),
        sort=FactSort.FEET,
        data={"feet": {foot: {**wore, "nail": nail} for foot in ("LF", "RF")}},
    )
    day.do(lambda session: billing.put_right(session, visit_id, [said], today=WEDNESDAY))
    with day.database.reading() as session:
        after = {size: _on_hand(session, item) for size, item in items.items()}
        assert after == {"0": before["0"] + 2, "00": before["00"] - 2}
        worn = session.scalars(
            sa.select(Wears.shoe_item_id).where(
                Wears.horse_id == day.horses["Bracken"], Wears.foot.in_(("LF", "RF"))
            )
        ).all()
        assert worn == [items["00"], items["00"]]
        undone = session.scalars(
            sa.select(sa.func.count()).select_from(StockUse).where(StockUse.undoes_id.is_not(None))
        ).one()
        assert undone > 0
        now = session.scalars(sa.select(Result.material).where(Result.work_id == work_id)).one()
        assert now != cost  # a size 00 was bought at another price
        assert bills.bill_card(session, document) == hash_before


def _the_hinds_are_charged_at_the_finish(day: Day) -> None:
    with day.database.reading() as session:
        work_id = day.work(session, "Falconer").id
    week = date(2026, 3, 24)
    day.do(lambda session: service.plan_finish(session, work_id, week, today=WEDNESDAY))
    with day.database.reading() as session:
        finish = day.work(session, "Falconer", week)
        visit_id = finish.visit_id
        assert (finish.finishes_id, finish.booked, finish.travel) == (work_id, 8_400, 0)
    said = Said(id="finish", subject=str(day.horses["Falconer"]), sort=FactSort.AS_PLANNED)
    day.do(lambda session: service.say(session, visit_id, [said]))
    day.do(lambda session: billing.close_day(session, week, today=week))
    with day.database.reading() as session:
        finish = day.work(session, "Falconer", week)
        assert visits.work_charged(session, finish.id) == FULL - 9_100
        assert visits.to_finish(session) == ()
        assert "Full set, the rest of it" in _texts(day, "Corin Wavering")
        state = session.get_one(HorseState, day.horses["Falconer"])
        assert state.due_day == date(2026, 4, 28)  # six weeks after the fronts


def _on_hand(session: Session, item: int) -> int:
    return session.scalars(sa.select(sa.func.sum(OnHand.qty)).where(OnHand.item_id == item)).one()
