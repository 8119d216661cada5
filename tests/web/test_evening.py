"""The paper day sheet typed in by line number, and the day closed, by keyboard alone."""

import re
from collections.abc import Callable
from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.books import service as books
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from backoffice.visits import queries as visits
from backoffice.visits import service as works
from backoffice.web.forms import new_key
from tests.factories import Small, plan, small_practice
from tests.web.browser import Browser

DAY = date(2026, 3, 17)
FRIDAY = date(2026, 3, 13)


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with three horses on today: 1 Bramble, 2 Tolliver, 3 Stray."""
    with database.writing() as unit:
        unit.session.execute(sa.text("DELETE FROM practice"))
        made = small_practice(unit.session)
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-17'"))
        plan(unit.session, made, DAY, made.bay, made.shared, made.stray, service=made.fronts)
    return made


def typed(client: Browser, small: Small, text: str, **more: str) -> str:
    """Type into the day's box; give the page that follows."""
    sent = {"farrier": str(small.farrier), "text": text, **more}
    answer = client.post("/day/2026-03-17/evening", sent)
    return client.get(answer.location).text if answer.status_code == 303 else answer.text


def rows(html: str) -> dict[int, str]:
    """Give what each line of the page says, by its number, without its marks."""
    found = {}
    for row in re.findall(r'<li class="typed-row.*?</li>', html, re.DOTALL):
        number = re.search(r'typed-no">(\d+)<', row)
        assert number
        words = re.sub(r"<[^>]*>", " ", row.split('class="typed-says"')[1].partition(">")[2])
        found[int(number[1])] = " ".join(words.split())
    return found


def outcomes(database: Database) -> list[str]:
    with database.reading() as session:
        sheet = visits.sheets(session, DAY)[0]
    return [line.outcome for stop in sheet.stops for line in stop.lines]


def broken(database: Database) -> list[str]:
    return [found.code for found in schema.check(database)]


def test_a_line_typed_shows_at_once_and_the_rest_stays_unsaid(
    client: Browser, small: Small, database: Database
) -> None:
    assert rows(client.get("/evening").text) == dict.fromkeys((1, 2, 3), "nothing said yet")

    page = typed(client, small, "2 f; 2 note gate banged; 3 a")

    assert rows(page) == {
        1: "nothing said yet",
        2: "LH and RH not done Note: “gate banged”",
        3: "Was not there",
    }
    assert page.count("autofocus") == 1
    assert page.count("is-here") == 2
    assert broken(database) == []


def test_an_evening_goes_from_paper_to_bills_in_three_presses(
    client: Browser, small: Small, database: Database
) -> None:
    typed(client, small, "1 told 70; 3 a", among="all")
    answer = client.post(
        "/day/2026-03-17/evening/done", {"farrier": str(small.farrier), "rest": "1", "among": "all"}
    )

    assert answer.location.startswith("/evening?")
    page = client.get(answer.location).text
    assert "3 horses written up" in page
    assert "This day is written up." in page
    assert outcomes(database) == ["done", "done", "absent"]
    assert broken(database) == []


def test_the_rest_can_be_said_and_the_day_closed_apart(
    client: Browser, small: Small, database: Database
) -> None:
    sent = {"farrier": str(small.farrier), "fact": new_key()}
    for _ in range(2):
        assert client.post("/day/2026-03-17/evening/rest-as-planned", sent).status_code == 303
    assert set(rows(client.get("/day/2026-03-17/evening").text).values()) == {"as planned"}

    key = {"farrier": str(small.farrier), "form_key": new_key()}
    answers = [client.post("/day/2026-03-17/evening/done", key) for _ in range(2)]

    assert [a.status_code for a in answers] == [303, 303]
    assert answers[0].location == answers[1].location
    with database.reading() as session:
        counted = session.execute(sa.text("SELECT count(*) FROM entry WHERE sort = 'closing'"))
        assert counted.scalar_one() == 1
    assert broken(database) == []


def test_closing_where_nothing_was_said_says_so(client: Browser, small: Small) -> None:
    answer = client.post("/day/2026-03-17/evening/done", {"farrier": str(small.farrier)})

    assert answer.status_code == 409
    assert "Nothing is left to write up" in answer.text


