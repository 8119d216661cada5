"""What a bill comes to, what of it is frozen, and which bill a payment settles."""

import hashlib
import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.billing.rules import (
    CHAIN_START,
    Body,
    DocumentKind,
    DocumentLine,
    LineText,
    Particulars,
    Seller,
    TaxSum,
    allocate_oldest_first,
    body_text,
    canonical,
    chain,
    collecting_until,
    digest,
    document_number,
    particulars_text,
    printed,
    read_body,
    read_particulars,
    totals,
)
from backoffice.errors import Refused
from backoffice.money import apply_rate
from backoffice.pricing.rules import net_of

MONDAY, TUESDAY = date(2026, 3, 16), date(2026, 3, 17)
BUYER = ("Zoë Ğürsel", "12 Meadow Way")


def line(net: int, category: str = "O", rate_ppm: int = 0, quoted: int | None = None):
    return DocumentLine(
        kind="service",
        code="trim",
        net=net,
        quoted=net if quoted is None else quoted,
        category=category,
        rate_ppm=rate_ppm,
    )


def told(quoted: int, rate_ppm: int):
    net = net_of(quoted, rate_ppm)
    return line(net, "S" if rate_ppm else "Z", rate_ppm, quoted=quoted)


def body(lines: tuple[DocumentLine, ...], **more: object) -> Body:
    facts = {
        "series": "B",
        "no": 1042,
        "kind": DocumentKind.INVOICE,
        "issued": TUESDAY,
        "due": date(2026, 3, 31),
        "currency": "USD",
        "words": "us",
        "includes_tax": False,
        "seller": Seller(name="Hollow Hill Farriery", address=("14 Smithy Lane",)),
        "lines": lines,
        "totals": totals(lines, includes_tax=False),
    }
    return Body(**facts | more)


def test_a_bill_outside_the_tax_comes_to_its_lines():
    bill = totals([line(17500), line(1200), line(500)], includes_tax=False)

    assert (bill.net, bill.tax, bill.gross, bill.rounding, bill.payable) == (
        19200, 0, 19200, 0, 19200,
    )  # fmt: skip
    assert bill.taxes == (TaxSum(category="O", rate_ppm=0, base=19200, tax=0),)


def test_tax_is_taken_once_for_each_rate_on_the_whole_bill():
    bill = totals(
        [line(333, "S", 200_000), line(333, "S", 200_000), line(1000, "E"), line(99, "S", 50_000)],
        includes_tax=False,
    )

    assert bill.taxes == (
        TaxSum(category="E", rate_ppm=0, base=1000, tax=0),
        TaxSum(category="S", rate_ppm=50_000, base=99, tax=5),
        TaxSum(category="S", rate_ppm=200_000, base=666, tax=133),
    )
    assert (bill.net, bill.tax, bill.payable) == (1765, 138, 1903)


def test_prices_that_include_tax_are_paid_as_they_were_told():
    # Nets 87.50, 16.66, 40.00, 8.33 sum to 152.49; 20 % of it is 30.498, so 30.50 and 182.99.
    bill = totals([told(cents, 200_000) for cents in (10500, 1999, 4800, 999)], includes_tax=True)

    assert (bill.net, bill.tax, bill.gross, bill.rounding, bill.payable) == (
        15249, 3050, 18299, -1, 18298,
    )  # fmt: skip


def test_a_gross_price_that_no_net_reaches_is_still_paid_as_told():
    # At 20 % nets of 0.02 and 0.03 give 0.02 and 0.04: 0.03 is never reached.
    bill = totals([told(3, 200_000)], includes_tax=True)

    assert (bill.net, bill.tax, bill.gross, bill.rounding, bill.payable) == (3, 1, 4, -1, 3)


def test_a_bill_without_lines_comes_to_nothing():
    assert totals([], includes_tax=True).payable == 0


@pytest.mark.parametrize("category", ["O", "E", "Z"])
def test_a_line_without_tax_has_no_rate(category):
    with pytest.raises(Refused, match=r"document\.rate_unfit"):
        totals([line(100, category, 1)], includes_tax=False)


def test_a_line_with_tax_needs_a_rate():
    with pytest.raises(Refused, match=r"document\.rate_unfit"):
        totals([line(100, "S", 0)], includes_tax=False)


@pytest.mark.parametrize(("other", "rate"), [("S", 200_000), ("E", 0), ("Z", 0)])
def test_work_outside_the_tax_is_not_mixed_with_work_under_it(other, rate):
    with pytest.raises(Refused, match=r"document\.outside_mixed"):
        totals([line(100), line(100, other, rate)], includes_tax=False)


