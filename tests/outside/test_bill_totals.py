"""Do bills agree with numbers that others published?

Marks: *verified* was read in the source or computed by a reference library, and recomputed;
*second-hand* was read in texts that quote it; *memory* is recalled, with only the arithmetic
recomputed.
"""

from decimal import ROUND_HALF_UP, Decimal

import pytest

from backoffice.billing.rules import DocumentLine, TaxSum, totals
from backoffice.errors import Refused
from backoffice.money import MINOR_UNITS, apply_rate, half_up, split
from backoffice.pricing.rules import net_of


def cents(text: str) -> int:
    return int(Decimal(text).scaleb(2))


def ppm(percent: str) -> int:
    return int(Decimal(percent).scaleb(4))


def line(net: str, percent: str, category: str = "") -> DocumentLine:
    return DocumentLine(
        kind="service",
        net=cents(net),
        quoted=cents(net),
        category=category or ("E" if percent == "0" else "S"),
        rate_ppm=ppm(percent),
    )


def test_tax_is_per_category_and_rate_and_rounded_sums_are_not_rounded_again():
    """Peppol BIS Billing 3.0, calculation chapters (verified): tax per category and rate on the
    document; 999.81 with a rounding amount of 0.19 is payable as 1000."""
    two_rates = totals([line("10", "25"), line("20", "25"), line("5", "10")], includes_tax=False)
    told = DocumentLine(kind="service", net=99981, quoted=100000, category="O", rate_ppm=0)
    rounded = totals([told], includes_tax=True)

    assert [(part.rate_ppm, part.base, part.tax) for part in two_rates.taxes] == [
        (100_000, 500, 50),
        (250_000, 3000, 750),
    ]
    assert (rounded.gross, rounded.rounding, rounded.payable) == (99981, 19, 100000)


@pytest.mark.parametrize(
    ("base", "percent", "tax", "right"),
    [
        ("1000", "25", "250", True),
        ("-6491.34", "25", "-1622.84", True),
        ("6491.34", "25", "1622.84", True),
        ("2141.05", "14", "299.75", True),
        ("2141.19", "2.1", "44.96", True),
        ("-2141.19", "5.5", "-117.77", True),
        ("2141.19", "0", "0", True),
        ("1000", "25", "251", False),
        ("2141.19", "2.1", "43.91", False),
    ],
)
def test_the_tax_of_a_category_is_base_times_rate_half_up(base, percent, tax, right):
    """EN 16931 artefacts 1.3.16, official unit tests of BR-CO-17 (verified)."""
    found = totals([line(base, percent)], includes_tax=False).tax

    assert (found == cents(tax)) is right


