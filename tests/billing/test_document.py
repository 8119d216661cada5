"""What stands on the printed bill, and that it is set the same each time."""

import json
import re
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from backoffice.billing.document import pdf, sheet
from backoffice.billing.rules import (
    Body,
    DocumentKind,
    DocumentLine,
    LineText,
    Particulars,
    Printed,
    Seller,
    body_text,
    particulars_text,
    printed,
    totals,
)
from backoffice.errors import Refused
from backoffice.folders import templates
from backoffice.pricing.rules import net_of
from backoffice.words import CATALOGUE
from tests.conftest import skip

THURSDAY, TUESDAY = date(2026, 3, 12), date(2026, 3, 17)
BUYER = ("Reiterhof Straße & Söhne", "Zoë Ğürsel", "12 Meadow Way")
SELLER = Seller(
    name="Hollow Hill Farriery",
    address=("Ada Łęcka", "14 Smithy Lane"),
    pay_to=("Cash or check on the day.",),
)
HOSTILE = '#panic("x") *bold* $x$ #read("/etc/hostname") \\ @preview "q" <tag> // no'


def bill(
    *done: tuple[date | None, str | None, str, int],
    paid: int | None = None,
    note: str = "",
    rate_ppm: int = 0,
    emptied: bool = False,
    buyer: tuple[str, ...] = BUYER,
    **more: object,
) -> Printed:
    includes_tax = bool(more.get("includes_tax"))
    lines = tuple(
        DocumentLine(
            kind="service",
            net=net_of(cents, rate_ppm) if includes_tax else cents,
            quoted=cents,
            category="S" if rate_ppm else "O",
            rate_ppm=rate_ppm,
        )
        for *_, cents in done
    )
    facts = {
        "series": "B",
        "no": 1042,
        "kind": DocumentKind.INVOICE,
        "issued": date(2026, 3, 18),
        "due": date(2026, 4, 1),
        "currency": "USD",
        "words": "us",
        "includes_tax": False,
        "seller": SELLER,
        "lines": lines,
        "totals": totals(lines, includes_tax=includes_tax),
    }
    said = tuple(LineText(text=text, horse=horse, day=day) for day, horse, text, _ in done)
    personal = particulars_text(Particulars(buyer=buyer, lines=said, note=note))
    return printed(body_text(Body(**facts | more)), None if emptied else personal, paid)


def words_of(made: bytes, tmp_path: Path, *, page: int | None = None) -> str:
    """Read a PDF as text, with line ends and break marks taken for what they are."""
    if not shutil.which("pdftotext"):
        skip("pdftotext (poppler-utils) is not installed")
    file = tmp_path / "made.pdf"
    file.write_bytes(made)
    pages = ["-f", str(page), "-l", str(page)] if page else []
    command = ["pdftotext", "-layout", *pages, str(file), "-"]
    text = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    return re.sub(r"\s+", " ", text.replace("\u200b", ""))


PLAIN = bill(
    (THURSDAY, "Juniper", "Full set, new shoes", 17500),
    (THURSDAY, "Juniper", "Studs", 1200),
    (TUESDAY, "Ďáblík", "Trim", 5800),
    (TUESDAY, None, "Trip fee", 500),
    note="Mind the gate.",
)


def test_a_bill_says_who_what_how_much_and_by_when():
    assert sheet(PLAIN) == {
        "region": "US",
        "title": "Bill B-1042",
        "seller": {
            "name": "Hollow Hill Farriery",
            "address": ["Ada Łęcka", "14 Smithy Lane"],
            "tax_id": "",
        },
        "heading": "Bill",
        "number": "B-1042",
        "corrects": "",
        "facts": [
            ["Date", "Wednesday, March 18, 2026"],
            ["Please pay by", "Wednesday, April 1, 2026"],
        ],
        "for": "For",
        "buyer": ["Reiterhof Straße & Söhne", "Zoë Ğürsel", "12 Meadow Way"],
        "head": {
            "day": "Day",
            "horse": "Horse",
            "done": "What was done",
            "tax": "Tax",
            "amount": "Amount, USD",
        },
        "rows": [
            row("day", "Thu, Mar 12, 2026", "Juniper", "Full set, new shoes", "175.00", lines=2),
            row("", "", "", "Studs", "12.00", lines=2),
            row("day", "Tue, Mar 17, 2026", "Ďáblík", "Trim", "58.00"),
            row("horse", "", "", "Trip fee", "5.00"),
        ],
        "rates": False,
        "include": "",
        "sums": [],
        "total": ["Total", "$250.00"],
        "after": [],
        "settled": "",
        "note": ["Note", "Mind the gate."],
        "pay_to": ["How to pay", "Cash or check on the day."],
        "page": ["Page", "of"],
    }


