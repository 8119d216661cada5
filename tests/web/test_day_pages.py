"""The pages of the day, of planning, of horses at a visit, of bills and payments."""

from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.billing.models import Document, Payment
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails
from backoffice.db import Database
from backoffice.visits import queries as visits
from backoffice.web.forms import new_key
from tests.factories import Small, plan, small_practice
from tests.web.browser import Browser

DAY = date(2026, 3, 17)
HOSTILE = "<script>alert(1)</script>{{ 7*7 }}'\"><img src=x onerror=alert(2)>\u202e=1+1"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with three horses on today."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        plan(unit.session, made, DAY, made.bay, made.shared, made.stray, service=made.trim)
    return made


def broken(database: Database) -> list[str]:
    return [found.code for found in schema.check(database)]


def close(client: Browser) -> None:
    """Say that all went as planned, and close the day."""
    assert client.post("/day/2026-03-17/rest-as-planned").status_code == 303
    assert client.post("/day/2026-03-17/done").status_code == 303


def ready(database: Database, client_id: int) -> int:
    with database.reading() as session:
        found = bills.ready_bills(session, includes_tax=False, client_id=client_id)
    return found[0].totals.payable


def issue(client: Browser, database: Database, small: Small) -> None:
    expected = str(ready(database, small.owner))
    answer = client.post(
        f"/bills/ready/{small.owner}", {"expected": expected, "first_no": "1", "note": ""}
    )
    assert answer.status_code == 303


def test_a_day_goes_from_planned_to_bills_ready_in_two_presses(
    client: Browser, small: Small, database: Database
) -> None:
    page = client.get("/").text
    assert "Bramble" in page
    assert "The rest as planned" in page

    close(client)

    money = client.get("/money").text
    assert "3 horses written up" in money
    assert "Wenna Harrow" in money
    assert "Who pays?" in money
    assert broken(database) == []


def test_a_tap_sent_twice_counts_once(client: Browser, small: Small, database: Database) -> None:
    key = new_key()
    for _ in range(2):
        assert client.post("/horse-record/1/as-planned", {"fact": key}).status_code == 303

    with database.reading() as session:
        facts = visits.facts_of(session, 1)
    assert [fact.sort for fact in facts if fact.subject == str(small.bay)] == [
        "booked",
        "as_planned",
    ]


