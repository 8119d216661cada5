"""The horse nobody had booked: whose it is and who pays, and the wrong client on a bill."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Running
from tests.browser.hand import Hand, go, open_demo, part, rows

BAY = "Sarah's new bay"


def type_the_bay(hand: Hand) -> None:
    hand.follow("Type the sheet in")
    hand.type_line(f"b + {BAY}, trim, 58")
    hand.type_line("1 lost lf found")


def finish_tuesday(running: Running, hand: Hand) -> None:
    go(running, hand.page, "/")
    hand.press("The rest as planned")
    hand.press("Done for the day")
    expect(hand.page.get_by_role("status")).to_contain_text("written up")


@pytest.mark.parametrize("done_first", [True, False], ids=["after the day", "before it"])
def test_the_new_bay_gets_its_name_and_its_client_and_the_bill_is_ready(
    running: Running, page: Page, done_first: bool  # noqa: FBT001 (a parameter of the test)
) -> None:  # fmt: skip
    open_demo(running, page)
    hand = Hand(page)
    type_the_bay(hand)
    if done_first:
        finish_tuesday(running, hand)
        go(running, page, "/")
        hand.follow("Say who pays", within=part(page, "To find out"))
    else:
        go(running, page, "/")
        page.get_by_role("link", name=BAY).click()
        hand.follow("Say who pays")
    hand.fill("Or somebody new", "Sarah Quill")
    hand.fill("Or its name, if it is new here", "Juniper")
    hand.press("Save")

    expect(page.get_by_role("status")).to_contain_text("Juniper has a card of its own now.")
    expect(page.get_by_role("heading", level=1)).to_have_text("Juniper")
    expect(part(page, "Who pays")).to_contain_text("Sarah Quill pays.")
    if not done_first:
        finish_tuesday(running, hand)
    go(running, page, "/money")
    assert rows(page, "Ready tonight")["Sarah Quill"] == "$58.00"
    running.check()


def test_a_bill_to_the_wrong_client_is_found_fixed_and_issued_to_the_right_one(
    running: Running, page: Page
) -> None:
    open_demo(running, page)
    hand = Hand(page)
    go(running, page, "/bills")
    hand.follow("Saltwhistle Riding School")
    expect(page.get_by_role("heading", level=1)).to_have_text("Bill 1009")
    hand.press("Fix this bill")

    after = part(page, "What comes next")
    expect(after).to_contain_text("ready to be billed again: say who pays, or change the price")
    after.get_by_role("link", name="Who pays").first.click()
    hand.fill("A client you have", "Tamsin Vellacot")
    hand.choose("Only this once")
    hand.press("Save")

    expect(part(page, "Who pays")).to_contain_text("Tamsin Vellacot pays this once.")
    go(running, page, "/money")
    assert "Tamsin Vellacot" in rows(page, "Ready tonight")
    running.check()