def test_one_entry_not_understood_keeps_all_that_was_typed_and_saves_nothing(
    client: Browser, small: Small, database: Database
) -> None:
    text = 'b mud; 2 frnots; 3 lf new 1 26; 1 note "<b>'
    answer = client.post("/day/2026-03-17/evening", {"farrier": str(small.farrier), "text": text})

    assert answer.status_code == 422
    assert "<h2>Not written down yet: 3 entries need another look.</h2>" in answer.text
    assert 'value="b mud; 2 frnots; 3 lf new 1 26; 1 note &#34;&lt;b&gt;"' in answer.text
    assert "There is no stop B. The stops are A." in answer.text
    assert "“2 frnots” is not understood." in answer.text
    assert "<kbd>3 lf new 1 26</kbd> 26 nails in one shoe? 6, perhaps." in answer.text
    assert 'role="alert"' in answer.text
    assert outcomes(database) == ["planned"] * 3


@pytest.mark.parametrize(
    ("text", "heading"),
    [
        ("", "Nothing was saved."),
        (" ; ", "Not saved yet."),
        ("1 note a\0b", "Not saved yet."),
        ("1" * 3_000, "Not saved yet."),
    ],
)
def test_what_cannot_be_meant_is_refused(
    client: Browser, small: Small, text: str, heading: str
) -> None:
    sent = {"farrier": str(small.farrier), "text": text}
    answer = client.post("/day/2026-03-17/evening", sent)

    assert answer.status_code in (409, 422)
    assert f"<h2>{heading}" in answer.text


@pytest.mark.parametrize("farrier", ["", "x", "99"])
def test_a_sheet_of_nobody_is_not_found(client: Browser, small: Small, farrier: str) -> None:
    sent = {"farrier": farrier, "text": "1"}
    assert client.post("/day/2026-03-17/evening", sent).status_code in (404, 409, 422)


def test_a_press_sent_twice_is_saved_once(
    client: Browser, small: Small, database: Database
) -> None:
    key = new_key()
    for _ in range(2):
        sent = {"farrier": str(small.farrier), "form_key": key}
        text = "1 paid 60 tip 2; a + Sarah's bay, trim, 58"
        answer = client.post("/day/2026-03-17/evening", sent | {"text": text})
        assert answer.status_code == 303

    page = client.get("/evening").text
    assert rows(page)[1].count("$58.00 paid") == 1
    assert page.count(">Sarah&#39;s bay</a>") == 1
    assert broken(database) == []


def test_what_somebody_else_said_meanwhile_is_shown_beside_what_was_typed(
    client: Browser, sign_in_as: Callable[[str], Browser], small: Small, database: Database
) -> None:
    seen = re.search(r'name="seen" value="([^"]*)"', client.get("/evening").text)
    assert seen
    typed(sign_in_as("field"), small, "1 a")

    sent = {"farrier": str(small.farrier), "text": "1 told 70; 1", "seen": seen[1]}
    answer = client.post("/day/2026-03-17/evening", sent)

    assert answer.status_code == 409
    assert "Somebody else said something about this line meanwhile" in answer.text
    assert "<b>Was not there.</b>" in answer.text
    assert 'value="1 told 70; 1"' in answer.text
    assert outcomes(database)[0] == "absent"

    again = re.search(r'name="seen" value="([^"]*)"', answer.text)
    assert again
    page = typed(client, small, "1 told 70; 1", seen=again[1])
    assert rows(page)[1] == "Price told: $70.00"


