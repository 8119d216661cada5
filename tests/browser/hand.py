"""What a farrier presses, fills and types in the evening, counted; and the lists he reads."""

import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import Running


class Hand:
    """A farrier's hand: counts each press, each field filled and each line typed and sent."""

    def __init__(self, page: Page, *, keyboard: bool = False) -> None:
        self.page = page
        self.keyboard = keyboard
        self.entries = 0

    def press(self, name: str, *, role: str = "button", within: Locator | None = None) -> None:
        """Press a button or a link by its name, by tap or by Enter."""
        begins = re.compile(f"^{re.escape(name)}")
        found = (within or self.page).get_by_role(role, name=begins)  # type: ignore[arg-type]
        self.entries += 1
        if self.keyboard:
            found.press("Enter")
        else:
            found.click()

    def follow(self, name: str, *, within: Locator | None = None) -> None:
        """Press a link."""
        self.press(name, role="link", within=within)

    def fill(self, name: str, text: str, *, within: Locator | None = None) -> None:
        """Fill one field, or choose one line of its list."""
        field = (within or self.page).get_by_label(name, exact=True)
        self.entries += 1
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(label=text)
        else:
            field.fill(text)

    def choose(self, name: str) -> None:
        """Choose one of a few answers."""
        self.entries += 1
        self.page.get_by_role("radio", name=name, exact=True).check()

    def open(self, name: str) -> None:
        """Open what is folded away."""
        self.entries += 1
        self.page.get_by_text(name, exact=True).click()

    def type_line(self, text: str) -> None:
        """Type one line where the cursor stands, and send it with Enter."""
        expect(self.page.locator("input[name=text]")).to_be_focused()
        self.entries += 1
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")
        expect(self.page.get_by_role("status")).to_contain_text("Written down")


def open_demo(running: Running, page: Page) -> None:
    page.goto(running.link)
    expect(page.get_by_role("heading", name="Tuesday, March 17, 2026")).to_be_visible()


def go(running: Running, page: Page, path: str) -> None:
    page.goto(f"http://127.0.0.1:{running.port}{path}")


def part(page: Page, heading: str) -> Locator:
    """Give the part of a page under a heading."""
    return page.locator(".entry", has=page.get_by_role("heading", name=heading, exact=True))


def rows(page: Page, heading: str) -> dict[str, str]:
    """Read one list of a page: what stands at the end of each row, by its name."""
    return {
        row.locator(".name").inner_text(): row.locator(".row-end").inner_text()
        for row in part(page, heading).locator(".rows > li").all()
    }


def table(page: Page, heading: str) -> list[list[str]]:
    """Read the rows of a table under a heading, cell by cell, its foot last."""
    lines = part(page, heading).locator("tbody tr, tfoot tr")
    return [line.locator("th, td").all_inner_texts() for line in lines.all()]
