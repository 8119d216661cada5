"""A clean day and a messy one, from the paper sheet to bills ready, entry by entry.

The amounts are worked out by hand from the price list of the demo: trim 58.00 (draft 105.00,
sport 60.00), fronts and trimmed hinds 120.00 (119.95 as agreed with one client), full set 175.00.
"""

import re

import pytest
import sqlalchemy as sa
from playwright.sync_api import Page, expect

from backoffice.books.models import PayOwed
from backoffice.stock.models import Item, OnHand
from tests.browser.conftest import Running
from tests.browser.hand import Hand, go, open_demo, part, rows, table

pytestmark = pytest.mark.browser

CLEAN, MESSY = 12, 35
TUESDAY = "/day/2026-03-17"


FRIDAY_BILLS = {
    "Dunmarrow Sanctuary": "$106.00",  # January's: its month is over
    "Wenna Harrowgill": "$257.50",  # 175.00 + 15.00, and half of 120.00 + 15.00
    "Corbin Ashlode": "$280.50",  # 198.00 + 15.00, and half of 120.00 + 15.00
    "Tamsin Vellacot": "$253.00",  # 48.00 and 175.00, and 15.00 each
}


@pytest.mark.parametrize("by", ["taps", "keyboard"])
def test_a_clean_day_is_written_up_in_three_entries(running: Running, page: Page, by: str) -> None:
    open_demo(running, page)
    hand = Hand(page, keyboard=by == "keyboard")
    write_up_friday(hand)

    assert hand.entries == 3
    assert hand.entries <= CLEAN
    assert rows(page, "Ready tonight") == FRIDAY_BILLS
    running.check()


def write_up_friday(hand: Hand) -> None:
    hand.follow("Open that day")
    hand.press("The rest as planned")
    hand.press("Done for the day")
    expect(hand.page.get_by_role("status")).to_contain_text("8 horses written up")


def test_a_clean_day_told_horse_by_horse_takes_no_more_than_twelve_entries(
    running: Running, page: Page
) -> None:
    open_demo(running, page)
    hand = Hand(page, keyboard=True)
    hand.follow("Open that day")
    hand.follow("Type the sheet in")
    for number in range(1, 9):
        hand.type_line(str(number))
    hand.press("Done for the day")
    expect(page.get_by_role("status")).to_contain_text("8 horses written up")

    assert hand.entries == 11
    assert hand.entries <= CLEAN
    go(running, page, "/money")
    assert rows(page, "Ready tonight") == FRIDAY_BILLS
    running.check()


TUESDAY_BILLS = {
    "Isolde Fenwright": "$62.48",  # half of 119.95 and 5.00, with the odd cent
    "Bram Quillory": "$62.47",
    "Jory Penhallow": "$180.00",  # 58.00 and 112.00, and 5.00 each
    "Sabra Thistlewood": "$188.00",  # 58.00 and 120.00, and 5.00 each
    "Corin Wavering": "$96.00",  # a full set less its hinds: 120.00 less half a trim, and 5.00
    "Piers Undermoor": "$105.00",
}
COLLECTING = {
    "Gorse Hollow Training": "$190.00",  # 60.00 and 120.00, and 5.00 each
    "Saltwhistle Riding School": "$276.00",  # Friday's: 108.00, 120.00 and 48.00
}
LINES = {
    "Old": 1, "Marigold": 2, "Kestrel": 3, "Quicksilver": 4, "Nutmeg": 5, "Larkspur": 6,
    "Pippin": 7, "Bracken": 8, "Falconer": 9, "Tansy": 10, "Duke": 11,
}  # fmt: skip
SHOES = "Steel riding shoe"


def test_a_messy_day_goes_from_the_paper_sheet_to_bills_and_what_is_left_of_it(
    running: Running, page: Page
) -> None:
    open_demo(running, page)
    load_the_truck(page)
    answer_the_telephone(page)
    numbers = read_the_sheet(running, page)
    write_up_friday(Hand(page))
    page.get_by_role("button", name="Issue all 4 bills: $897.00").click()
    running.check()

    go(running, page, "/")
    hand = Hand(page)
    type_the_sheet(hand, numbers)
    running.check()
    enter_the_counter_bill(hand, running)
    running.check()
    hand.follow("Today")
    hand.follow("Type the sheet in")
    set_the_next_date(hand)
    running.check()
    hand.follow("Type the sheet in")
    hand.press("The rest as planned, and done for the day")
    expect(page.get_by_role("status")).to_contain_text("12 horses written up")

    assert hand.entries == 35
    assert hand.entries <= MESSY
    running.check()
    page.get_by_role("link", name="Look at the bills").click()
    the_bills_are_ready(page)
    what_waits_for_an_answer(running, page)
    what_stands_in_the_records(running, page)
    money_out_is_listed_once(running, page)
    bill = issue_all(running, page)
    running.check()
    put_a_size_right(running, page, numbers["Bracken"], bill)
    running.check()
    what_pays_comes_to_the_same_both_ways(running, page)