def test_the_day_s_questions_are_answered_by_one_press_each(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        finn = practice.save_farrier(
            unit.session,
            FarrierDetails(
                name="Finn Rowe", place_id=small.truck, sort="apprentice", day_pay=9_000
            ),
        )
    page = client.get("/evening").text
    assert 'value="along Finn Rowe"' in page
    assert 'value="knife no"' in page

    typed(client, small, "knife Knife")
    typed(client, small, "along Finn Rowe")
    page = typed(client, small, "", out="41,210", **{"in": "41268"})

    assert "Knife: went dull" in page
    assert "Finn Rowe came along" in page
    assert 'value="41268"' in page
    with database.reading() as session:
        helpers = session.execute(sa.text("SELECT helper_id FROM visit")).scalars().all()
    assert helpers == [finn]
    assert "out and in" in typed(client, small, "", out="41210", **{"in": ""})


def test_a_closed_line_is_put_right_by_the_owner_alone(
    client: Browser, sign_in_as: Callable[[str], Browser], small: Small, database: Database
) -> None:
    sent = {"farrier": str(small.farrier), "rest": "1"}
    assert client.post("/day/2026-03-17/evening/done", sent).status_code == 303

    page = typed(sign_in_as("field"), small, "1 told 70")
    assert "the owner can still change them" in page

    page = typed(client, small, "1 told 70; 2 note late")
    assert "Line 1 now costs $73.34; it was $123.34. Line 2 costs $123.33, as before." in page
    assert rows(page)[1] == "Price told: $70.00 written up"
    page = typed(client, small, "2 lf new 1 6")
    assert "Shoes and nails on the shelf followed." in page
    assert broken(database) == []


def test_days_not_written_up_come_first_and_the_cursor_stands_there(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, FRIDAY, small.bay, service=small.trim)
    page = client.get("/evening").text.partition("<main")[2]

    assert page.index("March 13") < page.index("March 17")
    assert page.index("autofocus") < page.index("March 17")
    with database.writing() as unit:
        finn = practice.save_farrier(
            unit.session, FarrierDetails(name="Finn Rowe", place_id=small.truck, sort="apprentice")
        )
        books.come_along(unit.session, FRIDAY, finn, today=DAY)
    assert "Finn Rowe, as on Fri, Mar 13, 2026" in client.get("/evening").text
    after = typed(client, small, "1 a", among="all").partition("<main")[2]
    assert after.index("March 17") < after.index("autofocus")


def test_each_farrier_types_his_own_sheet(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        other = practice.save_farrier(
            unit.session, FarrierDetails(name="Wilf Dunn", place_id=small.truck)
        )
        horse = clients.save_horse(unit.session, HorseDetails(name="Kestrel", yard_id=small.yard))
        stop = works.NewStop(
            farrier_id=other, yard_id=small.yard, day=DAY, horses=(horse,), services={}
        )
        works.plan_stop(unit.session, stop, today=FRIDAY)

    answer = client.post("/day/2026-03-17/evening", {"farrier": str(other), "text": "1 a"})

    page = client.get(answer.location).text
    assert page.index("Wilf Dunn") < page.index("autofocus")
    assert outcomes(database) == ["planned"] * 3


def test_the_field_writes_down_but_does_not_close(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    helper = sign_in_as("field")
    page = typed(helper, small, "1")

    assert "Done for the day" not in page
    assert "The rest as planned" in page
    assert helper.post("/day/2026-03-17/evening/done").status_code == 403


def test_a_day_without_a_stop_and_a_day_to_come(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, date(2026, 3, 20), small.bay, service=small.trim)

    assert "Nothing is left to write up." in client.get("/day/2026-03-16/evening").text
    assert "This day is still to come." in client.get("/day/2026-03-20/evening").text


@pytest.mark.parametrize("query", ["on=x&farrier=1", "on=1026-01-01&farrier=x&wrote=a-1-\u00b2"])
def test_an_address_made_up_changes_nothing(client: Browser, small: Small, query: str) -> None:
    assert client.get(f"/evening?{query}").status_code == 200


def test_the_evening_is_reached_from_today(client: Browser, small: Small) -> None:
    assert 'href="/day/2026-03-17/evening"' in client.get("/").text


def test_the_page_asks_the_same_number_of_questions_for_many_horses(
    client: Browser, small: Small, database: Database
) -> None:
    typed(client, small, "1 told 70; 2 f; 3 a; 1 paid 70; 2 leaned")
    few = questions(database, client)
    with database.writing() as unit:
        more = [
            clients.save_horse(unit.session, HorseDetails(name=f"Horse {n}", yard_id=small.yard))
            for n in range(20)
        ]
        plan(unit.session, small, DAY, *more, service=small.trim)
    typed(client, small, "; ".join(f"{n} told {n}; {n} a" for n in range(4, 24)))

    assert questions(database, client) == few <= 32


def questions(database: Database, client: Browser) -> int:
    """Count the statements the page runs."""
    asked: list[str] = []

    def hear(*event: object) -> None:
        asked.append(str(event[2]))

    sa.event.listen(database.reader, "before_cursor_execute", hear)
    assert client.get("/evening").status_code == 200
    sa.event.remove(database.reader, "before_cursor_execute", hear)
    return len(asked)