def row(begins: str, day: str, horse: str, done: str, amount: str, lines: int = 1) -> dict:
    return {
        "begins": begins,
        "lines": lines,
        "day": day,
        "horse": horse,
        "done": done,
        "tax": "0%",
        "amount": amount,
    }


def test_tax_stands_on_the_bill_with_its_rate_and_base():
    said = sheet(bill((TUESDAY, "Juniper", "Full set", 10500), rate_ppm=71_250))

    assert said["sums"] == [["Before tax", "105.00"], ["Sales tax 7.125% on $105.00", "7.48"]]
    assert said["total"] == ["Total", "$112.48"]


def test_prices_that_include_tax_say_so_and_show_the_rounding():
    done = [(TUESDAY, "Juniper", "Work", cents) for cents in (10500, 1999, 4800, 999)]
    said = sheet(bill(*done, rate_ppm=200_000, includes_tax=True, words="uk", currency="GBP"))

    assert said["sums"] == [
        ["Before VAT", "152.49"],
        ["VAT 20% on £152.49", "30.50"],
        ["Rounding", "−0.01"],
    ]
    assert said["total"] == ["Total", "£182.98"]
    assert said["include"] == "Prices include VAT."


def test_lines_show_their_rate_where_there_are_several():
    lines = tuple(
        DocumentLine(kind="goods", net=123456, quoted=123456, category=category, rate_ppm=rate)
        for category, rate in (("S", 200_000), ("S", 55_000), ("Z", 0), ("E", 0))
    )
    one = bill(*[(TUESDAY, None, "Goods", 1)] * 4)
    whole = body_text(replace(one.body, lines=lines, totals=totals(lines, includes_tax=False)))
    said = sheet(printed(whole, None))

    assert said["rates"] is True
    assert [each["tax"] for each in said["rows"]] == ["20%", "5.5%", "0%", "exempt"]
    assert [each["amount"] for each in said["rows"]] == ["1,234.56"] * 4
    assert ["No sales tax on $1,234.56, exempt", "0.00"] in said["sums"]
    assert ["Sales tax 0% on $1,234.56", "0.00"] in said["sums"]


@pytest.mark.parametrize(
    ("paid", "after", "settled"),
    [
        (None, [], ""),
        (0, [], ""),
        (2000, [["Paid so far", "$20.00"], ["Still to pay", "$38.00"]], ""),
        (5800, [["Paid so far", "$58.00"]], "Paid in full. Thank you."),
        (
            6000,
            [["Paid so far", "$60.00"], ["Kept for your next bill", "$2.00"]],
            "Paid in full. Thank you.",
        ),
    ],
)
def test_what_was_paid_is_taken_into_account(paid, after, settled):
    said = sheet(bill((TUESDAY, "Juniper", "Trim", 5800), paid=paid))

    assert (said["after"], said["settled"]) == (after, settled)
    assert bool(said["pay_to"]) is not bool(settled)


def test_a_correction_names_its_bill_and_asks_for_nothing():
    said = sheet(
        bill((TUESDAY, "Juniper", "Trim", 5800), kind=DocumentKind.CREDIT, credits="B-1001")
    )

    assert said["title"] == "Correction B-1042 to bill B-1001"
    assert (said["heading"], said["corrects"]) == ("Correction", "to bill B-1001")
    assert said["total"] == ["Taken off what you owe", "$58.00"]
    assert [what for what, _ in said["facts"]] == ["Date"]
    assert said["pay_to"] == []


def test_emptied_particulars_leave_the_figures_and_say_so():
    said = sheet(bill((TUESDAY, "Juniper", "Trim", 5800), note="Mind the gate.", emptied=True))

    assert said["buyer"] == ["Name and address removed"]
    assert said["rows"] == [row("day", "", "", "Details removed", "58.00")]
    assert "Juniper" not in json.dumps(said)
    assert "gate" not in json.dumps(said)


def test_several_of_a_thing_are_counted():
    one = bill((TUESDAY, "Juniper", "Stud", 1200))
    four = replace(one.body, lines=(replace(one.body.lines[0], qty=4),))
    said = sheet(
        printed(
            body_text(four),
            particulars_text(Particulars(buyer=BUYER, lines=(LineText(text="Stud"),))),
        )
    )

    assert said["rows"][0]["done"] == "4 × Stud"


def test_a_currency_without_cents_shows_none():
    said = sheet(bill((TUESDAY, "Juniper", "Trim", -5800), currency="JPY"))

    assert said["rows"][0]["amount"] == "−5,800"


def test_every_sentence_of_a_document_is_complete_in_both_sets_of_words():
    codes = {code for code in CATALOGUE["us"] if code.startswith("document.")}

    assert codes
    assert codes == {code for code in CATALOGUE["uk"] if code.startswith("document.")}