EXAMPLES = {
    "ubl-tc434-example1": (
        [("183.23", "6", "10.99"), ("46.37", "21", "9.74")],
        "229.60", "20.73", "250.33", "0", "250.33",
    ),
    "ubl-tc434-example2": (
        [("1460.50", "25", "365.13"), ("1.00", "15", "0.15"), ("-25.00", "0", "0")],
        "1436.50", "365.28", "1801.78", "1000", "801.78",
    ),
    "ubl-tc434-example3": (
        [("900", "25", "225"), ("800", "10", "80")],
        "1700", "305", "2005", "0", "2005",
    ),
    "ubl-tc434-example5": (
        [("1500", "25", "375"), ("2500", "12", "300")],
        "4000", "675", "4675", "2337.50", "2337.50",
    ),
    "ubl-tc434-example8": (
        [("908.91", "21", "190.87")],
        "908.91", "190.87", "1099.78", "0", "1099.78",
    ),
    "ubl-tc434-example9": (
        [("147.00", "21", "30.87")],
        "147.00", "30.87", "177.87", "0", "177.87",
    ),
    "sample-discount-price": (
        [("12.12", "25", "3.03")],
        "12.12", "3.03", "15.15", "0", "15.15",
    ),
    "BIS3 negative": (
        [("-625743.54", "25", "-156435.89")],
        "-625743.54", "-156435.89", "-782179.43", "0", "-782179.43",
    ),
    "Peppol Allowance-example": (
        [("4900", "25", "1225"), ("1000", "0", "0")],
        "5900", "1225", "7125", "1000", "6125",
    ),
    "Peppol base-example": (
        [("1325", "25", "331.25")],
        "1325", "331.25", "1656.25", "0", "1656.25",
    ),
    "Peppol Vat-category-S": (
        [("5000", "25", "1250"), ("2000", "15", "300")],
        "7000", "1550", "8550", "0", "8550",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_official_example_invoices_come_to_their_totals(name):
    """EN 16931 artefacts 1.3.16 and Peppol BIS Billing 3.0, example invoices (verified)."""
    taxes, net, tax, gross, paid, payable = EXAMPLES[name]

    bill = totals([line(base, percent) for base, percent, _ in taxes], includes_tax=False)

    assert {(part.base, part.rate_ppm, part.tax) for part in bill.taxes} == {
        (cents(base), ppm(percent), cents(part)) for base, percent, part in taxes
    }
    assert (bill.net, bill.tax, bill.gross) == (cents(net), cents(tax), cents(gross))
    assert bill.payable - cents(paid) == cents(payable)


EXAMPLE_8 = [
    ("16000", "0.00880", "1", "140.80"),
    ("16000", "0.00101", "1", "16.16"),
    ("132", "15.24", "12", "167.64"),
    ("58", "1.53", "1", "88.74"),
    ("1", "441.00", "12", "36.75"),
    ("1", "678.00", "12", "56.50"),
    ("1", "83.34", "1", "83.34"),
    ("1", "190.31", "1", "190.31"),
    ("1", "64.21", "1", "64.21"),
    ("1", "64.46", "1", "64.46"),
]


def test_a_line_is_quantity_times_price_rounded_to_the_cent():
    """EN 16931 artefacts 1.3.16, ubl-tc434-example8, its ten lines (verified)."""
    nets = [
        half_up(int(qty) * int(Decimal(price).scaleb(5)), int(per) * 1000)
        for qty, price, per, _ in EXAMPLE_8
    ]

    assert nets == [cents(net) for *_, net in EXAMPLE_8]
    assert sum(nets) == cents("908.91")


@pytest.mark.parametrize(
    ("exact", "half_up_result", "half_even"),
    [
        ("0.125", "0.13", "0.12"),
        ("2.525", "2.53", "2.52"),
        ("1.005", "1.01", "1.00"),
        ("2.675", "2.68", "2.68"),
        ("-1622.835", "-1622.84", "-1622.84"),
    ],
)
def test_halves_go_up_on_the_magnitude(exact, half_up_result, half_even):
    """Rounding pairs that tell half up from half even (verified: recomputed with Decimal)."""
    found = half_up(int(Decimal(exact).scaleb(3)), 10)

    assert found == cents(half_up_result)
    assert found == cents(str(Decimal(exact).quantize(Decimal("0.01"), ROUND_HALF_UP)))
    assert Decimal(exact).quantize(Decimal("0.01")) == Decimal(half_even)


def test_a_quarter_of_10_10_is_2_53():
    """10.10 at 25 % (verified: recomputed)."""
    assert apply_rate(1010, 250_000) == 253


PER_LINE = [
    ("1.11", 3, "21", "0.69", "0.70"),
    ("0.33", 10, "20", "0.70", "0.66"),
    ("10.02", 5, "23", "11.50", "11.52"),
]


@pytest.mark.parametrize(("net", "count", "percent", "per_line", "per_document"), PER_LINE)
def test_tax_is_rounded_on_the_document_not_on_the_line(
    net, count, percent, per_line, per_document
):
    """The same lines taxed line by line and as a whole (verified: recomputed). The first figure
    is what rounding each line would give: the check would see that fault."""
    lines = [line(net, percent)] * count

    assert totals(lines, includes_tax=False).tax == cents(per_document)
    assert sum(apply_rate(each.net, each.rate_ppm) for each in lines) == cents(per_line)
    assert per_line != per_document


@pytest.mark.parametrize(
    ("gross", "percent", "net", "tax"),
    [
        ("100.00", "20", "83.33", "16.67"),
        ("49.99", "20", "41.66", "8.33"),
        ("75.00", "23", "60.98", "14.02"),
    ],
)
def test_a_price_with_tax_comes_apart_to_the_cent(gross, percent, net, tax):
    """Gross to net (verified: recomputed)."""
    assert net_of(cents(gross), ppm(percent)) == cents(net)
    assert cents(gross) - net_of(cents(gross), ppm(percent)) == cents(tax)


def test_splits_sum_to_the_whole():
    """10.00 three ways, and five cents at 70:30 from M. Fowler's example of a money object
    (memory; recomputed)."""
    assert split(1000, (1, 1, 1)) == (334, 333, 333)
    assert split(5, (70, 30)) == (4, 1)


def test_a_seller_outside_the_tax_charges_none():
    """EN 16931 artefacts, rules BR-O-01, 05, 08, 09, 11 and 12 (verified): one breakdown
    of category O, no rate, tax 0, and no other category beside it."""
    bill = totals([line("120", "0", "O"), line("58", "0", "O")], includes_tax=False)

    assert bill.taxes == (TaxSum(category="O", rate_ppm=0, base=17800, tax=0),)
    assert (bill.tax, bill.payable) == (0, 17800)
    with pytest.raises(Refused):
        totals([line("120", "20", "O")], includes_tax=False)
    for other, percent in (("S", "20"), ("E", "0"), ("Z", "0")):
        with pytest.raises(Refused):
            totals([line("120", "0", "O"), line("1", percent, other)], includes_tax=False)


@pytest.mark.parametrize(
    ("currency", "decimals"),
    [
        ("EUR", 2), ("GBP", 2), ("USD", 2), ("CAD", 2), ("AUD", 2), ("NZD", 2), ("CHF", 2),
        ("HUF", 2), ("JPY", 0), ("KRW", 0), ("ISK", 0), ("KWD", 3), ("BHD", 3), ("TND", 3),
        ("CLF", 4),
    ],
)  # fmt: skip
def test_currencies_have_the_minor_units_of_iso_4217(currency, decimals):
    """ISO 4217 as carried by the iso4217 package, 1.16.20260101 (verified)."""
    assert MINOR_UNITS[currency] == decimals