RATES = st.sampled_from([0, 1, 50_000, 71_250, 200_000, 999_999])
QUOTED = st.lists(st.builds(told, st.integers(-1_000_000, 1_000_000), RATES), max_size=12)


@given(QUOTED)
def test_what_is_paid_is_the_sum_of_the_prices_told(lines):
    bill = totals(lines, includes_tax=True)

    assert bill.payable == sum(each.quoted for each in lines)
    assert bill.payable == bill.gross + bill.rounding
    assert abs(bill.rounding) <= len(lines) + len(bill.taxes)


@given(QUOTED, st.booleans())
def test_a_bill_adds_up_whatever_is_on_it(lines, includes_tax):
    bill = totals(lines, includes_tax=includes_tax)

    assert bill.net == sum(part.base for part in bill.taxes) == sum(each.net for each in lines)
    assert bill.tax == sum(part.tax for part in bill.taxes)
    assert bill.gross == bill.net + bill.tax
    assert all(part.tax == apply_rate(part.base, part.rate_ppm) for part in bill.taxes)


@given(QUOTED.flatmap(lambda lines: st.tuples(st.just(lines), st.permutations(lines))))
def test_the_order_of_the_lines_changes_no_total(pair):
    lines, shuffled = pair

    assert totals(lines, includes_tax=True) == totals(shuffled, includes_tax=True)


@given(st.integers(-10_000_000, 10_000_000), st.integers(0, 1_000_000))
def test_the_net_of_a_quoted_price_is_the_nearest_there_is(quoted, rate):
    net = net_of(quoted, rate)

    assert abs(net * (1_000_000 + rate) - quoted * 1_000_000) * 2 <= 1_000_000 + rate


def test_a_number_carries_the_name_of_its_series_if_there_is_one():
    assert document_number("B", 1042) == "B-1042"
    assert document_number("", 7) == "7"


def test_canonical_text_is_sorted_without_spaces_and_ascii():
    assert canonical({"b": [1, None, True], "a": "ß", "c": MONDAY}) == (
        '{"a":"\\u00df","b":[1,null,true],"c":"2026-03-16"}'
    )


@pytest.mark.parametrize("data", [1.5, [0.0], {"a": {"b": (2.0,)}}, {1: "a"}, {"a": {1.5: 2}}])
def test_canonical_text_takes_no_floats_and_no_keys_but_text(data):
    with pytest.raises(TypeError):
        canonical(data)


def test_the_frozen_half_reads_back_as_it_was_and_names_nobody():
    lines = (line(1000, "S", 71_250), line(500, "E"))
    whole = body(lines, credits="B-1001", due=None)

    text = body_text(whole)

    assert read_body(text) == whole
    assert body_text(read_body(text)) == text
    assert text.isascii()
    assert set(json.loads(text)) == {
        "series", "no", "kind", "issued", "due", "currency", "words", "includes_tax", "seller",
        "lines", "totals", "credits", "template",
    }  # fmt: skip
    assert json.loads(text)["kind"] == "380"
    assert read_body(text).totals == totals(read_body(text).lines, includes_tax=False)


def test_the_personal_half_reads_back_as_it_was():
    personal = Particulars(
        buyer=BUYER,
        lines=(LineText(text="Trim", horse="Ďáblík", day=MONDAY), LineText(text="Late fee")),
        note="Mind the gate.",
    )

    assert read_particulars(particulars_text(personal)) == personal