def load_the_truck(page: Page) -> None:
    page.get_by_role("link", name="Load list").click()
    main = page.get_by_role("main")
    expect(main).to_contain_text("Friday, March 13, 2026 is not finished yet")
    expect(main.get_by_role("row", name=f"{SHOES} 0")).to_contain_text("2 pairs")
    expect(part(page, "Odd ones")).to_contain_text("Steel front shoe, side clips 0")
    expect(part(page, "Odd ones")).to_contain_text("1 pair + 1")


def answer_the_telephone(page: Page) -> None:
    page.get_by_role("link", name="Horses", exact=True).click()
    page.get_by_role("link", name="Old Boy").click()
    for answer in (
        "9 days ago",
        "Steel front shoe, side clips 0, 6 nails",
        "Free under guarantee: day 9 of 14.",
        "Nothing",
        "Gate code 2216",
    ):
        expect(part(page, "Now")).to_contain_text(answer)
    page.get_by_role("link", name="Today", exact=True).click()


def read_the_sheet(running: Running, page: Page) -> dict[str, int]:
    """Fetch the paper sheet and find the number of each horse's line, as a reader does."""
    link = page.get_by_role("link", name="Day sheet to print").get_attribute("href")
    assert link is not None
    lines = running.text_of(page, link).splitlines()
    for told in ("Tuesday, March 17, 2026", "kicks left behind", "Isolde Fenwright 62.48"):
        assert any(told in line for line in lines)
    at, numbers = 0, {}
    for name in LINES:
        at = next(no for no in range(at, len(lines)) if name in lines[no])
        near = sorted(range(at - 2, at + 3), key=lambda no: abs(no - at))
        found = [re.match(r" {0,2}([0-9]+) ", lines[no]) for no in near]
        numbers[name] = next(int(number[1]) for number in found if number)
    assert numbers == LINES
    return numbers


def type_the_sheet(hand: Hand, numbers: dict[str, int]) -> None:
    falconer = numbers["Falconer"]
    hand.follow("Type the sheet in")
    hand.type_line("miles 41210 41264")
    hand.type_line("along")
    hand.type_line(f"{numbers['Old']} lost lf found")
    hand.type_line(f"{numbers['Nutmeg']} owner")
    hand.type_line(f"{numbers['Bracken']} paid 190 tip 2 receipt 412")
    hand.type_line(f"{falconer} f")
    hand.type_line(f"{falconer} flag frightened behind")
    hand.type_line(f"{numbers['Tansy']} a")
    hand.type_line("b + Sarah's new bay, trim, 58")
    hand.type_line(f"{numbers['Duke']} creaks")
    hand.press("Did a knife go dull? Right-hand knife")

    said = {
        row.locator(".name").inner_text(): row.locator("b").all_inner_texts()
        for row in hand.page.locator(".typed-row").all()
        if row.locator("b").count()
    }
    assert said == {
        "Old Boy": ["LF reset, 0, 6 nails, the lost shoe was found"],
        "Nutmeg": ["Jory Penhallow pays this once"],
        "Bracken": ["$188.00 paid, cash, tip $2.00, receipt 412"],
        "Falconer": ["LH and RH not done"],
        "Tansy": ["Was not there"],
        "Sarah's new bay": ["Price told: $58.00"],
        "Duke": ["Foot stand: slipped, or made a noise"],
    }
    for answered in ("Right-hand knife: went dull", "Tobin Hask came along"):
        expect(hand.page.get_by_text(answered)).to_be_visible()


def set_the_next_date(hand: Hand) -> None:
    hand.follow("Next date for Fallowmere Livery")
    hand.press("Set the date")

    pinned = part(hand.page, "Next time")
    expect(pinned).to_contain_text("Tuesday, April 28, 2026")
    names = ["Marigold", "Kestrel", "Nutmeg", "Larkspur", "Pippin", "Bracken"]
    assert pinned.locator(".name").all_inner_texts() == names
    expect(hand.page.get_by_role("main")).not_to_contain_text("$")