def test_done_for_the_day_sent_twice_closes_once(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/day/2026-03-17/rest-as-planned")
    key = new_key()
    answers = [client.post("/day/2026-03-17/done", {"form_key": key}) for _ in range(2)]

    assert [answer.status_code for answer in answers] == [303, 303]
    assert {answer.location for answer in answers} == {"/money"}
    with database.reading() as session:
        entries = session.execute(sa.text("SELECT count(*) FROM entry WHERE sort = 'closing'"))
        assert entries.scalar_one() == 1
    assert broken(database) == []


def test_closing_a_day_on_which_nothing_was_said_says_so(client: Browser, small: Small) -> None:
    answer = client.post("/day/2026-03-17/done")

    assert answer.status_code == 409
    assert "Nothing is left to write up" in answer.text


def feet(small: Small, **changed: str) -> dict[str, str]:
    fields = {"service": str(small.fronts), "note": ""}
    for foot in ("LF", "RF"):
        fields |= {
            f"{foot}-done": "new",
            f"{foot}-shoe": str(small.shoe),
            f"{foot}-nails": "6",
            f"{foot}-nail": str(small.nail),
        }
    for foot in ("LH", "RH"):
        fields |= {f"{foot}-done": "trim"}
    return fields | changed


def test_what_was_done_is_said_foot_by_foot(
    client: Browser, small: Small, database: Database
) -> None:
    answer = client.post("/horse-record/1/feet", feet(small))

    assert answer.status_code == 303
    page = client.get("/horse-record/1").text
    assert "new, 1, 6 nails" in page
    assert broken(database) == []


def test_twenty_six_nails_in_a_shoe_are_asked_back_and_nothing_is_lost(
    client: Browser, small: Small, database: Database
) -> None:
    sent = feet(small, **{"LF-nails": "26", "note": "quarter crack seen, told owner"})
    answer = client.post("/horse-record/1/feet", sent)

    assert answer.status_code == 422
    assert "26 nails in one shoe? 6, perhaps." in answer.text
    assert 'value="26"' in answer.text
    assert "quarter crack seen, told owner" in answer.text
    with database.reading() as session:
        assert visits.works_of(session, 1)[0].outcome == "planned"


def test_a_closed_horse_is_put_right_and_stock_and_price_follow(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    before = client.get("/horse-record/1").text

    assert client.post("/horse-record/1/put-right", feet(small)).status_code == 303

    after = client.get("/horse-record/1").text
    assert "$58.00" in before
    assert "$120.00" in after
    assert "$5.50" in after
    assert broken(database) == []


def test_a_price_told_after_closing_is_on_the_bill(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    owed = ready(database, small.owner)

    assert client.post("/horse-record/1/price", {"told": "70.50"}).status_code == 303

    assert ready(database, small.owner) == owed + 1_250
    assert broken(database) == []


@pytest.mark.parametrize("typed", ["58.505", "-5", "twelve", "", "9" * 30, "5\0"])
def test_a_price_that_cannot_be_meant_is_refused_beside_its_field(
    client: Browser, small: Small, database: Database, typed: str
) -> None:
    answer = client.post("/horse-record/1/price", {"told": typed})

    assert answer.status_code == 422
    assert 'id="told-says"' in answer.text
    with database.reading() as session:
        assert visits.works_of(session, 1)[0].told is None


def test_a_bill_is_issued_opened_paid_and_fixed(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    assert "Number of your first bill" in client.get(f"/bills/ready/{small.owner}").text
    issue(client, database, small)
    pdf = client.get("/bills/1/bill.pdf")
    assert pdf.data.startswith(b"%PDF-")
    assert pdf.headers["Content-Type"] == "application/pdf"
    assert client.post("/bills/1/handed-over").status_code == 303

    paid = {"amount": "20.00", "method": "cash", "day": "2026-03-17", "bill": "1", "tip": "2"}
    key = new_key()
    for _ in range(2):
        sent = client.post(f"/clients/{small.owner}/payment", paid | {"form_key": key})
        assert sent.status_code == 303

    with database.reading() as session:
        assert session.execute(sa.select(Payment.amount, Payment.tip)).all() == [(2_000, 200)]
    assert client.post("/bills/1/fix").status_code == 303
    assert "taken back" in client.get("/bills").text
    assert broken(database) == []


def test_issuing_what_changed_meanwhile_shows_the_bill_again(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    answer = client.post(f"/bills/ready/{small.owner}", {"expected": "1", "first_no": "1"})

    assert answer.status_code == 409
    assert "The bill changed since you looked" in answer.text
    with database.reading() as session:
        assert session.scalars(sa.select(Document.id)).all() == []


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("amount", "1.001"),
        ("amount", "0"),
        ("amount", "-3"),
        ("day", "1026-03-17"),
        ("day", "soon"),
        ("tip", "x"),
        ("receipt", "4\x0012"),
        ("method", "gold"),
    ],
)
def test_a_payment_that_cannot_be_meant_is_refused_and_keeps_what_was_typed(
    client: Browser, small: Small, database: Database, field: str, typed: str
) -> None:
    paid = {"amount": "20.00", "method": "cash", "day": "2026-03-17", "receipt": "R 77"}
    answer = client.post(f"/clients/{small.owner}/payment", paid | {field: typed})

    assert answer.status_code in (409, 422)
    assert "R 77" in answer.text or field == "receipt"
    with database.reading() as session:
        assert session.scalars(sa.select(Payment.id)).all() == []


def test_horses_are_put_on_a_day_by_ticking_them(
    client: Browser, small: Small, database: Database
) -> None:
    page = client.get(f"/plan?yard={small.yard}").text
    assert "Bramble" in page
    sent = {"day": "2026-03-20", "farrier": str(small.farrier), f"h{small.bay}-tick": "y"}

    answer = client.post(f"/plan/{small.yard}", sent)

    assert answer.location == "/day/2026-03-20"
    assert "Bramble" in client.get("/day/2026-03-20").text
    assert broken(database) == []


def test_no_horse_ticked_is_said(client: Browser, small: Small) -> None:
    sent = {"day": "2026-03-20", "farrier": str(small.farrier)}
    answer = client.post(f"/plan/{small.yard}", sent)

    assert answer.status_code == 409
    assert "Tick at least one horse." in answer.text


def test_hostile_names_are_shown_as_text_everywhere(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        clients.save_client(unit.session, ClientDetails(name=HOSTILE, version=1), small.owner)
        details = HorseDetails(
            name=HOSTILE, type_id=small.stock_horse, yard_id=small.yard, version=1
        )
        clients.save_horse(unit.session, details, small.bay)
    client.post("/horse-record/1/feet", feet(small, note=HOSTILE))
    close(client)
    issue(client, database, small)

    for path in ("/", "/money", "/horse-record/1", "/horse-record/1/feet", "/bills/1", "/plan"):
        page = client.get(path).text
        assert "<script>alert" not in page, path
        assert "<img src=x" not in page, path
        assert "49" not in page.partition("{{ 7*7 }}")[0][-20:], path
    assert client.get("/bills/1/bill.pdf").data.startswith(b"%PDF-")


def test_a_day_far_off_is_not_found(client: Browser, small: Small) -> None:
    assert client.get("/day/0026-03-17").status_code == 404
    assert client.get("/day/2026-02-30").status_code == 404


@pytest.mark.parametrize("path", ["/", "/money", "/plan"])
def test_pages_ask_the_same_number_of_questions_for_many_horses(
    client: Browser, small: Small, database: Database, path: str
) -> None:
    few = questions(database, client, path)
    with database.writing() as unit:
        more = [
            clients.save_horse(
                unit.session,
                HorseDetails(name=f"Horse {n}", type_id=small.stock_horse, yard_id=small.yard),
            )
            for n in range(20)
        ]
        for horse in more:
            clients.set_payers(unit.session, horse, date(2026, 1, 5), [(small.owner, 1)])
        plan(unit.session, small, DAY, *more, service=small.trim)
    close(client)

    many = questions(database, client, path)
    assert many <= few + 2
    assert many <= 30


def questions(database: Database, client: Browser, path: str) -> int:
    """Count the statements a page runs."""
    asked: list[str] = []

    def hear(*event: object) -> None:
        asked.append(str(event[2]))

    sa.event.listen(database.reader, "before_cursor_execute", hear)
    assert client.get(path).status_code == 200
    sa.event.remove(database.reader, "before_cursor_execute", hear)
    return len(asked)


def test_a_slip_of_the_thumb_is_undone(client: Browser, small: Small) -> None:
    client.post("/horse-record/1/not-there", {"fact": new_key()})
    assert "Undo: Bramble" in client.get("/").text

    assert client.post("/horse-record/1/undo").status_code == 303

    assert "As planned: Bramble" in client.get("/").text


def test_a_planned_horse_is_taken_off_its_day(
    client: Browser, small: Small, database: Database
) -> None:
    assert client.post("/horse-record/1/take-off").status_code == 303

    assert "Bramble" not in client.get("/").text
    assert client.post("/horse-record/1/take-off").status_code == 404
    assert broken(database) == []


def test_a_bill_without_a_name_on_it_is_not_issued(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    with database.writing() as unit:
        unit.session.execute(sa.text("UPDATE practice SET name = ''"))
    expected = str(ready(database, small.owner))
    sent = {"expected": expected, "first_no": "1", "note": ""}
    answer = client.post(f"/bills/ready/{small.owner}", sent)

    assert answer.status_code == 409
    assert "Write down your business first" in answer.text