def test_the_digest_is_of_the_salt_and_then_the_text():
    # SHA-256 of the bytes "abc", FIPS 180-4's own example, cut in two.
    assert digest("61", "bc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_chain_is_of_the_seal_before_the_number_the_body_and_the_digest():
    sealed = digest("00", "x")
    by_hand = bytes(32) + b"\0\0\0\0\0\0\x04\x12" + hashlib.sha256(b"{}").digest()

    assert chain(CHAIN_START, 1042, "{}", sealed) == (
        hashlib.sha256(by_hand + bytes.fromhex(sealed)).hexdigest()
    )


def test_each_part_of_the_chain_counts():
    one, other = digest("00", "x"), digest("01", "x")
    seals = {
        chain(CHAIN_START, 1, "{}", one),
        chain(one, 1, "{}", one),
        chain(CHAIN_START, 2, "{}", one),
        chain(CHAIN_START, 1, "{ }", one),
        chain(CHAIN_START, 1, "{}", other),
    }

    assert len(seals) == 5


@pytest.mark.parametrize(("prev", "sealed"), [("", CHAIN_START), (CHAIN_START, "00")])
def test_a_seal_of_another_length_is_a_mistake(prev, sealed):
    with pytest.raises(ValueError, match="32 bytes"):
        chain(prev, 1, "{}", sealed)


def test_a_bill_is_read_by_day_and_then_by_horse():
    said = [
        LineText(text="Interest"),
        LineText(text="Trim", horse="Thistle", day=TUESDAY),
        LineText(text="Full set", horse="Bramble", day=MONDAY),
        LineText(text="Trip fee", day=TUESDAY),
        LineText(text="Studs", horse="Thistle", day=TUESDAY),
    ]
    text = body_text(body(tuple(line(cents) for cents in (1, 2, 3, 4, 5))))

    page = printed(text, particulars_text(Particulars(buyer=BUYER, lines=tuple(said))))

    assert [
        (day.day, [(horse.name, [(each.text, each.amount) for each in horse.lines])])
        for day in page.days
        for horse in day.horses
    ] == [
        (MONDAY, [("Bramble", [("Full set", 3)])]),
        (TUESDAY, [("Thistle", [("Trim", 2), ("Studs", 5)])]),
        (TUESDAY, [(None, [("Trip fee", 4)])]),
        (None, [(None, [("Interest", 1)])]),
    ]
    assert page.buyer == BUYER
    assert (page.paid, page.open) == (None, 15)


def test_prices_that_include_tax_are_read_as_they_were_told():
    lines = (told(10500, 200_000),)
    sums = totals(lines, includes_tax=True)
    personal = particulars_text(Particulars(buyer=BUYER, lines=(LineText(text="Full set"),)))

    page = printed(body_text(body(lines, includes_tax=True, totals=sums)), personal, 4000)

    assert page.days[0].horses[0].lines[0].amount == 10500
    assert page.open == 6500


def test_a_bill_whose_particulars_are_gone_keeps_its_figures():
    page = printed(body_text(body((line(100), line(200)))), None)

    assert page.buyer is None
    assert page.note == ""
    assert [(each.text, each.amount) for each in page.days[0].horses[0].lines] == [
        (None, 100),
        (None, 200),
    ]


def test_halves_that_do_not_belong_together_are_not_printed():
    with pytest.raises(ValueError, match="zip"):
        printed(body_text(body((line(100),))), particulars_text(Particulars(buyer=BUYER, lines=())))


def test_a_payment_settles_the_oldest_bill_first():
    owed = [(1, 1000), (2, 2000), (3, 3000), (4, 4000), (5, 6000)]

    assert allocate_oldest_first(owed, 12500) == (
        (1, 1000), (2, 2000), (3, 3000), (4, 4000), (5, 2500),
    )  # fmt: skip


def test_what_a_payment_has_left_over_stays_credit():
    settled = allocate_oldest_first([(1, 30000), (2, 9000)], 40000)

    assert settled == ((1, 30000), (2, 9000))


def test_bills_with_nothing_open_are_passed_over():
    assert allocate_oldest_first([(1, 0), (2, -50), (3, 10)], 7) == ((3, 7),)


def test_a_payment_below_nothing_settles_nothing():
    with pytest.raises(Refused, match=r"money\.negative"):
        allocate_oldest_first([(1, 100)], -1)


@given(st.lists(st.integers(-100, 10_000), max_size=8), st.integers(0, 50_000))
def test_no_bill_is_settled_beyond_what_is_open(amounts, cents):
    owed = list(enumerate(amounts))

    settled = allocate_oldest_first(owed, cents)

    assert sum(part for _, part in settled) == min(cents, sum(max(a, 0) for a in amounts))
    assert all(0 < part <= amounts[bill] for bill, part in settled)


@pytest.mark.parametrize(
    ("bill_when", "first", "until"),
    [
        ("weekly", date(2026, 3, 16), date(2026, 3, 22)),  # Monday to Sunday
        ("weekly", date(2026, 3, 22), date(2026, 3, 22)),
        ("weekly", date(2026, 12, 29), date(2027, 1, 3)),
        ("monthly", date(2026, 2, 1), date(2026, 2, 28)),
        ("monthly", date(2028, 2, 29), date(2028, 2, 29)),
        ("monthly", date(2026, 12, 31), date(2026, 12, 31)),
        ("tonight", date(2026, 3, 17), None),
        ("on_the_spot", date(2026, 3, 17), None),
    ],
)
def test_a_bill_collects_to_the_end_of_its_week_or_month(
    bill_when: str, first: date, until: date | None
) -> None:
    assert collecting_until(bill_when, first) == until