def enter_the_counter_bill(hand: Hand, running: Running) -> None:
    before = on_hand(running)
    hand.follow("Enter the bill")
    hand.fill("From whom", "Gorsefield Counter")
    hand.fill("Total, with tax", "222.40")
    hand.choose("Card")
    hand.open("Say now what it was")
    lines = hand.page.locator(".bill-line")
    for no, line in enumerate(
        (
            (f"{SHOES} 0", "10", "115"),
            ("City head nail 5", "2", "22"),
            ("Rasp, 14 inch", "1", "24"),
        )
    ):
        for field, text in zip(("For the shelf", "How many", "Amount"), line, strict=True):
            hand.fill(field, text, within=lines.nth(no))
    hand.fill("Or what else it was", "Diesel", within=lines.nth(3))
    hand.fill("Amount", "61.40", within=lines.nth(3))
    hand.press("Enter it")
    expect(hand.page.get_by_role("status")).to_contain_text("$222.40 entered")

    arrived = {item: qty - before[item] for item, qty in on_hand(running).items()}
    assert {item: qty for item, qty in arrived.items() if qty} == {
        f"{SHOES} 0": 20,
        "City head nail 5": 500,
        "Rasp, 14 inch": 1,
    }


def on_hand(running: Running) -> dict[str, int]:
    with running.books() as database, database.reading() as session:
        found = session.execute(
            sa.select(Item.name, Item.size_text, sa.func.sum(OnHand.qty))
            .join(OnHand, OnHand.item_id == Item.id)
            .group_by(Item.id)
        ).all()
    return {f"{name} {size}".strip(): int(qty) for name, size, qty in found}


def the_bills_are_ready(page: Page) -> None:
    assert rows(page, "Ready tonight") == TUESDAY_BILLS
    expect(part(page, "Where it stands")).to_contain_text("$693.95")
    sabra = part(page, "Ready tonight").locator("li", has_text="Sabra Thistlewood")
    expect(sabra).to_contain_text("Paid already: $188.00 in hand, receipt 412")
    assert rows(page, "Collecting") == COLLECTING
    expect(part(page, "Collecting")).to_contain_text("until Tuesday, March 31, 2026")
    assert list(rows(page, "To find out")) == ["Sarah's new bay"]
    expect(page.get_by_role("main")).not_to_contain_text("Nell Ombersley")


def what_waits_for_an_answer(running: Running, page: Page) -> None:
    go(running, page, "/")
    expect(part(page, "First")).to_contain_text(
        "Foot stand: look at strap, lock and welds before the next horse."
    )
    expect(part(page, "First")).not_to_contain_text("not finished")
    assert rows(page, "Fallowmere Livery")["9. Falconer"].startswith("$96.00")
    assert rows(page, "Kiln Lane Paddock")["1. Old Boy"].startswith("$0.00")
    for heading, name, says in (
        ("To finish", "Falconer", "hinds not done, old shoes still on"),
        ("To find out", "Sarah's new bay", "Who pays?"),
        ("To rebook", "Tansy", "not there, and on no day since"),
    ):
        assert list(rows(page, heading)) == [name]
        expect(part(page, heading)).to_contain_text(says)


def what_stands_in_the_records(running: Running, page: Page) -> None:
    for line, name, heading, says in (
        (1, "Old Boy", "Price", "Free under guarantee: day 9 of 14. ($35.00 not charged)"),
        (1, "Old Boy", "Feet", "LF: the lost shoe was found and is back on."),
        (9, "Falconer", "First", "frightened behind"),
        (9, "Falconer", "Price", "$91.00"),
        (10, "Tansy", "Price", "trip fee waived. ($5.00 not charged)"),
        (5, "Nutmeg", "Who pays", "Jory Penhallow pays this once."),
    ):
        open_record(running, page, f"{line}. {name}")
        expect(part(page, heading)).to_contain_text(says)
    page.get_by_role("link", name="Horse card").click()
    expect(part(page, "Who pays")).to_contain_text("Gorse Hollow Training")
    open_record(running, page, "1. Old Boy")
    page.get_by_role("link", name="Horse card").click()
    expect(part(page, "Next time")).to_contain_text("Sunday, April 19, 2026")
    expect(part(page, "Now")).to_contain_text("1 in 12 months; 1 at the barn")
    go(running, page, "/shelf")
    page.get_by_role("link", name="Right-hand knife").click()
    expect(page.get_by_role("main")).to_contain_text("dull")


def open_record(running: Running, page: Page, line: str) -> None:
    go(running, page, TUESDAY)
    page.get_by_role("link", name=line, exact=True).click()