@pytest.mark.parametrize(("paper", "size"), [("us-letter", b"612 792"), ("a4", b"595")])
def test_both_papers_are_set(paper, size):
    made = pdf(PLAIN, paper)

    assert made.startswith(b"%PDF-")
    assert re.search(rb"/MediaBox\s*\[\s*0 0 " + size, made)


def test_the_paper_says_what_the_record_says(tmp_path):
    text = words_of(pdf(PLAIN, "a4"), tmp_path)

    for said in (
        "Bill B-1042", "Reiterhof Straße & Söhne", "Zoë Ğürsel", "Ada Łęcka", "Ďáblík",
        "Full set, new shoes", "175.00", "Total $250.00", "Page 1 of 1",
        "Please pay by Wednesday, April 1, 2026",
    ):  # fmt: skip
        assert said in text


def test_a_document_is_archival_and_readable_aloud():
    made = pdf(PLAIN, "a4")

    assert b"pdfaid:part" in made
    assert b"pdfuaid:part" in made
    assert b"/MarkInfo" in made


def test_the_same_record_gives_the_same_bytes():
    assert pdf(PLAIN, "a4") == pdf(PLAIN, "a4")


def test_the_same_record_gives_the_same_bytes_in_another_program_run():
    again = (
        "import sys; from tests.billing.test_document import PLAIN, pdf;"
        " sys.stdout.buffer.write(pdf(PLAIN, 'a4'))"
    )
    root = Path(__file__).parents[2]
    other = subprocess.run([sys.executable, "-c", again], capture_output=True, check=True, cwd=root)

    assert other.stdout == pdf(PLAIN, "a4")


def test_what_people_typed_is_never_markup(tmp_path):
    evil = bill((TUESDAY, HOSTILE, HOSTILE, 5800), note=HOSTILE, buyer=(HOSTILE,))

    text = words_of(pdf(evil, "us-letter"), tmp_path)

    assert text.count('#read("/etc/hostname")') >= 3
    assert text.count("*bold* $x$") >= 3
    assert HOSTILE in text


@pytest.mark.parametrize(
    "odd",
    [
        "שלום עולם",
        "مرحبا",
        "x" * 10_000,
        "word " * 2_000,
        "Star 🐴",
        "漢字",
        "a\x01b\x7f",
        "\ud800",
        "\u202eabc",
        "two\nlines\r\nand a tab\t",
        "",
    ],
    ids=ascii,
)
def test_no_name_keeps_a_bill_from_being_set(odd):
    made = pdf(bill((TUESDAY, odd, odd, 5800), note=odd, buyer=(odd,)), "a4")

    assert made.startswith(b"%PDF-")
    assert made.rstrip().endswith(b"%%EOF")


def test_a_word_too_long_for_the_page_is_broken_not_cut(tmp_path):
    text = words_of(pdf(bill((TUESDAY, "Juniper", "x" * 10_000, 5800)), "a4"), tmp_path)

    assert text.count("x") == 10_000


def test_a_long_bill_repeats_its_head_on_each_page(tmp_path):
    done = [
        (date(2026, 2, 2 + nth // 6), f"Horse {nth // 2}", f"Work {nth}.", 100 + nth)
        for nth in range(60)
    ]
    made = pdf(bill(*done), "us-letter")

    first, second = (words_of(made, tmp_path, page=page) for page in (1, 2))

    for page, text in ((1, first), (2, second)):
        assert "Day Horse What was done Amount, USD" in text
        assert f"Page {page} of 2" in text
    assert all((first + second).count(f"Work {nth}.") == 1 for nth in range(60))
    assert "Total $77.70" in second


def test_eight_threads_set_bills_at_once():
    bills = [bill((TUESDAY, f"Horse {nth}", "Trim", nth)) for nth in range(40)]

    with ThreadPoolExecutor(8) as threads:
        made = list(threads.map(lambda each: pdf(each, "a4"), bills))

    assert made == [pdf(each, "a4") for each in bills]


def test_without_the_typesetter_the_refusal_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    with ThreadPoolExecutor(1) as fresh_thread, pytest.raises(Refused) as refused:
        fresh_thread.submit(pdf, PLAIN, "a4").result()

    assert refused.value.code == "document.no_typesetter"


def test_no_layout_reaches_for_anything_outside_itself():
    layouts = list((templates() / "documents").glob("*.typ"))

    assert layouts
    for layout in layouts:
        text = layout.read_text(encoding="utf-8")
        assert not re.search(
            r"@preview|#?\b(read|import|include|image|plugin|eval)\b\s*[(\"]", text
        )
