"""Money and bills in the browser: ready, collecting, issued at once, fixed, taken back for good."""

import re
from datetime import date
from html import unescape

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.billing import queries, service
from backoffice.billing.models import Document, Payment
from backoffice.clients import service as clients
from backoffice.clients.rules import ClientDetails, HorseDetails
from backoffice.daybook.models import Entry
from backoffice.db import Database
from backoffice.visits import service as works
from backoffice.visits.rules import FactSort
from backoffice.web.forms import new_key
from tests.factories import OPENED, Small, plan, said, small_practice
from tests.web.browser import Browser
from tests.web.furnished import questions

DAY = date(2026, 3, 17)
# The bay costs 58.00 and 5.00 of the trip, the shared horse the same, half of it each.
OWNER, OTHER = 9_450, 3_150


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with two horses done and closed today."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        visit = plan(unit.session, made, DAY, made.bay, made.shared, service=made.trim)
        done = [said(horse, FactSort.AS_PLANNED) for horse in (made.bay, made.shared)]
        works.say(unit.session, visit, done)
        service.close_day(unit.session, DAY, today=DAY)
    return made


def edit(database: Database, client_id: int, **more: object) -> None:
    with database.writing() as unit:
        name = "Wenna Harrow" if client_id == 1 else "Corbin Ash"
        details = ClientDetails(name=name, version=1, **more)  # type: ignore[arg-type]
        clients.save_client(unit.session, details, client_id)


def text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def shown(client: Browser) -> str:
    """The amounts the money page would issue."""
    found = re.search(r'name="expected"[^>]*value="([^"]*)"', client.get("/money").text)
    assert found is not None
    return found[1]


def issue_all(client: Browser, **more: str) -> None:
    sent = {"expected": shown(client), "first_no": "1007"} | more
    assert client.post("/money/issue-all", sent).status_code == 303


def documents(database: Database) -> list[int]:
    with database.reading() as session:
        return list(session.scalars(sa.select(Document.no).order_by(Document.id)))


def broken(database: Database) -> list[str]:
    return [found.code for found in schema.check(database)]


def test_ready_bills_stand_apart_from_those_that_collect(
    client: Browser, small: Small, database: Database
) -> None:
    edit(database, small.other, bill_when="monthly")

    page = client.get("/money").text

    assert shown(client) == f"{small.owner}:{OWNER}"
    assert "Issue this bill: $94.50" in page
    assert "until Tuesday, March 31, 2026" in page
    assert (
        "Collecting until Tuesday, March 31, 2026" in client.get(f"/bills/ready/{small.other}").text
    )


def test_money_in_hand_stands_beside_the_bill_it_pays(
    client: Browser, small: Small, database: Database
) -> None:
    for who, amount in ((small.owner, 6_300), (small.other, OTHER)):
        with database.writing() as unit:
            paid = service.NewPayment(
                client_id=who, amount=amount, tip=0, method="cash", day=DAY, receipt=f"R4{who}"
            )
            service.record_payment(unit.session, paid)

    page = client.get("/money").text

    assert f"$63.00 in hand, receipt R4{small.owner}" in page
    assert f"Paid already: $31.50 in hand, receipt R4{small.other}" in page


def test_a_ready_bill_says_what_is_left_to_pay_after_what_is_in_hand(
    client: Browser, small: Small, database: Database
) -> None:
    path = f"/bills/ready/{small.owner}"
    page = text(client.get(path).text)
    assert "To pay $94.50" in page
    assert "in hand" not in page
    for amount, tip, receipt in ((5_000, 700, "R41"), (1_000, 0, None)):
        with database.writing() as unit:
            paid = service.NewPayment(
                client_id=small.owner, amount=amount, tip=tip, method="cash", day=DAY,
                receipt=receipt,
            )  # fmt: skip
            service.record_payment(unit.session, paid)

    page = text(client.get(path).text)

    assert "The bill $94.50 Already in hand, receipt R41 -$60.00 Left to pay $34.50" in page
    assert "A tip of $7.00 came beside it and pays nothing of the bill." in page
    assert "To pay" not in page