def money_out_is_listed_once(running: Running, page: Page) -> None:
    go(running, page, "/spending")
    of_today = part(page, "Bills").locator("li", has_text="Mar 17, 2026")
    expect(of_today).to_have_count(1)
    expect(of_today).to_contain_text("$222.40")
    expect(of_today).to_contain_text("card")
    (pay,) = table(page, "Pay for days along")
    assert pay[:2] == ["Tobin Hask", "$90.00\n1 day along"]
    of_today.get_by_role("link").click()
    assert [line[-1] for line in table(page, "What is on it")] == [
        "$115.00", "$22.00", "$24.00", "$61.40", "$222.40",
    ]  # fmt: skip
    with running.books() as database, database.reading() as session:
        owed = session.execute(sa.select(PayOwed.amount, PayOwed.undoes_id)).all()
    assert [tuple(row) for row in owed] == [(9_000, None)]


def issue_all(running: Running, page: Page) -> str:
    """Issue the six bills with one press; give the address of Sabra Thistlewood's."""
    go(running, page, "/money")
    page.get_by_role("button", name="Issue all 6 bills: $693.95").click()
    expect(page.get_by_role("heading", name="Bills 1017 to 1022")).to_be_visible()
    made = part(page, "Made").locator("li")
    assert made.locator(".name").all_inner_texts() == list(TUESDAY_BILLS)
    for no, amount in enumerate(TUESDAY_BILLS.values()):
        expect(made.nth(no)).to_contain_text(amount)
    texts = [field.input_value() for field in part(page, "Texts to send").locator("textarea").all()]
    by_text = ("Bram Quillory", "Jory Penhallow", "Corin Wavering")
    for name, text in zip(by_text, texts, strict=True):
        assert f"{TUESDAY_BILLS[name]}, to be paid by" in text
    sabra = made.filter(has_text="Sabra Thistlewood")
    expect(sabra).to_contain_text(", paid")
    link = sabra.get_by_role("link", name="PDF").get_attribute("href")
    assert link is not None
    return link


def put_a_size_right(running: Running, page: Page, bracken: int, bill: str) -> None:
    open_record(running, page, f"{bracken}. Bracken")
    assert ["Shoes, nails and the rest", "-$23.30"] in table(page, "What’s left")
    before, printed = on_hand(running), running.text_of(page, bill)
    assert "188.00" in printed

    go(running, page, f"{TUESDAY}/evening")
    Hand(page).type_line(f"{bracken} fronts 00")
    status = page.get_by_role("status")
    expect(status).to_contain_text(f"Line {bracken} costs $125.00, as before.")
    expect(status).to_contain_text("Shoes and nails on the shelf followed.")

    moved = {item: qty - before[item] for item, qty in on_hand(running).items()}
    changed = {item: qty for item, qty in moved.items() if qty}
    assert changed == {f"{SHOES} 0": 2, f"{SHOES} 00": -2}
    open_record(running, page, f"{bracken}. Bracken")
    # Two shoes of 11.50 instead of 11.00, and the nails as before.
    assert ["Shoes, nails and the rest", "-$24.30"] in table(page, "What’s left")
    assert running.text_of(page, bill) == printed


def what_pays_comes_to_the_same_both_ways(running: Running, page: Page) -> None:
    go(running, page, "/what-pays?by=clients&since=2026-03-13&until=2026-03-17")
    clients = table(page, "What’s left")
    page.get_by_role("link", name="By kind of horse").click()
    expect(page.get_by_role("columnheader", name="Kind of horse")).to_be_visible()
    kinds = table(page, "What’s left")
    # Friday 1,067.00; Tuesday's ready bills 693.95, the trainer's 190.00, Sarah's bay 58.00.
    assert clients[-1][:2] == ["All", "$2,008.95"]
    assert clients[-1] == kinds[-1]
    assert len(clients) == 14
    worked = {line[0].strip(): cents(line[1]) for line in clients[:-1]}
    assert worked["Payer not known yet"] == 5_800
    assert sum(worked.values()) == sum(cents(line[1]) for line in kinds[:-1]) == 200_895

    page.get_by_role("link", name="By client").click()
    page.get_by_role("link", name="Sabra Thistlewood").click()
    expect(page.get_by_role("heading", name="Sabra Thistlewood", level=1)).to_be_visible()
    opened = page.url
    figures = {line[0].split()[0]: line for line in table(page, "Horses")}
    assert {name: line[1] for name, line in figures.items()} == {
        "Pippin": "$63.00",
        "Bracken": "$125.00",
    }
    for name, line in figures.items():
        page.goto(opened)
        part(page, "Horses").get_by_role("link", name=name).click()
        expect(page.get_by_role("heading", name=name, level=1)).to_be_visible()
        assert ["Price without tax", line[1]] in table(page, "What’s left")
        assert table(page, "What’s left")[-1][-1] == line[3]


def cents(shown: str) -> int:
    return int(re.sub(r"[$,.]", "", shown))
