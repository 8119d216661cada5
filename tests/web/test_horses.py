"""Horses: looked up, looked at beside the truck, changed; who pays, next time, handling, gone."""

from collections.abc import Callable
from datetime import date

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice.billing import service as billing
from backoffice.clients import queries
from backoffice.clients import service as clients
from backoffice.clients.rules import HorseDetails, YardDetails
from backoffice.db import Database
from backoffice.practice import service as practice
from backoffice.practice.rules import FarrierDetails
from backoffice.pricing import service as pricing
from backoffice.pricing.rules import ServiceDetails
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting
from backoffice.visits.rules import FactSort
from backoffice.web.forms import new_key
from tests.factories import OPENED, Small, plan, said
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions, shoe_bramble


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice."""
    return furnish(database)


def card(database: Database, horse_id: int, day: date) -> queries.HorseCard:
    with database.reading() as session:
        return queries.horse_card(session, horse_id, day)


@pytest.mark.parametrize(
    "path", ["", "/edit", "/payers", "/next-time", "/handling", "/life", "?all=1", "?find=bram"]
)
def test_every_page_of_a_horse_opens(client: Browser, small: Small, path: str) -> None:
    where = f"/horses{path}" if path.startswith("?") else f"/horses/{small.bay}{path}"

    assert "Bramble" in client.get(where).text
    assert client.get("/horses/new").status_code == 200


def test_a_horse_never_worked_on_says_what_is_not_known_yet(client: Browser, small: Small) -> None:
    page = client.get(f"/horses/{small.stray}").text

    assert "Nothing is written down yet." in page
    assert "Not known yet" in page
    assert "Not worked on yet." in page


def test_a_shod_horse_shows_what_it_wears_when_it_is_due_and_its_past(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    page = client.get(f"/horses/{small.bay}").text

    assert "new, 1, 6 nails" in page
    assert "Tuesday, April 21, 2026" in page
    assert "/horse-record/1" in page
    assert "quiet today" in page
    assert "all of it" in page
    assert "Tue, Apr 21, 2026" in client.get("/horses").text


def test_how_to_handle_a_horse_comes_before_anything_else(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        yard = clients.save_yard(unit.session, YardDetails(name="Fenwick", gate_note="code 12"))
        horse = clients.save_horse(unit.session, HorseDetails(name="Pilot", yard_id=yard))
        clients.flag(unit.session, horse, "kicks", "left hind", OPENED)
    page = client.get(f"/horses/{horse}").text

    assert "Kicks: left hind" in page
    assert page.index("Kicks: left hind") < page.index("code 12") < page.index("Who pays")


def test_a_new_horse_is_saved_with_who_pays(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    fields = {
        "name": "Pilot",
        "type_id": str(small.draft),
        "yard_id": str(small.yard),
        "payer": str(small.other),
        "cycle_days": "45",
    }
    answer = client.post("/horses/new", fields)
    page = client.get(answer.location).text

    assert answer.status_code == 303
    assert "Draft" in page
    assert "6 weeks 3 days" in page
    assert "Corbin Ash" in page


def test_a_new_horse_sent_twice_is_one_horse(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    key = new_key()
    answers = [client.post("/horses/new", {"name": "Pilot", "form_key": key}) for _ in range(2)]

    assert answers[0].location == answers[1].location
    with database.reading() as session:
        assert len(queries.horse_list(session, today, "pilot").rows) == 1


def test_a_horse_is_asked_for_at_its_yard_and_for_its_client(client: Browser, small: Small) -> None:
    page = client.get(f"/horses/new?yard={small.yard}&client={small.other}").text

    assert f'value="{small.yard}" checked' in page
    assert f'value="{small.other}" checked' in page


def test_when_a_horse_is_due_follows_its_own_days(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    fields = {
        "name": "Bramble",
        "type_id": str(small.stock_horse),
        "yard_id": str(small.yard),
        "cycle_days": "35",
        "version": "1",
    }
    assert client.post(f"/horses/{small.bay}/edit", fields).status_code == 303

    assert "Tuesday, April 14, 2026" in client.get(f"/horses/{small.bay}").text


def test_what_cannot_be_read_is_said_and_the_rest_is_kept(client: Browser, small: Small) -> None:
    fields = {"name": "Bramble the Second", "cycle_days": "six weeks", "version": "1"}
    answer = client.post(f"/horses/{small.bay}/edit", fields)

    assert answer.status_code == 422
    assert "“six weeks” is not a whole number." in answer.text
    assert "Bramble the Second" in answer.text
    assert 'value="six weeks"' in answer.text


def test_a_horse_somebody_else_changed_shows_theirs_and_keeps_what_was_typed(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    path = f"/horses/{small.bay}/edit"
    theirs = {"name": "Bramble", "notes": "theirs", "type_id": str(small.draft), "version": "1"}
    mine = {"name": "Bramble", "notes": "mine", "version": "1"}
    assert client.post(path, theirs).status_code == 303
    answer = client.post(path, mine)

    assert answer.status_code == 409
    assert "Theirs now: theirs" in answer.text
    assert "Theirs now: Draft" in answer.text
    assert ">\nmine</textarea>" in answer.text.replace("\r", "")
    assert 'name="version" type="hidden" value="2"' in answer.text
    assert client.post(path, mine | {"version": "2"}).status_code == 303
    assert card(database, small.bay, today).details.notes == "mine"


def payers(*rows: tuple[str, str], from_day: str = "2026-03-17") -> dict[str, str]:
    fields = {"from_day": from_day}
    for place in range(5):
        client, part = rows[place] if place < len(rows) else ("", "")
        fields |= {f"p{place}-client": client, f"p{place}-part": part}
    return fields


@pytest.mark.parametrize(
    ("parts", "shown"),
    [
        (("1", "1"), ("half", "half")),
        (("60", "40"), ("60 %", "40 %")),
        (("2", "1"), ("two thirds", "a third")),
        (("3", "1"), ("three quarters", "a quarter")),
        (("4", "3"), ("4 of 7 parts", "3 of 7 parts")),
    ],
)
def test_who_pays_which_part_is_said_in_words(
    client: Browser, small: Small, parts: tuple[str, str], shown: tuple[str, str]
) -> None:
    fields = payers((str(small.owner), parts[0]), (str(small.other), parts[1]))
    answer = client.post(f"/horses/{small.stray}/payers", fields)
    page = client.get(answer.location).text

    assert page.index(f">{shown[0]}<") < page.rindex(f">{shown[1]}<")


def test_a_payer_without_a_part_pays_all_and_none_named_is_not_known(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    path = f"/horses/{small.stray}/payers"
    client.post(path, payers((str(small.owner), "")))
    assert [p.client_id for p in card(database, small.stray, today).payers] == [small.owner]

    client.post(path, payers())
    assert [p.client_id for p in card(database, small.stray, today).payers] == [None]


def test_payers_without_any_part_pay_equal_parts_and_it_is_said(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    path = f"/horses/{small.stray}/payers"
    both = ((str(small.owner), ""), (str(small.other), ""))

    page = client.get(client.post(path, payers(*both)).location).text

    assert "Saved. They pay equal parts." in page
    assert [p.parts for p in card(database, small.stray, today).payers] == [1, 1]
    told = ((str(small.owner), "2"), (str(small.other), "1"))
    assert "equal parts" not in client.get(client.post(path, payers(*told)).location).text


@pytest.mark.parametrize(
    ("rows", "status", "says"),
    [
        ((("", "3"),), 422, "Whose part is this?"),
        ((("{owner}", "1"), ("{other}", "")), 422, "Write this part too, or leave all of them"),
        ((("{owner}", "0"), ("{other}", "")), 422, "Write this part too, or leave all of them"),
        ((("9999", "1"),), 422, "Please choose one of these."),
        ((("{owner}", "half"),), 422, "“half” is not a whole number."),
        ((("{owner}", "1"), ("{owner}", "1")), 409, "One client is named twice."),
        ((("{owner}", "0"),), 409, "These shares make nothing"),
    ],
)
def test_who_pays_is_refused_in_words_and_kept_as_typed(
    client: Browser, small: Small, rows: tuple[tuple[str, str], ...], status: int, says: str
) -> None:
    named = [(who.format(owner=small.owner, other=small.other), part) for who, part in rows]
    answer = client.post(f"/horses/{small.stray}/payers", payers(*named))

    assert answer.status_code == status
    assert says in answer.text
    assert f'value="{named[0][1]}"' in answer.text


def test_who_pays_is_asked_from_the_first_work_nobody_was_known_for(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, date(2026, 3, 10), small.stray, small.bay, service=small.trim)

    assert 'value="2026-03-10"' in client.get(f"/horses/{small.stray}/payers").text
    assert 'value="2026-03-17"' in client.get(f"/horses/{small.bay}/payers").text


def test_next_time_is_set_and_shown(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    fields = {"service": str(small.full), "day": "2026-04-02", "note": "bring the 2s"}
    assert client.post(f"/horses/{small.bay}/next-time", fields).status_code == 303
    page = client.get(f"/horses/{small.bay}").text

    assert "Thursday, April 2, 2026" in page
    assert "bring the 2s" in page
    assert "set by you" in page


def test_next_time_keeps_what_cannot_be_read(client: Browser, small: Small) -> None:
    fields = {"service": "", "day": "soon", "note": "bring the 2s"}
    answer = client.post(f"/horses/{small.bay}/next-time", fields)

    assert answer.status_code == 422
    assert "“soon” is not a date." in answer.text
    assert "bring the 2s" in answer.text


def test_a_flag_begins_and_ends(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    fields = {"flag": "head_shy", "note": "ears", "from_day": "2026-03-01"}
    key = new_key()
    for _ in range(2):
        client.post(f"/horses/{small.bay}/handling", fields | {"form_key": key})
    flags = card(database, small.bay, today).flags
    assert [flag.note for flag in flags] == ["ears"]

    path = f"/horses/{small.bay}/handling/{flags[0].id}/end"
    assert "head shy" in client.get(path).text
    early = client.post(path, {"until_day": "2026-02-01"})
    assert early.status_code == 409
    assert "This began on Sun, Mar 1, 2026." in early.text
    assert client.post(path, {"until_day": "2026-03-16"}).status_code == 303
    assert card(database, small.bay, today).flags == ()
    assert client.get(path).status_code == 404
    assert client.post(path, {"until_day": "2026-03-16"}).status_code == 404


def test_a_flag_needs_its_kind(client: Browser, small: Small) -> None:
    fields = {"flag": "", "note": "ears first", "from_day": "2026-03-01"}
    answer = client.post(f"/horses/{small.bay}/handling", fields)

    assert answer.status_code == 422
    assert "Please choose one of these." in answer.text
    assert "ears first" in answer.text


@pytest.mark.parametrize("state", ["sold", "gone", "dead"])
def test_a_horse_that_is_gone_is_planned_no_more(
    client: Browser, small: Small, database: Database, state: str
) -> None:
    fields = {"state": state, "from_day": "2026-03-17"}
    answer = client.post(f"/horses/{small.bay}/life", fields)
    page = client.get(answer.location).text

    assert "Bramble: nothing is planned from Tue, Mar 17, 2026 on." in page
    assert f"{state.capitalize()}, since Tue, Mar 17, 2026" in page
    assert "Bramble" not in client.get("/horses").text
    assert "Bramble" in client.get("/horses?all=1").text
    with database.reading() as session:
        due = visits.due_list(session, date(2030, 1, 1), small.yard)
    assert small.bay not in [horse.horse_id for horse in due]

    client.post(f"/horses/{small.bay}/life", {"state": "active", "from_day": "2026-03-17"})
    assert "Bramble" in client.get("/horses").text


def test_what_became_of_a_horse_has_to_be_said(client: Browser, small: Small) -> None:
    answer = client.post(f"/horses/{small.bay}/life", {"from_day": "2026-03-11"})

    assert answer.status_code == 422
    assert 'value="2026-03-11"' in answer.text


def test_hostile_text_is_shown_as_text(client: Browser, small: Small, database: Database) -> None:
    fields = {"name": HOSTILE, "words": HOSTILE, "notes": HOSTILE, "payer": str(small.owner)}
    location = client.post("/horses/new", fields).location
    client.post(
        f"{location}/handling", {"flag": "other", "note": HOSTILE, "from_day": "2026-03-01"}
    )
    client.post(f"{location}/next-time", {"note": HOSTILE})
    client.post(f"{location}/life", {"state": "sold", "from_day": "2026-03-17"})

    tails = ("", "/edit", "/payers", "/next-time", "/handling", "/life")
    for path in ("/horses?all=1", *(f"{location}{tail}" for tail in tails)):
        page = client.get(path)
        assert page.status_code == 200, path
        assert no_hostile(page.text), path
        assert "&lt;script&gt;" in page.text, path


def test_what_is_looked_up_is_kept_and_shown_as_text(client: Browser, small: Small) -> None:
    page = client.get("/horses", query_string={"find": HOSTILE + "\0"}).text

    assert no_hostile(page)
    assert "Nothing goes by that." in page


@pytest.mark.parametrize("page", ["x", "-1", "0", "99999999999999999999", "٣"])
def test_a_leaf_there_is_not_is_an_empty_leaf_or_the_first(
    client: Browser, small: Small, page: str
) -> None:
    assert client.get("/horses", query_string={"page": page}).status_code == 200


def test_more_horses_than_a_leaf_holds_are_turned_to(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        for number in range(210):
            clients.save_horse(unit.session, HorseDetails(name=f"Aspen {number:03}"))

    first, second = client.get("/horses?find=aspen"), client.get("/horses?find=aspen&page=2")
    assert "Aspen 199" in first.text
    assert "Aspen 200" not in first.text
    assert "find=aspen&amp;page=2" in first.text
    assert "Aspen 209" in second.text


def test_the_pages_of_horses_ask_as_much_for_thirty_as_for_three(
    client: Browser, small: Small, database: Database
) -> None:
    paths = ("/horses", f"/yards/{small.yard}", f"/clients/{small.owner}")
    few = [questions(client, database, path) for path in paths]
    with database.writing() as unit:
        for number in range(27):
            details = HorseDetails(name=f"Aspen {number}", yard_id=small.yard)
            horse = clients.save_horse(unit.session, details)
            clients.set_payers(unit.session, horse, OPENED, [(small.owner, 1)])
            clients.flag(unit.session, horse, "leans", None, OPENED)

    assert [questions(client, database, path) for path in paths] == few


def test_who_works_the_horses_looks_but_does_not_change(
    sign_in_as: Callable[[str], Browser], small: Small
) -> None:
    field = sign_in_as("field")
    page = field.get(f"/horses/{small.bay}").text

    assert "Bramble" in page
    assert "/edit" not in page
    assert field.get(f"/horses/{small.bay}/edit").status_code == 403
    assert field.post(f"/horses/{small.bay}/life").status_code == 403
    assert sign_in_as("books").get(f"/horses/{small.bay}").status_code == 200


def test_a_horse_there_is_not_is_not_found(client: Browser, small: Small) -> None:
    assert client.get("/horses/999").status_code == 404
    assert client.post("/horses/999/edit", {"name": "x", "version": "1"}).status_code == 404


def lost_shoe_service(database: Database) -> int:
    with database.writing() as unit:
        return pricing.save_service(
            unit.session, ServiceDetails(name="Lost shoe", front="none", hind="none", minutes=20)
        )


def main_of(client: Browser, horse_id: int) -> str:
    return client.get(f"/horses/{horse_id}").text.partition("<main")[2]


def test_a_call_about_a_horse_is_answered_at_the_top(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    page = main_of(client, small.bay)
    top = page.partition(">Wears</h2>")[0]

    assert "7 days ago" in top
    assert "LF RF: Shoe 1, 6 nails (Nail)" in top
    assert "LH RH: bare" in top
    assert "Free under guarantee: day 7 of 14." in top
    assert "$130.00, not due yet" in top
    assert "Not one in 12 months; none at the barn" in top


def test_a_shoe_that_came_off_in_winter_is_what_it_last_wore(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    with database.writing() as unit:
        stop = plan(unit.session, small, date(2026, 3, 16), small.bay, service=small.trim)
        visiting.say(unit.session, stop, [said(small.bay, FactSort.AS_PLANNED)])
        billing.close_day(unit.session, date(2026, 3, 16), today=today)
    page = main_of(client, small.bay)

    assert "LF RF: bare now, last wore Shoe 1, 6 nails (Nail)" in page
    assert "If one is lost" not in page


def test_a_guarantee_that_is_over_and_money_past_due_are_said(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)
    with database.writing() as unit:
        unit.session.execute(sa.text("UPDATE practice SET demo_today = '2026-03-25'"))
    page = main_of(client, small.bay)

    assert "Guarantee over: day 15 of 14." in page
    assert "$130.00, 8 days past due" in page


def test_who_works_the_horses_sees_no_money(
    sign_in_as: Callable[[str], Browser], small: Small, database: Database, today: date
) -> None:
    shoe_bramble(database, small, today)

    assert "Owes" not in main_of(sign_in_as("field"), small.bay)


def test_the_owner_of_a_horse_is_shown_and_changed(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    fields = {"name": "Bramble", "owner_id": str(small.other), "version": "1"}
    assert client.post(f"/horses/{small.bay}/edit", fields).status_code == 303
    page = main_of(client, small.bay)

    assert "Whose horse" in page
    assert "Corbin Ash" in page
    assert "Wenna Harrow" in page
    assert card(database, small.bay, today).owner_name == "Corbin Ash"


def test_a_lost_shoe_goes_on_today_with_one_press(
    client: Browser, small: Small, database: Database
) -> None:
    lost_shoe_service(database)
    assert "Lost a shoe: put it on today" in main_of(client, small.bay)
    path = f"/horses/{small.bay}/lost-shoe"
    answer = client.post(path, {"farrier": str(small.farrier)})

    assert answer.status_code == 303
    day = client.get(answer.location).text
    assert "Bramble is on today’s round for a lost shoe." in day
    assert "Lost shoe" in day
    page = main_of(client, small.bay)
    assert "Tue, Mar 17, 2026, Lost shoe" in page
    assert "put it on today" not in page
    again = client.post(path, {"farrier": str(small.farrier)})
    assert again.status_code == 409
    assert "This horse is on today’s round already." in again.text


def test_without_a_service_for_lost_shoes_that_is_said_plainly(
    client: Browser, small: Small
) -> None:
    assert "There is no service for a lost shoe yet." in main_of(client, small.bay)
    answer = client.post(f"/horses/{small.bay}/lost-shoe", {"farrier": str(small.farrier)})

    assert answer.status_code == 409
    assert "There is no service for a lost shoe yet." in answer.text


def test_who_goes_is_asked_where_there_are_several(
    client: Browser, small: Small, database: Database
) -> None:
    lost_shoe_service(database)
    with database.writing() as unit:
        practice.save_farrier(unit.session, FarrierDetails(name="Petra", place_id=small.truck))
    assert "Who goes" in main_of(client, small.bay)
    answer = client.post(f"/horses/{small.bay}/lost-shoe", {"farrier": "99"})

    assert answer.status_code == 422
    assert "Please choose one of these." in answer.text


def test_the_page_of_a_horse_asks_as_often_with_a_long_past(
    client: Browser, small: Small, database: Database, today: date
) -> None:
    path = f"/horses/{small.bay}"
    shoe_bramble(database, small, today)
    first = questions(client, database, path)
    with database.writing() as unit:
        for day in range(2, 9):
            plan(unit.session, small, date(2026, 4, day), small.bay, service=small.fronts)
        clients.set_payers(unit.session, small.bay, today, [(small.owner, 1), (small.other, 1)])

    assert questions(client, database, path) == first <= 26
