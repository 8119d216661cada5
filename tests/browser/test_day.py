"""A newcomer's evening in a real browser: the one-time link, the day, the bill, the PDF."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Running

pytestmark = pytest.mark.browser


def test_a_newcomer_signs_in_closes_the_day_and_opens_the_bill(
    running: Running, page: Page
) -> None:
    page.goto(running.link)
    expect(page.get_by_role("heading", name="Tuesday, March 17, 2026")).to_be_visible()
    assert "token" not in page.url

    page.get_by_role("link", name="Open that day").click()
    expect(page.get_by_role("heading", name="Friday, March 13, 2026")).to_be_visible()
    page.get_by_role("button", name="As planned: Bramble").click()
    expect(page.locator("li", has_text="Bramble").get_by_text("done")).to_be_visible()
    page.get_by_role("button", name="The rest as planned").click()
    page.get_by_role("button", name="Done for the day").click()
    expect(page.get_by_role("status")).to_contain_text("8 horses written up")

    page.get_by_role("link", name="Wenna Harrowgill").click()
    page.get_by_role("button", name="Issue the bill").click()
    expect(page.get_by_role("heading", name="Bill 1013")).to_be_visible()
    link = page.get_by_role("link", name="Open as PDF").get_attribute("href")
    assert link is not None
    text = running.text_of(page, link)

    # Bramble 175.00 and 15.00 trip; half of Old Tolliver: 60.00 and 7.50.
    assert "Bill 1013" in text
    assert "Bramble" in text
    assert "257.50" in text
    running.check()
