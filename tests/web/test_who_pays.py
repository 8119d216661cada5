"""Who pays for a horse nobody knows yet, filled in as a person does: all fields, all that hides."""

import re
from datetime import date
from html import unescape

import pytest
from flask import Flask

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.clients import queries as clients
from backoffice.clients import service as keeping
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.visits import queries, service
from backoffice.visits.rules import FactSort, Said
from backoffice.words import Speech
from tests.factories import Small, plan, said
from tests.web.browser import Browser
from tests.web.furnished import furnish

DAY = date(2026, 3, 17)
WORDS = "Sarah’s new bay"
STRAY = "/horse-record/3/who-pays"


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """Two horses on today, and one known in words only, done at 58.00 for nobody knows whom."""
    made = furnish(database)
    with database.writing() as unit:
        session = unit.session
        visit = plan(session, made, DAY, made.bay, made.shared, service=made.full)
        x1 = service.extra_horse(session, visit, WORDS, service_id=made.trim, say_price=5_800)
        service.say(session, visit, [Said(id="x", subject=x1, sort=FactSort.AS_PLANNED)])
    return made


def finish_the_day(client: Browser) -> None:
    assert client.post("/day/2026-03-17/rest-as-planned").status_code == 303
    assert client.post("/day/2026-03-17/done").status_code == 303


def fill(client: Browser, path: str, /, **typed: str) -> dict[str, str]:
    """Open a form and fill fields of it; what is hidden in it is sent with them."""
    html = client.get(path).text
    found = re.findall(r'<input[^>]*name="([^"]*)"[^>]*type="hidden"[^>]*value="([^"]*)"', html)
    return dict(found) | typed


def text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def ready(database: Database, name: str) -> int:
    with database.reading() as session:
        found = bills.ready_bills(session, includes_tax=False)
    return sum(bill.totals.payable for bill in found if bill.client == name)


def horse_of(database: Database) -> int | None:
    with database.reading() as session:
        return queries.works_by_id(session, [3])[0].horse_id


def always(database: Database, horse: int) -> list[str]:
    with database.reading() as session:
        names = dict(clients.client_choices(session, Speech()))
        paying = clients.payers_on(session, [horse], DAY)[horse]
    return [names[client] for client, _ in paying if client is not None]


