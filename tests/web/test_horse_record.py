"""One horse at a visit: said in one or two taps, put right, and the answers the lists ask for."""

import re
from collections.abc import Callable
from datetime import date
from html import unescape

import pytest
import sqlalchemy as sa
from flask import Flask

from backoffice import schema
from backoffice.billing import queries as bills
from backoffice.clients import queries as clients
from backoffice.clients import service as keeping
from backoffice.clients.rules import HorseDetails
from backoffice.db import Database
from backoffice.visits import queries, service
from backoffice.visits.queries import WorkRow
from backoffice.visits.rules import FactSort, Said
from backoffice.web.forms import new_key
from backoffice.words import Speech
from tests.factories import Small, plan, said
from tests.web.browser import Browser
from tests.web.furnished import HOSTILE, furnish, no_hostile, questions

DAY = date(2026, 3, 17)
HIDDEN = r'name="{}"[^>]*value="([^"]*)"'


@pytest.fixture
def small(app: Flask, database: Database) -> Small:
    """A small practice with two horses on today, booked for a full set."""
    made = furnish(database)
    with database.writing() as unit:
        plan(unit.session, made, DAY, made.bay, made.shared, service=made.full)
    return made


def close(client: Browser) -> None:
    """Write the day up, all as planned but what was said otherwise."""
    assert client.post("/day/2026-03-17/rest-as-planned").status_code == 303
    assert client.post("/day/2026-03-17/done").status_code == 303


def say(database: Database, *facts: Said, visit: int = 1) -> None:
    with database.writing() as unit:
        service.say(unit.session, visit, facts)


def work(database: Database, work_id: int = 1) -> WorkRow:
    with database.reading() as session:
        return queries.works_by_id(session, [work_id])[0]


def ready(database: Database, client_id: int) -> int:
    with database.reading() as session:
        found = bills.ready_bills(session, includes_tax=False, client_id=client_id)
    return found[0].totals.payable if found else 0


def text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def hidden(name: str, html: str) -> str:
    found = re.search(HIDDEN.format(name), html)
    assert found, name
    return found[1]


def sound(database: Database) -> bool:
    return schema.check(database) == []


def full_set(small: Small, **changed: str) -> dict[str, str]:
    fields = {"service": str(small.full), "note": ""}
    for foot in ("LF", "RF", "LH", "RH"):
        fields |= {
            f"{foot}-done": "new",
            f"{foot}-shoe": str(small.shoe),
            f"{foot}-nails": "6",
            f"{foot}-nail": str(small.nail),
        }
    return fields | changed


def test_fronts_only_is_one_tap_and_the_hinds_wait_to_be_finished(
    client: Browser, small: Small, database: Database
) -> None:
    assert "Fronts only" in client.get("/horse-record/1").text
    assert client.post("/horse-record/1/tap", {"what": "fronts"}).status_code == 303

    assert work(database).outcome == "part"
    page = text(client.get("/").text)
    assert "To finish" in page
    assert "Bramble hinds not done, old shoes still on" in page
    assert "Fri, Mar 27, 2026 wanted by then" in page
    assert "Put the finish on a day : Bramble" in page


def test_hinds_only_after_fronts_only_means_the_hinds(
    client: Browser, small: Small, database: Database
) -> None:
    for what in ("fronts", "hinds"):
        client.post("/horse-record/1/tap", {"what": what})

    with database.reading() as session:
        feet = queries.feet_of(session, [1])[1]
    assert {foot.value: state.done.value for foot, state in feet.items()} == {
        "LF": "not_done", "RF": "not_done", "LH": "new", "RH": "new",
    }  # fmt: skip


