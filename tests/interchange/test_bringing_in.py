"""A practice's own records brought in: all or nothing, each thing once, and due from then on."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.clients import queries as clients
from backoffice.clients import service as client_service
from backoffice.clients.rules import ClientDetails
from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.interchange.rules.brought import (
    Brought,
    BroughtClient,
    BroughtHorse,
    BroughtJob,
    BroughtOwed,
    BroughtPrice,
    BroughtShoe,
    BroughtSpending,
    BroughtStock,
    BroughtTool,
    BroughtYard,
    Cell,
    Doubt,
)
from backoffice.interchange.rules.report import Report, Tally
from backoffice.interchange.service import bring_in, things
from backoffice.pricing import queries as pricing
from backoffice.units import Foot
from backoffice.visits import queries as visits
from tests.factories import small_practice

TODAY = date(2026, 3, 17)
JANUARY, FEBRUARY = date(2026, 1, 20), date(2026, 2, 24)


def at(sheet: str, row: int, column: int = 1) -> Cell:
    return Cell(sheet, row, column)


def job(row: int, day: date, horse: str, client: str, what: str, **more: object) -> BroughtJob:
    ends = {"trim": ("trim", "trim"), "full set": ("new", "new"), "fronts": ("new", "trim")}
    fronts, hinds = ends[what]
    return BroughtJob(
        at=at("jobs", row), day=day, horse=horse, client=client, what=what, fronts=fronts,
        hinds=hinds, **more,  # type: ignore[arg-type]
    )  # fmt: skip


FRONTS = tuple(BroughtShoe(foot, "0", nails="5 city") for foot in (Foot.LF, Foot.RF))
BOOK = Brought(
    clients=(
        BroughtClient(
            at=at("clients", 2), name="Orla Fenwright", phone="555 0100", bill_when="monthly"
        ),
        BroughtClient(at=at("clients", 3), name="Rufus Umberfold", terms_days=15),
    ),
    yards=(BroughtYard(at=at("clients", 2, 4), name="Kestrel Edge", miles=14),),
    horses=(
        BroughtHorse(
            at=at("horses", 2), name="Onyx", clients=(("Orla Fenwright", 1),),
            yard="Kestrel Edge", kind="QH", like="stock", cycle_days=42, wears=FRONTS,
            flags=(("kicks", "KICKS behind left"),), notes="ducks",
        ),
        BroughtHorse(
            at=at("horses", 3), name="Onyx", yard="Kestrel Edge", kind="grade",
            clients=(("Rufus Umberfold", 2), ("Orla Fenwright", 1)),
            usual="trim", fronts="trim", hinds="trim", last_day=FEBRUARY,
        ),
        BroughtHorse(at=at("horses", 4), name="Rook"),
    ),
    prices=(
        BroughtPrice(at=at("prices", 2), service="Trim", amount=6_000, fronts="trim",
                     hinds="trim", from_day=date(2026, 2, 1)),
        BroughtPrice(at=at("prices", 3), service="Full set", amount=34_000, fronts="new",
                     hinds="new", kind="Draft", like="draft"),
        BroughtPrice(at=at("prices", 4), service="Reset 4", amount=16_400, fronts="reset",
                     hinds="reset"),
        BroughtPrice(at=at("prices", 5), service="Pads, pair", amount=2_600),
    ),
    stock=(
        BroughtStock(at=at("stock", 2), sort="shoe", name="Steel shoe", size="0", truck=62, shop=80,
                     pack=20, cost=1_050, cost_for=2, supplier="Northgate Tackle"),
        BroughtStock(at=at("stock", 3), sort="nail", name="Nails", size="5 city", truck=375,
                     pack=250, cost=2_250, cost_for=250, supplier="Northgate Tackle"),
        BroughtStock(at=at("stock", 4), sort="other", name="Copper sulphate"),
    ),
    tools=(
        BroughtTool(at=at("tools", 2), sort="hammer", name="Hammer", price=9_500,
                    bought=date(2024, 5, 1), notes="new handle"),
    ),
    jobs=(
        job(2, JANUARY, "Onyx", "Orla Fenwright", "full set", amount=17_500, paid=17_500),
        job(3, FEBRUARY, "Onyx", "Orla Fenwright", "fronts", amount=12_000, paid=2_000),
    ),
    spending=(
        BroughtSpending(at=at("out", 2), day=JANUARY, supplier="Fuel stop", what="diesel",
                        amount=6_150, paid_by="card"),
        BroughtSpending(at=at("out", 3), day=JANUARY, supplier="Fuel stop", what="diesel",
                        amount=6_150, paid_by="card"),
        BroughtSpending(at=at("out", 4), day=FEBRUARY, supplier=None, what="phone", amount=4_000),
    ),
    owed=(
        BroughtOwed(at=at("jobs", 3, 6), client="Orla Fenwright", reference="jobs, row 3",
                    amount=10_000, day=FEBRUARY),
    ),
)  # fmt: skip


def brought_in(database: Database, book: Brought = BOOK) -> Report:
    with database.writing() as unit:
        report = bring_in(unit.session, book, today=TODAY)
    assert schema.check(database) == []
    return report


def rows(database: Database) -> dict[str, int]:
    """How many rows each table has."""
    with database.reading() as session:
        return {
            name: session.scalar(sa.select(sa.func.count()).select_from(table)) or 0
            for name, table in schema.TABLES.items()
        }


@pytest.fixture
def small(both: Database) -> Database:
    """A small practice, to which the workbook comes."""
    with both.writing() as unit:
        small_practice(unit.session)
    return both


def test_everything_comes_in_and_is_told_by_sheet(small: Database) -> None:
    report = brought_in(small)

    assert [(line.sheet, line.kind, line.new, line.known) for line in report.taken] == [
        ("clients", "client", 2, 0),
        ("clients", "yard", 1, 0),
        ("horses", "horse", 3, 0),
        ("horses", "job", 1, 0),
        ("prices", "price", 3, 0),
        ("stock", "item", 3, 0),
        ("tools", "tool", 1, 0),
        ("jobs", "job", 2, 0),
        ("jobs", "owed", 1, 0),
        ("out", "spending", 3, 0),
    ]
    assert {(note.at.address, note.code) for note in report.notes} == {
        ("A5", "bring.left_out.extra"),
        ("A4", "bring.changed.service_made"),
        ("A2", "bring.left_out.tool_note"),
    }
    assert dict(report.waits) == {
        "bring.wait.count": ("Copper sulphate",),
        "bring.wait.payer": ("Rook",),
        "bring.wait.yard": ("Rook",),
        "bring.wait.kind": ("Onyx", "Rook"),
        "bring.wait.last_done": ("Rook",),
        "bring.wait.how_paid": ("phone",),
    }


def test_past_jobs_make_horses_due_and_say_what_they_wear(small: Database) -> None:
    brought_in(small)

    with small.reading() as session:
        due = {
            (horse.name, horse.last_day, horse.due_day)
            for horse in visits.due_list(session, date(2026, 5, 1))
        }
        found = clients.horse_list(session, TODAY, search="onyx")
        past = [visits.horse_past(session, horse.id) for horse in found.rows]
    # 42 days after February 24; the kind of the other is not known, and so is its round.
    assert ("Onyx", FEBRUARY, date(2026, 4, 7)) in due
    wears = [[(foot.foot, foot.size) for foot in one.wears if foot.size] for one in past]
    assert sorted(wears) == [[], [("LF", "0"), ("RF", "0")]]
    services = [[line.service_name for line in one.works] for one in past]
    assert sorted(services) == [["Fronts + trim hinds", "Full set"], ["Trim"]]


def test_who_pays_how_to_handle_and_what_it_costs_are_known(small: Database) -> None:
    brought_in(small)

    with small.reading() as session:
        two = clients.horse_list(session, TODAY, search="onyx").rows
        payers = clients.payers_on(session, [horse.id for horse in two], TODAY)
        names = {id: card.name for card in clients.client_list(session).rows for id in [card.id]}
        shares = sorted(
            [(names[client or 0], part) for client, part in parts] for parts in payers.values()
        )
        assert shares == [
            [("Orla Fenwright", 1)],
            [("Rufus Umberfold", 2), ("Orla Fenwright", 1)],
        ]
        book = pricing.price_book(session, TODAY)
        listed = {
            (book.services[service].name, kind is not None): dated.amount
            for (service, kind), dated in book.listed.items()
        }
    assert listed["Trim", False] == 6_000
    assert listed["Full set", True] == 34_000
    assert listed["Reset 4", False] == 16_400


def test_the_shelf_begins_with_what_was_counted_at_what_it_cost(small: Database) -> None:
    brought_in(small)

    with small.reading() as session:
        held = session.execute(
            sa.text(
                "SELECT item.name, place.name, on_hand.qty, lot_left.cost FROM on_hand"
                " JOIN item ON item.id = on_hand.item_id JOIN place ON place.id = on_hand.place_id"
                " LEFT JOIN lot_left ON lot_left.item_id = on_hand.item_id"
                " AND lot_left.place_id = on_hand.place_id"
                " WHERE item.name IN ('Steel shoe', 'Nails', 'Copper sulphate')"
                " ORDER BY item.id, place.id"
            )
        ).all()
    # 62 singles at 10.50 a pair are 325.50; 375 nails at 22.50 a box of 250 are 33.75.
    assert held == [
        ("Steel shoe", "Truck A", 62, 32_550), ("Steel shoe", "Shop", 80, 42_000),
        ("Nails", "Truck A", 375, 3_375), ("Nails", "Shop", 0, None),
        ("Copper sulphate", "Truck A", 0, None), ("Copper sulphate", "Shop", 0, None),
    ]  # fmt: skip


def test_what_is_owed_stands_among_the_open_bills_and_a_payment_settles_it(
    small: Database,
) -> None:
    brought_in(small)

    with small.reading() as session:
        (owed,) = bills.open_bills(session)
        assert (owed.client, owed.sort, owed.open) == ("Orla Fenwright", "opening", 10_000)
    with small.writing() as unit:
        paid = billing.NewPayment(
            client_id=owed.client_id, amount=10_000, tip=0, method="cash", day=TODAY
        )
        billing.record_payment(unit.session, paid)
    with small.reading() as session:
        assert bills.open_bills(session) == ()
        assert bills.owed(session, [owed.client_id]) == {owed.client_id: 0}
    assert schema.check(small) == []


def test_twice_is_once(small: Database) -> None:
    brought_in(small)
    before = rows(small)

    again = brought_in(small)

    assert again.new == 0
    assert sum(line.known for line in again.taken) == 19
    assert rows(small) == before


def _mended_job(book: Brought) -> Brought:
    extra = job(4, date(2026, 3, 3), "Onyx", "Rufus Umberfold", "trim", amount=5_800)
    return replace(book, jobs=(*book.jobs, extra))


def _mended_client(book: Brought) -> Brought:
    extra = BroughtClient(at=at("clients", 9), name="Hetty Inglefold")
    return replace(book, clients=(*book.clients, extra))


def _mended_owed(book: Brought) -> Brought:
    extra = BroughtOwed(at=at("jobs", 9), client="Rufus Umberfold", reference="12", amount=1)
    return replace(book, owed=(*book.owed, extra))


@pytest.mark.parametrize(
    ("mend", "grown"),
    [
        (_mended_job, {"visit": 1, "work": 1, "foot": 4}),
        (_mended_client, {"client": 1}),
        (
            _mended_owed,
            {"entry": 1, "document": 1, "document_line": 1, "document_tax": 1, "particulars": 1,
             "receivable": 1, "balance": 1},
        ),
    ],
)  # fmt: skip
def test_of_a_mended_workbook_only_what_is_new_is_added(
    small: Database, mend: Callable[[Brought], Brought], grown: dict[str, int]
) -> None:
    brought_in(small)
    before = rows(small)

    report = brought_in(small, mend(BOOK))

    after = rows(small)
    assert {name: after[name] - before[name] for name in after if after[name] != before[name]} == (
        grown
    )
    assert report.new == 1


def test_what_is_here_stays_and_only_what_was_not_known_is_filled_in(small: Database) -> None:
    with small.writing() as unit:
        details = ClientDetails(name="ORLA Fenwright", phone="555 0199", bill_when="weekly")
        orla = client_service.save_client(unit.session, details)

    brought_in(
        small,
        replace(BOOK, clients=(replace(BOOK.clients[0], email="o@example.org"), BOOK.clients[1])),
    )

    with small.reading() as session:
        kept = clients.client_card(session, orla, TODAY).details
    assert (kept.name, kept.phone, kept.email, kept.bill_when) == (
        "ORLA Fenwright", "555 0199", "o@example.org", "weekly",
    )  # fmt: skip


def test_who_pays_is_filled_in_where_nobody_was_known(small: Database) -> None:
    brought_in(small)
    mended = replace(BOOK.horses[2], clients=(("Orla Fenwright", 1),))

    brought_in(small, replace(BOOK, horses=(*BOOK.horses[:2], mended)))

    with small.reading() as session:
        (rook,) = clients.horse_list(session, TODAY, search="rook").rows
        payers = clients.payers_on(session, [rook.id], TODAY)
    assert [part for _, part in payers[rook.id]] == [1]
    assert payers[rook.id][0][0] is not None


def test_a_fault_in_the_middle_leaves_nothing(
    small: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = rows(small)

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("the power went")

    for name in ("bring_owed", "bring_spending", "bring_jobs", "bring_tools"):
        with monkeypatch.context() as patch:
            patch.setattr(f"backoffice.interchange.service.bringing_in.{name}", broken)
            with pytest.raises(RuntimeError), small.writing() as unit:
                bring_in(unit.session, BOOK, today=TODAY)
        assert rows(small) == before


def test_with_a_question_left_nothing_is_brought_in(small: Database) -> None:
    before = rows(small)
    asked = replace(BOOK, doubts=(Doubt(code="read.doubt.shoes", option="shoes"),))

    with pytest.raises(Refused, match=r"bring\.doubts"), small.writing() as unit:
        bring_in(unit.session, asked, today=TODAY)

    assert rows(small) == before


def test_what_is_to_come_is_left_out_and_named(small: Database) -> None:
    tomorrow = date(2026, 3, 18)
    late = job(7, tomorrow, "Onyx", "Orla Fenwright", "trim")
    spent = replace(BOOK.spending[0], day=tomorrow)

    report = brought_in(small, replace(BOOK, jobs=(late,), spending=(spent,)))

    assert [note.at.address for note in report.left_out if "to_come" in note.code] == ["A7", "A2"]


def test_without_anybody_who_works_nothing_is_brought_in(database: Database) -> None:
    with pytest.raises(Refused, match=r"bring\.nobody_works"), database.writing() as unit:
        bring_in(unit.session, BOOK, today=TODAY)


def test_many_jobs_are_kept_in_several_goes_and_the_last_shoeing_still_says_what_is_worn(
    small: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backoffice.interchange.service.past.AT_ONCE", 1)
    told: list[tuple[str, int]] = []
    with small.writing() as unit:
        bring_in(unit.session, BOOK, today=TODAY, progress=lambda *said: told.append(said))
    assert ("job", 2) in told

    with small.reading() as session:
        found = clients.horse_list(session, TODAY, search="onyx").rows
        past = visits.past_of(session, [horse.id for horse in found])
    shod = {
        (foot.day, foot.foot.value)
        for feet in past.values()
        for foot in feet
        if foot.state.shoe is not None
    }
    assert shod == {(FEBRUARY, "LF"), (FEBRUARY, "RF")}
    assert schema.check(small) == []


def test_a_kit_without_such_tools_shares_its_work_among_those_brought(small: Database) -> None:
    tools = tuple(
        BroughtTool(at=at("tools", row), sort="nippers", name=f"Nippers {row}") for row in (2, 3, 4)
    )
    brought_in(small, replace(BOOK, tools=tools))

    with small.reading() as session:
        shares = session.scalars(sa.text("SELECT share FROM tool WHERE sort = 'nippers'")).all()
    assert sorted(shares) == [333, 333, 334]


def test_work_no_service_does_becomes_a_service_once(small: Database) -> None:
    only_fronts = replace(
        job(9, JANUARY, "Onyx", "Rufus Umberfold", "fronts"),
        what="bar shoes in front",
        hinds="none",
    )
    book = replace(BOOK, jobs=(*BOOK.jobs, only_fronts))

    first = brought_in(small, book)
    before = rows(small)
    again = brought_in(small, book)

    assert [note.value for note in first.changed] == ["Reset 4", "Bar shoes in front"]
    assert (again.new, rows(small)) == (0, before)


def test_the_service_of_some_words_is_the_one_called_so_and_none_without_feet(
    small: Database,
) -> None:
    with small.reading() as session:
        find = things.ServiceOf(session, Tally())
        assert find(at("jobs", 2), "looked at it", None, None) is None
        full = find(at("jobs", 3), "Full set", "new", "new")
        assert find(at("jobs", 2), "set of four", "new", "new") == full
        assert find.called(full, "full  SET")
        assert not find.called(full, "set of four")


def test_shoes_and_nails_are_those_of_the_stock_list_as_far_as_they_are_told_apart(
    small: Database,
) -> None:
    wears = (
        BroughtShoe(Foot.LF, "0", pattern="rim", nails="city"),
        BroughtShoe(Foot.RF, "0", nails="9"),
    )
    report = brought_in(small, replace(BOOK, horses=(replace(BOOK.horses[0], wears=wears),),
                                       jobs=BOOK.jobs[1:], owed=()))  # fmt: skip

    made = [note.value for note in report.changed if note.code != "bring.changed.service_made"]
    assert made == ["Shoe, rim 0", "Nails 9"]
    with small.reading() as session:
        (onyx,) = clients.horse_list(session, TODAY, search="onyx").rows
        worn = visits.wears_of(session, [onyx.id])
        names = dict(
            session.execute(sa.text("SELECT id, name || ' ' || size_text FROM item")).all()
        )
    assert [
        (names[worn[onyx.id, foot].shoe or 0], names[worn[onyx.id, foot].nail or 0])
        for foot in (Foot.LF, Foot.RF)
    ] == [("Shoe, rim 0", "Nails 5 city"), ("Steel shoe 0", "Nails 9")]


def test_a_size_on_feet_that_were_never_shod_is_kept_in_the_notes(small: Database) -> None:
    hinds = tuple(BroughtShoe(foot, "00") for foot in (Foot.LH, Foot.RH))
    horse = replace(BOOK.horses[1], wears=hinds)

    report = brought_in(small, replace(BOOK, horses=(horse,), jobs=(), owed=()))

    with small.reading() as session:
        (onyx,) = clients.horse_list(session, TODAY, search="onyx").rows
        notes = clients.horse_card(session, onyx.id, TODAY).details.notes
    assert notes == "grade\nLH, RH: size 00"
    assert ("A3", "LH, RH: size 00") in {(note.at.address, note.value) for note in report.changed}