@pytest.mark.parametrize("done_first", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("who", ["known", "new"])
@pytest.mark.parametrize("horse", ["new", "added"])
@pytest.mark.parametrize("lasts", ["always", "once"])
def test_the_horse_is_named_and_the_bill_is_ready_in_one_form(
    client: Browser, small: Small, database: Database,
    done_first: bool, who: str, horse: str, lasts: str,  # noqa: FBT001 (a parameter of the test)
) -> None:  # fmt: skip
    if done_first:
        finish_the_day(client)
    name = "Corbin Ash" if who == "known" else "Sarah Quill"
    payer = {"client": str(small.other)} if who == "known" else {"new_client": name}
    which = {"new_horse": "Juniper"}
    if horse == "added":
        with database.writing() as unit:
            added = keeping.save_horse(unit.session, HorseDetails(name="Juniper"))
        which = {"horse": str(added)}
        assert "Juniper" in client.get(STRAY).text
    before = ready(database, name)

    answer = client.post(STRAY, fill(client, STRAY, lasts=lasts, **payer, **which))

    assert answer.status_code == 303
    page = text(client.get(answer.location).text)
    assert "Juniper" in page
    assert (f"{name} pays." if lasts == "always" else f"{name} pays this once.") in page
    if not done_first:
        finish_the_day(client)
        before = ready(database, name) - 5_800
    assert ready(database, name) == before + 5_800
    made = horse_of(database)
    assert made is not None
    assert always(database, made) == ([name] if lasts == "always" else [])
    assert schema.check(database) == []


@pytest.mark.parametrize("done_first", [False, True], ids=["before", "after"])
def test_who_pays_from_this_day_on_makes_a_card_under_the_words_and_says_so(
    client: Browser, small: Small, database: Database,
    done_first: bool,  # noqa: FBT001 (a parameter of the test)
) -> None:  # fmt: skip
    if done_first:
        finish_the_day(client)
    sent = fill(client, STRAY, lasts="always", new_client="Sarah Quill")

    answer = client.post(STRAY, sent)

    assert f"Saved who pays. {WORDS} has a card of its own now." in text(
        client.get(answer.location).text
    )
    horse = horse_of(database)
    assert horse is not None
    assert always(database, horse) == ["Sarah Quill"]
    with database.reading() as session:
        card = clients.horse_card(session, horse, DAY).details
    assert (card.name, card.words, card.yard_id) == (None, WORDS, small.yard)
    assert schema.check(database) == []


def test_a_horse_in_words_paid_for_once_makes_no_card(
    client: Browser, small: Small, database: Database
) -> None:
    sent = fill(client, STRAY, lasts="once", new_client="Sarah Quill")
    page = text(client.get(client.post(STRAY, sent).location).text)

    assert "Saved who pays." in page
    assert "card of its own now" not in page
    assert "Sarah Quill pays this once." in page
    assert horse_of(database) is None


def test_a_horse_that_is_on_that_stop_already_is_not_offered(client: Browser, small: Small) -> None:
    page = client.get(STRAY).text

    assert ">Stray</option>" in page
    assert ">Bramble</option>" not in page


def test_somebody_who_spoke_meanwhile_is_still_shown_first(
    client: Browser, small: Small, database: Database
) -> None:
    sent = fill(client, STRAY, lasts="always", new_client="Sarah Quill", new_horse="Juniper")
    with database.writing() as unit:
        service.say(unit.session, 1, [Said(id="n", subject="x1", sort=FactSort.NOTE,
                                           data={"text": "thin soles"})])  # fmt: skip

    answer = client.post(STRAY, sent)

    assert answer.status_code == 409
    assert "thin soles" in answer.text
    assert horse_of(database) is None
    again = re.findall(r'name="seen"[^>]*value="([^"]*)"', answer.text)
    assert client.post(STRAY, {**sent, "seen": again[0]}).status_code == 303


@pytest.mark.parametrize(
    ("page", "typed"),
    [
        ("who-pays", {"client": "{other}", "lasts": "once"}),
        ("price", {"told": "50"}),
    ],
)
def test_a_bill_in_the_way_is_named_with_a_link_to_it(
    client: Browser, small: Small, database: Database, page: str, typed: dict[str, str]
) -> None:
    finish_the_day(client)
    sent = {"expected": str(ready(database, "Wenna Harrow")), "first_no": "70", "note": ""}
    bill = client.post(f"/bills/ready/{small.owner}", sent).location
    path = f"/horse-record/1/{page}"
    filled = {name: value.format(other=small.other) for name, value in typed.items()}

    answer = client.post(path, fill(client, path, **filled))

    assert answer.status_code == 409
    assert "Bill 70 asks Wenna Harrow for this, and it would change." in text(answer.text)
    assert f'href="{bill}#fix"' in answer.text
    assert "Open bill 70 to fix it" in answer.text


def test_a_bill_in_the_way_is_named_on_the_page_of_the_feet(
    client: Browser, small: Small, database: Database
) -> None:
    finish_the_day(client)
    sent = {"expected": str(ready(database, "Wenna Harrow")), "first_no": "70", "note": ""}
    client.post(f"/bills/ready/{small.owner}", sent)
    none = {f"{foot}-done": "trim" for foot in ("LF", "RF", "LH", "RH")}

    answer = client.post("/horse-record/1/put-right", {"service": str(small.trim), **none})

    assert answer.status_code == 409
    assert "Bill 70 asks Wenna Harrow for this, and it would change." in text(answer.text)
    assert "Open bill 70 to fix it" in answer.text


@pytest.mark.parametrize(
    ("path", "sent"),
    [
        ("/horse-record/1/tap", {"what": "absent"}),
        ("/stop/1/late", {"subject": "{bay}", "what": "apply"}),
    ],
)
def test_a_bill_in_the_way_of_one_press_is_named_too(
    client: Browser, small: Small, database: Database, path: str, sent: dict[str, str]
) -> None:
    finish_the_day(client)
    issue = {"expected": str(ready(database, "Wenna Harrow")), "first_no": "70", "note": ""}
    bill = client.post(f"/bills/ready/{small.owner}", issue).location
    with database.writing() as unit:
        service.say(unit.session, 1, [said(small.bay, FactSort.TOLD, "late", say=6_000)])

    answer = client.post(path, {name: value.format(bay=small.bay) for name, value in sent.items()})

    assert answer.status_code == 409
    assert "Bill 70 asks Wenna Harrow" in answer.text
    assert f'href="{bill}#fix"' in answer.text