def test_one_end_of_a_horse_nothing_was_planned_for_is_refused(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        service.extra_horse(unit.session, 1, "Sarah’s new bay")
    answer = client.post("/horse-record/3/tap", {"what": "fronts"})

    assert answer.status_code == 409
    assert "Say it foot by foot" in answer.text


def test_a_finish_is_put_on_a_day_from_the_list(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/tap", {"what": "fronts"})
    close(client)
    page = client.get("/horse-record/1/finish").text
    # Tomorrow is a Wednesday.
    assert hidden("day", page) == "2026-03-18"

    answer = client.post("/horse-record/1/finish", {"day": "2026-03-24"})

    assert answer.location == "/day/2026-03-24"
    assert "on the day of Tue, Mar 24, 2026" in text(client.get("/").text)
    assert "To be finished on Tue, Mar 24, 2026" in client.get("/horse-record/1").text
    assert sound(database)


@pytest.mark.parametrize("typed", ["", "2026-13-01", "0001-01-01", "soon"])
def test_a_day_that_cannot_be_meant_for_a_finish_is_refused(
    client: Browser, small: Small, typed: str
) -> None:
    client.post("/horse-record/1/tap", {"what": "fronts"})
    close(client)

    assert client.post("/horse-record/1/finish", {"day": typed}).status_code in (409, 422)


def test_a_horse_done_in_part_may_stay_as_it_is(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/tap", {"what": "fronts"})
    close(client)
    owed = ready(database, small.owner)
    assert "It stays as it is" in client.get("/horse-record/1/finish").text

    assert client.post("/horse-record/1/unfinished").status_code == 303

    assert "To finish" not in client.get("/").text
    assert ready(database, small.owner) == owed
    assert sound(database)


@pytest.fixture
def stray(client: Browser, small: Small, database: Database) -> int:
    """A horse known in words only, done and written up; nobody knows who pays."""
    with database.writing() as unit:
        subject = service.extra_horse(
            unit.session, 1, "Sarah’s new bay", service_id=small.trim, say_price=5_800
        )
        done = Said(id="stray", subject=subject, sort=FactSort.AS_PLANNED)
        service.say(unit.session, 1, [done])
    close(client)
    return 3


def test_a_horse_in_words_gets_its_payer_and_its_name_in_one_form(
    client: Browser, small: Small, database: Database, stray: int
) -> None:
    page = text(client.get("/").text)
    assert "Sarah’s new bay Who pays?" in page
    assert "Say who pays" in page
    assert "Sarah’s new bay" in client.get(f"/horse-record/{stray}/who-pays").text

    answer = client.post(
        f"/horse-record/{stray}/who-pays",
        {"client": "", "new_client": "Sarah Quill", "lasts": "always", "horse": "",
         "new_horse": "Juniper"},
    )  # fmt: skip

    assert answer.status_code == 303
    assert "Who pays?" not in client.get("/").text
    with database.reading() as session:
        sarah = next(i for i, name in clients.client_choices(session, Speech()) if "Sarah" in name)
        horse = queries.works_by_id(session, [stray])[0].horse_id
        assert horse is not None
        assert clients.payers_on(session, [horse], DAY)[horse] == ((sarah, 1),)
        card = clients.horse_card(session, horse, DAY).details
    assert (card.name, card.words, card.yard_id) == ("Juniper", "Sarah’s new bay", small.yard)
    assert ready(database, sarah) == 5_800
    assert sound(database)


def test_a_horse_may_be_kept_in_words_only_and_still_be_paid_for(
    client: Browser, small: Small, database: Database, stray: int
) -> None:
    sent = {"client": str(small.other), "new_client": "", "lasts": "once"}
    before = ready(database, small.other)

    assert client.post(f"/horse-record/{stray}/who-pays", sent).status_code == 303

    assert work(database, stray).horse_id is None
    assert ready(database, small.other) == before + 5_800
    assert sound(database)


def test_the_horse_in_words_turns_out_to_be_one_that_stands_there(
    client: Browser, small: Small, database: Database, stray: int
) -> None:
    sent = {"client": str(small.other), "lasts": "always", "horse": str(small.stray)}

    assert client.post(f"/horse-record/{stray}/who-pays", sent).status_code == 303

    assert work(database, stray).horse_id == small.stray
    with database.reading() as session:
        assert queries.horse_past(session, small.stray).last_day == DAY
    assert sound(database)


@pytest.mark.parametrize(
    "sent",
    [
        {"client": "", "new_client": ""},
        {"client": "1", "new_client": "Sarah Quill"},
        {"client": "99"},
        {"client": "1", "lasts": "never"},
        {"client": "1", "horse": "3", "new_horse": "Juniper"},
        {"client": "1", "new_horse": "J" * 300},
    ],
)
def test_who_pays_is_asked_again_and_what_was_typed_is_kept(
    client: Browser, stray: int, database: Database, sent: dict[str, str]
) -> None:
    answer = client.post(f"/horse-record/{stray}/who-pays", {"lasts": "once", **sent})

    assert answer.status_code == 422
    for typed in ("new_client", "new_horse"):
        assert sent.get(typed, "") in unescape(answer.text)
    assert work(database, stray).horse_id is None


def test_hostile_names_stand_on_the_pages_as_text_alone(
    client: Browser, small: Small, database: Database, stray: int
) -> None:
    sent = {"new_client": HOSTILE, "lasts": "always", "new_horse": HOSTILE}
    assert client.post(f"/horse-record/{stray}/who-pays", sent).status_code == 303
    say(database, said(small.bay, FactSort.NOTE, "late", text=HOSTILE))

    for path in ("/", "/money", f"/horse-record/{stray}", "/horse-record/1"):
        assert no_hostile(client.get(path).text), path


def test_the_owner_is_billed_once_with_one_tap_and_the_rule_stays(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        horse = keeping.save_horse(
            unit.session, HorseDetails(name="Kestrel", yard_id=small.yard, owner_id=small.owner)
        )
        keeping.set_payers(unit.session, horse, date(2026, 1, 5), [(small.other, 1)])
        plan(unit.session, small, DAY, horse, service=small.trim)
    assert "Bill the owner today" in client.get("/horse-record/3").text
    assert "Bill the owner today" not in client.get("/horse-record/1").text

    client.post("/horse-record/3/tap", {"what": "owner_pays"})
    page = text(client.get("/horse-record/3").text)
    assert "Wenna Harrow pays this once. As always" in page
    client.post("/horse-record/3/tap", {"what": "as_always"})
    assert "Corbin Ash pays." in text(client.get("/horse-record/3").text)
    client.post("/horse-record/3/tap", {"what": "owner_pays"})
    close(client)

    with database.reading() as session:
        rule = clients.payers_on(session, [horse], DAY)[horse]
        paid = {share.client_id for share in queries.live_shares(session, [3])}
    assert rule == ((small.other, 1),)
    assert paid == {small.owner}
    assert sound(database)


def test_a_lost_shoe_that_was_found_goes_back_on_with_nails_alone(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/feet", full_set(small))
    close(client)
    with database.writing() as unit:
        plan(unit.session, small, date(2026, 3, 26), small.bay, service=small.trim)

    answer = client.post("/horse-record/3/lost", {"foot": "LF", "lost": "found"})

    assert answer.status_code == 303
    with database.reading() as session:
        foot = queries.feet_of(session, [3])[3]
    states = {str(name): (s.done.value, s.shoe, s.nails, s.lost) for name, s in foot.items()}
    assert states["LF"] == ("reset", small.shoe, 6, "found")
    page = client.get("/horse-record/3").text
    assert "LF: the lost shoe was found and is back on." in page
    client.post("/horse-record/3/lost", {"foot": "LF", "lost": "not"})
    assert "the lost shoe was found" not in client.get("/horse-record/3").text


def test_a_lost_shoe_without_its_foot_is_asked_for_beside_the_form(
    client: Browser, small: Small
) -> None:
    answer = client.post("/horse-record/1/lost", {"foot": "", "lost": "gone"})

    assert answer.status_code == 422
    assert "Please choose one of these." in answer.text
    assert '<details class="opens" id="lost" open>' in answer.text


def test_note_and_minutes_are_kept_before_and_after_the_day_is_done(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/more", {"note": "quiet", "minutes": "70"})
    close(client)
    assert client.post("/horse-record/1/more", {"note": "", "minutes": "80"}).status_code == 303

    row = work(database)
    assert (row.minutes, row.minutes_told) == (80, True)
    with database.reading() as session:
        card = queries.work_card(session, 1)
        assert card is not None
        assert card.work.note is None
        assert queries.late_said(session, 1) == ()
    assert client.post("/horse-record/1/more", {"minutes": "5000"}).status_code == 422
    assert sound(database)


def test_a_closed_horse_turns_out_not_to_have_been_there_and_back(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    owed = ready(database, small.owner)

    client.post("/horse-record/1/tap", {"what": "absent"})
    assert work(database).outcome == "absent"
    # 175 and half of the trip fee of 10 no longer; the half of the shared horse stays.
    assert ready(database, small.owner) == owed - 17_500 - 500
    assert "To rebook" in client.get("/").text
    client.post("/horse-record/1/tap", {"what": "as_planned"})

    assert work(database).outcome == "done"
    assert ready(database, small.owner) == owed
    assert sound(database)


def test_a_price_told_goes_back_to_the_rules(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    by_the_rules = ready(database, small.owner)
    client.post("/horse-record/1/price", {"told": "50", "travel": "0"})
    assert ready(database, small.owner) == by_the_rules - 12_500 - 500

    assert client.post("/horse-record/1/price-again").status_code == 303

    assert ready(database, small.owner) == by_the_rules
    assert sound(database)


def test_a_horse_is_priced_again_with_its_payers_as_known_now(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    with database.writing() as unit:
        keeping.set_payers(unit.session, small.bay, DAY, [(small.other, 1)])
    before = ready(database, small.other)

    assert client.post("/horse-record/1/price-again").status_code == 303

    assert ready(database, small.other) == before + 17_500 + 500
    assert sound(database)


def test_what_is_on_a_bill_is_not_changed_behind_its_back(
    client: Browser, small: Small, database: Database
) -> None:
    close(client)
    sent = {"expected": str(ready(database, small.owner)), "first_no": "1", "note": ""}
    assert client.post(f"/bills/ready/{small.owner}", sent).status_code == 303

    answer = client.post("/horse-record/1/price", {"told": "50"})

    assert answer.status_code == 409
    assert 'value="50"' in answer.text
    assert sound(database)


def test_only_the_owner_puts_right_what_is_written_up(
    client: Browser, small: Small, sign_in_as: Callable[[str], Browser], database: Database
) -> None:
    field = sign_in_as("field")
    assert field.post("/horse-record/1/tap", {"what": "fronts"}).status_code == 303
    close(client)

    for path, sent in (
        ("tap", {"what": "absent"}),
        ("lost", {"foot": "LF", "lost": "gone"}),
        ("more", {"minutes": "40"}),
        ("feet", full_set(small)),
    ):
        assert field.post(f"/horse-record/1/{path}", sent).status_code == 403, path
    assert "Note and minutes" not in field.get("/horse-record/1").text
    assert work(database).outcome == "part"


def late(client: Browser, small: Small, database: Database) -> None:
    close(client)
    told = said(small.bay, FactSort.TOLD, "late-price", say=6_000)
    sand = Said(id="late-ground", subject="", sort=FactSort.GROUND, data={"ground": "sand"})
    say(database, told, sand)


def test_what_came_late_is_said_in_words_and_taken_in_with_one_press(
    client: Browser, small: Small, database: Database
) -> None:
    late(client, small, database)
    page = text(client.get("/").text)
    assert "Bramble Said after the day was written up: Price told: $60.00." in page
    assert "Larkmoss Said after the day was written up: Ground: sand." in page
    assert "Price told: $60.00." in text(client.get("/horse-record/1").text)
    owed = ready(database, small.owner)

    sent = {"subject": str(small.bay), "what": "apply", "form_key": new_key()}
    for _ in range(2):
        assert client.post("/stop/1/late", sent).status_code == 303
    assert client.post("/stop/1/late", {"subject": "", "what": "apply"}).status_code == 303

    assert ready(database, small.owner) == owed - 17_500 + 6_000
    assert "Said after the day was written up" not in client.get("/").text
    assert sound(database)


def test_what_came_late_is_dropped_and_nothing_changes(
    client: Browser, small: Small, database: Database
) -> None:
    late(client, small, database)
    owed = ready(database, small.owner)

    client.post("/stop/1/late", {"subject": str(small.bay), "what": "drop"})
    client.post("/stop/1/late", {"subject": "", "what": "drop"})

    assert ready(database, small.owner) == owed
    assert "Said after the day was written up" not in client.get("/").text
    assert client.post("/stop/1/late", {"subject": "", "what": "burn"}).status_code == 409
    assert client.post("/stop/99/late", {"subject": "", "what": "drop"}).status_code in (404, 409)
    assert sound(database)


def test_two_people_at_the_same_feet_see_each_other_before_one_goes_over_the_other(
    client: Browser, small: Small, sign_in_as: Callable[[str], Browser], database: Database
) -> None:
    mine = client.get("/horse-record/1/feet").text
    sign_in_as("field").post("/horse-record/1/tap", {"what": "fronts"})
    typed = full_set(small, note="bars long", seen=hidden("seen", mine))

    answer = client.post("/horse-record/1/feet", typed)

    assert answer.status_code == 409
    page = text(answer.text)
    assert "Somebody said something about this horse while you were writing." in page
    assert re.search(r"LH and RH not done\. field 1, at \d\d:\d\d ", page)
    assert "bars long" in page
    assert work(database).outcome == "part"

    again = {**typed, "seen": hidden("seen", answer.text)}
    assert client.post("/horse-record/1/feet", again).status_code == 303
    assert work(database).outcome == "done"


def test_two_people_at_the_same_price_see_each_other(
    client: Browser, small: Small, database: Database
) -> None:
    mine = hidden("seen", client.get("/horse-record/1/price").text)
    say(database, said(small.bay, FactSort.TOLD, "theirs", say=16_000))

    answer = client.post("/horse-record/1/price", {"told": "150", "seen": mine})

    assert answer.status_code == 409
    assert "Price told: $160.00." in answer.text
    assert 'value="150"' in answer.text
    assert work(database).told == 16_000


def test_what_is_said_of_another_horse_meanwhile_disturbs_nobody(
    client: Browser, small: Small, database: Database
) -> None:
    mine = hidden("seen", client.get("/horse-record/1/feet").text)
    say(database, said(small.shared, FactSort.ABSENT))

    assert client.post("/horse-record/1/feet", full_set(small, seen=mine)).status_code == 303


def test_the_back_button_saves_nothing_twice_and_a_changed_text_is_told_apart(
    client: Browser, small: Small, database: Database
) -> None:
    seen = hidden("seen", client.get("/horse-record/1/feet").text)
    typed = full_set(small, seen=seen, form_key=new_key())
    for _ in range(2):
        assert client.post("/horse-record/1/feet", typed).location == "/day/2026-03-17#horse-1"
    with database.reading() as session:
        facts = [fact for fact in queries.facts_of(session, 1) if fact.sort is FactSort.FEET]
    assert len(facts) == 1

    changed = {**typed, "LF-nails": "7"}
    answer = client.post("/horse-record/1/feet", changed)
    assert answer.status_code == 409
    assert "This was saved already. To change it, save it again." in answer.text
    assert hidden("form_key", answer.text) != typed["form_key"]

    renewed = {name: hidden(name, answer.text) for name in ("form_key", "seen")}
    assert client.post("/horse-record/1/feet", {**changed, **renewed}).status_code == 303
    assert "new, 1, 7 nails" in client.get("/horse-record/1").text


def test_a_stand_that_slipped_is_shown_first_until_it_was_looked_at(
    client: Browser, small: Small, database: Database
) -> None:
    def met(what: str) -> Said:
        data = {"tool": small.stand, "what": what}
        return Said(id=what, subject="", sort=FactSort.TOOL, data=data)

    say(database, met("slipped"))
    assert "Stand: look at strap, lock and welds before the next horse." in client.get("/").text
    say(database, met("fell"))
    assert "Stand: do not use until looked at." in client.get("/").text

    client.post(f"/tools/{small.stand}/event", {"sort": "looked_at"})

    page = client.get("/").text
    assert "look at strap" not in page
    assert "do not use" not in page


def test_a_day_before_that_is_not_written_up_goes_by_its_weekday(
    client: Browser, small: Small, database: Database
) -> None:
    with database.writing() as unit:
        plan(unit.session, small, date(2026, 3, 13), small.stray, service=small.trim)
        plan(unit.session, small, date(2026, 3, 2), small.stray, service=small.trim)

    page = client.get("/").text
    assert "Friday is not finished yet." in page
    assert "Monday, March 2, 2026 is not finished yet." in page


def test_a_missed_horse_is_ticked_on_the_plan_of_its_barn(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/tap", {"what": "absent"})
    page = client.get("/").text
    way = f"/plan?yard={small.yard}&horse={small.bay}"
    assert way in unescape(page)
    assert "Missed" in client.get("/plan").text

    plan_page = client.get(way).text
    assert plan_page.index("Bramble") < plan_page.index("Tolliver")
    ticked = re.findall(r'<input checked id="h(\d+)-tick"', plan_page)
    assert ticked == [str(small.bay)]

    client.post(
        f"/plan/{small.yard}",
        {"day": "2026-03-18", "farrier": str(small.farrier), f"h{small.bay}-tick": "y"},
    )
    assert "To rebook" not in client.get("/").text


@pytest.mark.parametrize(
    "path", ["/horse-record/1", "/horse-record/1/who-pays", "/horse-record/1/finish"]
)
def test_the_pages_of_a_horse_ask_few_questions(
    client: Browser, small: Small, database: Database, path: str
) -> None:
    client.post("/horse-record/1/tap", {"what": "fronts"})
    few = questions(client, database, path)
    with database.writing() as unit:
        service.say(
            unit.session,
            1,
            [said(small.bay, FactSort.MINUTES, f"m{n}", minutes=n + 1) for n in range(20)],
        )

    assert questions(client, database, path) == few
    assert few <= 25


@pytest.mark.parametrize(
    "path",
    ["tap", "lost", "more", "feet", "price", "who-pays", "finish", "unfinished", "put-right"],
)
def test_a_horse_that_is_not_there_is_not_found(client: Browser, small: Small, path: str) -> None:
    sent = {"what": "absent", "foot": "LF", "lost": "gone", "told": "5", "day": "2026-03-20"}
    more = {"client": "1", "lasts": "once", **full_set(small)}

    assert client.post(f"/horse-record/999/{path}", sent | more).status_code == 404


def test_the_words_of_a_practice_in_the_uk_are_on_the_page(
    client: Browser, small: Small, database: Database
) -> None:
    client.post("/horse-record/1/lost", {"foot": "LF", "lost": "gone"})
    with database.writing() as unit:
        unit.session.execute(sa.text("UPDATE practice SET words = 'uk'"))

    assert "NF: the cast shoe is gone." in client.get("/horse-record/1").text