def test_what_is_in_hand_beyond_a_bill_waits_for_the_next(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        paid = service.NewPayment(
            client_id=small.owner, amount=10_000, tip=0, method="cash", day=DAY
        )
        service.record_payment(unit.session, paid)

    page = text(client.get(f"/bills/ready/{small.owner}").text)

    assert "Already in hand -$94.50 Left to pay $0.00" in page
    assert "$5.50 more is in hand and waits for the next bill." in page
    assert "tip" not in page


def test_all_ready_bills_are_issued_with_one_press_and_once(
    client: Browser, small: Small, database: Database
) -> None:
    assert "Issue all 2 bills: $126.00" in client.get("/money").text
    key, expected = new_key(), shown(client)
    sent = {"expected": expected, "first_no": "1007", "form_key": key}
    answers = [client.post("/money/issue-all", sent) for _ in range(2)]

    assert [answer.location for answer in answers] == ["/bills/from/1007/to/1008"] * 2
    assert documents(database) == [1007, 1008]
    assert broken(database) == []


def test_if_one_bill_changed_none_is_issued_and_the_page_says_which(
    client: Browser, small: Small, database: Database
) -> None:
    expected = shown(client)
    with database.writing() as unit:
        works.reprice_work(unit.session, 1, told=7_000, today=DAY)
    answer = client.post("/money/issue-all", {"expected": expected, "first_no": "1007"})

    assert answer.status_code == 409
    assert "The bill of Wenna Harrow changed since you looked" in answer.text
    assert documents(database) == []


@pytest.mark.parametrize("expected", ["1", "1:x", "1:100 2", "9" * 40, "1:-5"])
def test_amounts_nobody_was_shown_issue_nothing(
    client: Browser, small: Small, database: Database, expected: str
) -> None:
    answer = client.post("/money/issue-all", {"expected": expected, "first_no": "1"})

    assert answer.status_code == 422
    assert documents(database) == []


def test_issuing_all_asks_for_the_first_number_once(
    client: Browser, small: Small, database: Database
) -> None:
    answer = client.post("/money/issue-all", {"expected": shown(client), "first_no": ""})

    assert answer.status_code == 409
    assert "Choose the number of your first bill" in answer.text
    issue_all(client)
    assert "Number of your first bill" not in client.get("/money").text


def test_the_bills_just_made_are_listed_with_paper_and_texts(
    client: Browser, small: Small, database: Database
) -> None:
    edit(database, small.owner, bill_how="text", phone="(207) 555-0142")
    issue_all(client)

    page = client.get("/bills/from/1007/to/1008").text

    assert "Bills 1007 to 1008" in page
    assert (
        "Hello Wenna Harrow, your bill 1007 for Bramble, Tolliver comes to $94.50, to be paid"
        " by Tue, Mar 17, 2026. Thank you."
    ) in page
    assert "sms:2075550142?body=Hello%20Wenna" in page
    assert page.count("<textarea") == 1
    assert "/bills/2/bill.pdf" in page
    assert client.get("/bills/from/5/to/6").status_code == 404


def test_the_text_of_a_paid_bill_asks_for_nothing(
    client: Browser, small: Small, database: Database
) -> None:
    edit(database, small.other, bill_how="text")
    with database.writing() as unit:
        paid = service.NewPayment(
            client_id=small.other, amount=OTHER, tip=0, method="cash", day=DAY
        )
        service.record_payment(unit.session, paid)
    issue_all(client)

    page = client.get("/bills/from/1007/to/1008").text

    assert "your bill 1008 for Tolliver comes to $31.50 and is paid. Thank you." in page
    assert "sms:" not in page


def test_a_fix_that_would_change_another_bill_offers_to_fix_both(
    client: Browser, small: Small, database: Database
) -> None:
    issue_all(client)
    with database.writing() as unit:
        parts = [(small.owner, 2), (small.other, 1)]
        clients.set_payers(unit.session, small.shared, DAY, parts)

    answer = client.post("/bills/1/fix")

    assert answer.status_code == 409
    assert "Corbin Ash pays a part too, and what bill 1008 asks for it would change" in answer.text
    assert "Fix this bill and bill 1008 together" in answer.text
    offered = re.search(r'name="also"[^>]*value="([^"]*)"', answer.text)
    assert offered is not None
    assert offered[1].split() == ["2"]
    assert client.post("/bills/1/fix", {"also": offered[1]}).status_code == 303
    assert "ready to be billed anew" in client.get("/money").text
    with database.reading() as session:
        found = queries.ready_bills(session, includes_tax=False)
    assert {bill.client_id: bill.totals.payable for bill in found} == {
        small.owner: 6_300 + 3_867 + 334,
        small.other: 1_933 + 166,
    }
    assert broken(database) == []


@pytest.mark.parametrize("also", ["x", "99", "1 1", "-1"])
def test_other_bills_that_cannot_be_meant_take_nothing_back_twice(
    client: Browser, small: Small, database: Database, also: str
) -> None:
    issue_all(client)
    client.post("/bills/1/fix", {"also": also})

    assert documents(database) in ([1007, 1008], [1007, 1008, 1])
    assert broken(database) == []


def test_the_page_after_a_fix_says_what_comes_next_and_leads_there(
    client: Browser, small: Small, database: Database
) -> None:
    issue_all(client)
    key = new_key()
    answer = client.post("/bills/1/fix", {"form_key": key})
    page = client.get(answer.location).text

    said_there = text(page)
    assert "These are ready to be billed again: say who pays, or change the price, then issue." in (
        said_there
    )
    # The half of the shared horse that Corbin Ash pays stands on a bill of his.
    assert "Bramble Tue, Mar 17, 2026 · Wenna Harrow" in said_there
    assert "Tolliver Tue, Mar 17, 2026 · Wenna Harrow" in said_there
    for link in (
        "/horse-record/1", "/horse-record/1/who-pays", "/horse-record/2/price",
        f"/bills/ready/{small.owner}",
    ):  # fmt: skip
        assert f'href="{link}"' in page
    assert "Open the bill ready for Wenna Harrow" in page
    assert "ready to be billed again" not in client.get("/bills/2").text

    client.post("/horse-record/1/who-pays", {"client": str(small.other), "lasts": "once"})
    assert "Bramble Tue, Mar 17, 2026 · Corbin Ash" in text(client.get(answer.location).text)
    assert f'href="/bills/ready/{small.other}"' in client.get(answer.location).text
    for who in (small.owner, small.other):
        ready = re.search(
            r'name="expected"[^>]*value="([^"]*)"', client.get(f"/bills/ready/{who}").text
        )
        assert ready is not None
        client.post(f"/bills/ready/{who}", {"expected": ready[1]})
    assert "ready to be billed again" not in client.get(answer.location).text
    assert broken(database) == []


def test_one_horse_alone_and_without_a_known_payer_is_ready_again_too(
    client: Browser, small: Small, database: Database
) -> None:
    issue_all(client)
    with database.writing() as unit:
        for horse in (small.bay, small.shared):
            clients.set_payers(unit.session, horse, OPENED, [])
    also = {"also": "2"}

    page = client.get(client.post("/bills/1/fix", also).location).text

    assert "Bramble Tue, Mar 17, 2026 · Who pays is not known yet." in text(page)
    assert "Open the bill ready" not in page


def test_the_page_after_taking_back_for_good_makes_nothing_ready(
    client: Browser, small: Small, database: Database
) -> None:
    issue_all(client)
    answer = client.post("/bills/1/take-back", {"reason": "A gift"})

    assert "ready to be billed again" not in client.get(answer.location).text


def test_a_bill_is_taken_back_for_good_after_a_page_that_asks_why(
    client: Browser, small: Small, database: Database
) -> None:
    issue_all(client)
    page = client.get("/bills/1").text
    assert "Fix this bill: take it back and make it ready again" in page
    assert "Take it back for good: nothing will be asked for this work" in page
    assert "Nothing will be asked for this work" in client.get("/bills/1/take-back").text

    refused = client.post("/bills/1/take-back", {"reason": " "})
    assert refused.status_code == 422
    key = new_key()
    sent = {"reason": "The horse died", "form_key": key}
    answers = [client.post("/bills/1/take-back", sent) for _ in range(2)]

    assert [answer.location for answer in answers] == ["/bills/3", "/bills/3"]
    assert "The horse died" in client.get("/bills/3").text
    assert client.get("/bills/3/bill.pdf").data.startswith(b"%PDF-")
    with database.reading() as session:
        assert queries.ready_bills(session, includes_tax=False) == ()
        assert "credit" in session.scalars(sa.select(Entry.sort)).all()
    assert client.get("/bills/1/take-back").status_code == 409
    assert client.get("/bills/3/take-back").status_code == 409
    assert client.post("/bills/1/take-back", {"reason": "Again"}).status_code == 409
    assert broken(database) == []


def paid_at_the_yard(database: Database, small: Small, **more: object) -> None:
    """Money said with the shared horse after the day was closed, and taken in there."""
    data = {"client": None, "amount": 3_150, "tip": 0, "method": "cash", "receipt": "412"} | more
    fact = said(small.shared, FactSort.PAID, "given", **data)
    with database.writing() as unit:
        service.put_right(unit.session, 1, [fact], today=DAY)


def test_who_paid_is_asked_and_answered(client: Browser, small: Small, database: Database) -> None:
    paid_at_the_yard(database, small)
    page = client.get("/payments/who/given").text
    assert "$31.50, cash, Tuesday, March 17, 2026, Tolliver, receipt 412" in page
    assert "Amount paid" not in page
    assert client.post("/payments/who/given", {"client": ""}).status_code == 422

    answer = client.post("/payments/who/given", {"client": str(small.other)})

    assert answer.status_code == 303
    with database.reading() as session:
        (found,) = session.execute(sa.select(Payment.client_id, Payment.fact_id)).all()
    assert tuple(found) == (small.other, "given")
    assert client.get("/payments/who/given").status_code == 409
    assert broken(database) == []


def test_how_much_is_asked_where_nobody_wrote_it_down(
    client: Browser, small: Small, database: Database
) -> None:
    paid_at_the_yard(database, small, amount=None)
    assert "Amount paid" in client.get("/payments/who/given").text
    sent = {"client": str(small.other)}
    assert client.post("/payments/who/given", sent).status_code == 422

    assert client.post("/payments/who/given", sent | {"amount": "31.50"}).status_code == 303

    with database.reading() as session:
        assert session.scalars(sa.select(Payment.amount)).all() == [3_150]


def test_money_asks_the_same_number_of_questions_for_many_clients(
    client: Browser, small: Small, database: Database
) -> None:
    few = questions(client, database, "/money")
    with database.writing() as unit:
        horses = []
        for n in range(12):
            details = HorseDetails(name=f"Horse {n}", type_id=small.stock_horse, yard_id=small.yard)
            horse = clients.save_horse(unit.session, details)
            who = clients.save_client(
                unit.session, ClientDetails(name=f"Client {n}", bill_how="text")
            )
            clients.set_payers(unit.session, horse, OPENED, [(who, 1)])
            paid = service.NewPayment(
                client_id=who, amount=100, tip=0, method="cash", day=DAY, receipt=str(n)
            )
            service.record_payment(unit.session, paid)
            horses.append(horse)
        visit = plan(unit.session, small, DAY, *horses, service=small.trim)
        done = [said(horse, FactSort.AS_PLANNED, f"more-{horse}") for horse in horses]
        works.say(unit.session, visit, done)
        service.close_day(unit.session, DAY, today=DAY)

    assert questions(client, database, "/money") == few
    issue_all(client)
    assert questions(client, database, "/bills/from/1007/to/1020") <= 8
