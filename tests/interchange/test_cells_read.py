"""Is each cell read as it is meant: dates, amounts, counts, names and words of the trade?"""

from datetime import date, datetime, timedelta
from fractions import Fraction

import pytest
from babel.dates import format_date, get_month_names
from babel.numbers import format_currency, format_decimal
from hypothesis import given
from hypothesis import strategies as st

from backoffice.interchange.rules.brought import Cell, Value
from backoffice.interchange.rules.dates import column_order, month_named, read_day
from backoffice.interchange.rules.names import People, payers_named, read_name
from backoffice.interchange.rules.trade import (
    cycle_of,
    feet_of,
    flags_of,
    kinds_apart,
    like_kind,
    method_of,
    read_size,
    stock_sort,
    terms_of,
    tool_sort,
)
from backoffice.interchange.rules.values import (
    lost_zero,
    pack_in,
    read_amount,
    read_count,
    read_phone,
)

TODAY = date(2026, 11, 26)
DAYS = st.dates(date(1990, 1, 1), date(2100, 12, 31))
LANGUAGES = ("en", "de", "fr", "es", "nl", "it")


def day(value: Value, order: str | None = None) -> date | None:
    return read_day(value, TODAY, order=order).day


@pytest.mark.parametrize(
    ("week", "meant"),
    [
        ("2004-W53-6", "2005-01-01"), ("2004-W53-7", "2005-01-02"), ("2005-W52-6", "2005-12-31"),
        ("2007-W01-1", "2007-01-01"), ("2008-W01-1", "2007-12-31"), ("2008-W52-7", "2008-12-28"),
        ("2009-W01-1", "2008-12-29"), ("2009-W53-4", "2009-12-31"), ("2009-W53-7", "2010-01-03"),
        ("2026-W53-4", "2026-12-31"), ("2026-W53-5", "2027-01-01"),
    ],
)  # fmt: skip
def test_week_dates_are_those_of_iso_8601(week: str, meant: str) -> None:
    assert day(week) == day(meant) == date.fromisoformat(meant)


@given(DAYS)
def test_calendar_dates_of_iso_8601_are_read_whatever_their_form(meant: date) -> None:
    for text in (meant.isoformat(), f"{meant:%Y%m%d}", f"{meant}T08:30:00", f"{meant} 08:30"):
        assert day(text) == meant
    assert day(meant) == day(datetime.combine(meant, datetime.min.time())) == meant


@given(DAYS, st.sampled_from(["long", "medium"]), st.sampled_from(LANGUAGES))
def test_dates_with_names_of_months_are_read_as_cldr_writes_them(
    meant: date, form: str, language: str
) -> None:
    assert day(format_date(meant, form, locale=language), "dmy") == meant


@given(DAYS)
def test_numbers_are_read_in_the_order_of_the_country(meant: date) -> None:
    assert day(format_date(meant, "M/d/y", locale="en_US"), "mdy") == meant
    assert day(format_date(meant, "dd/MM/y", locale="en_GB"), "dmy") == meant
    assert day(format_date(meant, "dd.MM.y", locale="de_DE")) == meant


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
def test_the_names_of_months_are_those_of_cldr(language: str, width: str) -> None:
    names = get_month_names(width, locale=language)

    assert [month_named(names[number]) for number in range(1, 13)] == list(range(1, 13))


def test_a_beginning_that_fits_two_months_names_none() -> None:
    assert (month_named("jui"), month_named("ju"), month_named("Horse")) == (None, None, None)


@pytest.mark.parametrize("serial", [25569, 36526, 43831, 46330])
def test_day_numbers_are_those_of_spreadsheets(serial: int) -> None:
    # Common practice: day 25569 is the first of January 1970.
    meant = date(1970, 1, 1) + timedelta(days=serial - 25569)

    assert day(serial) == (meant if meant.year >= 1990 else None)


@pytest.mark.parametrize(
    ("written", "meant", "code"),
    [
        ("Nov 9", date(2026, 11, 9), "year_assumed"),
        ("Dec 24", date(2025, 12, 24), "year_assumed"),
        ("29 Feb", date(2024, 2, 29), "year_assumed"),
        ("Sat 14th of Nov, 2026", date(2026, 11, 14), ""),
        ("31.12.", date(2025, 12, 31), "year_assumed"),
        ("10/17/26", date(2026, 10, 17), ""),
        ("17-10-26", date(2026, 10, 17), ""),
        ("5/5/26", date(2026, 5, 5), ""),
        ("5/6/26", None, "order_unknown"),
        ("Feb 30", None, "unreadable"),
        ("31/31/2026", None, "unreadable"),
        ("12 Horses", None, "unreadable"),
        ("2026-13-01", None, "unreadable"),
        ("1066-10-14", None, "far_off"),
        ("March 2025", None, "no_day"),
        ("3/2025", None, "no_day"),
        (2024, None, "no_day"),
        (True, None, "unreadable"),
        (-3, None, "unreadable"),
    ],
)
def test_dates_as_people_type_them(written: Value, meant: date | None, code: str) -> None:
    read = read_day(written, TODAY, order=None)

    assert read.day == meant
    assert read.code.rpartition("date_")[2] == code


@pytest.mark.parametrize(
    ("values", "order", "undecided"),
    [
        (["1/2/26", "13/2/26"], "dmy", 0),
        (["1/2/26", "2/13/26"], "mdy", 0),
        (["1/2/26", "3/4/26", "5/5/26"], None, 2),
        (["13/2/26", "2/13/26", "1/2/26"], None, 1),
        (["12/1/26"], "dmy", 0),  # December has not come yet
        (["1.2.26", date(2026, 1, 2), "Jan 3", None, 7], None, 0),
    ],
)
def test_a_column_decides_its_order_or_leaves_it_open(
    values: list[Value], order: str | None, undecided: int
) -> None:
    found = column_order(values, TODAY, past=True)

    assert (found.order, found.undecided) == (order, undecided)


@pytest.mark.parametrize(
    ("written", "cents", "code"),
    [
        ("$120", 12000, ""), ("120.-", 12000, ""), ("120,–", 12000, ""), ("1,250.00", 125000, ""),
        ("1.250,00", 125000, ""), ("1 250,00", 125000, ""), ("1'250.50", 125050, ""),
        ("€ 58,50", 5850, ""), ("1,250", 125000, ""), (" 58 ", 5800, ""), (477.18, 47718, ""),
        (0, 0, ""), ("+55", 5500, ""), ("1,234,567.89", 123456789, ""),
        ("35 (+30 special trip)", 3500, "rest"), (1.005, 101, "rounded"),
        ("1.50/mi", None, "is_a_rate"), ("58 per foot", None, "is_a_rate"),
        ("-5", None, "below_nothing"), (-5, None, "below_nothing"),
        ("(12.00)", None, "below_nothing"),
        ("ask", None, "unreadable"), ("1,2,3", None, "unreadable"), (True, None, "unreadable"),
        (1e20, None, "too_large"), (float("nan"), None, "unreadable"), ("٣", None, "unreadable"),
        (date(2026, 1, 1), None, "unreadable"),
    ],
)  # fmt: skip
def test_amounts_as_people_type_them(written: Value, cents: int | None, code: str) -> None:
    read = read_amount(written, "USD")

    assert read.cents == cents
    assert read.code.rpartition("amount_")[2] == code


@given(
    st.integers(0, 999_999_99),
    st.sampled_from(["en_US", "en_GB", "de_DE", "de_CH", "fr_FR", "es_ES", "nl_NL"]),
)
def test_amounts_are_read_as_cldr_writes_them(cents: int, country: str) -> None:
    amount = Fraction(cents, 100)
    text = format_currency(float(amount), "EUR", locale=country)
    plain = format_decimal(float(amount), "#,##0.00", locale=country)

    assert read_amount(text, "EUR").cents == read_amount(plain, "EUR").cents == cents


def test_a_currency_of_three_decimals_has_no_thousands_in_them() -> None:
    assert (read_amount("1.250", "KWD").cents, read_amount("1,250", "JPY").cents) == (1250, 1250)


@pytest.mark.parametrize(
    ("written", "terms"),
    [
        ("1 1/2 box", [("3/2", "box")]), ("half box", [("1/2", "box")]),
        ("1½ boxes", [("3/2", "box")]), ("½", [("1/2", "")]), (0.25, [("1/4", "")]),
        ("4 pairs + 1", [("4", "pair"), ("1", "")]), ("3 boxes and 20", [("3", "box"), ("20", "")]),
        (12, [("12", "")]), ("2,5", [("5/2", "")]), ("6 Paar", [("6", "pair")]),
    ],
)  # fmt: skip
def test_counts_as_people_type_them(written: Value, terms: list[tuple[str, str]]) -> None:
    assert read_count(written) == tuple((Fraction(number), unit) for number, unit in terms)


@pytest.mark.parametrize("written", ["lots", "1/0", "", None, True, -2, "3 horses", 1e30])
def test_what_is_no_count_is_none(written: Value) -> None:
    assert read_count(written) is None


def test_what_a_pack_holds() -> None:
    said = ["box of 10 pr", "box 250", "each", "pair", "10 pairs", "100er"]

    assert [pack_in(text) for text in said] == [20, 250, None, 2, 20, 100]


def test_a_phone_number_that_lost_its_zero() -> None:
    column: list[Value] = ["01632 960001", 1632960002, None, "+44 1632 960003"]

    assert lost_zero(column)
    assert not lost_zero(["555 0100", 5550101])
    assert not lost_zero([1632960002])
    assert read_phone(1632960002, zero=True) == ("01632960002", "read.changed.phone_zero")
    assert read_phone(1632960002.0, zero=False) == ("1632960002", "")
    assert read_phone(12, zero=False) == (None, "read.unread.phone_unreadable")


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Fell, Orla", "Orla Fell"), ("ORLA FELL-ROE", "Orla Fell-Roe"),
        ("  Orla   Fell ", "Orla Fell"),
        ("Fell & Sons, Ltd", "Fell & Sons, Ltd"), ("Fell", "Fell"), ("Fell, Mrs", "Mrs Fell"),
        ("?", None), (None, None),
    ],
)  # fmt: skip
def test_names_as_they_are_spoken(written: Value, name: str | None) -> None:
    assert read_name(written)[0] == name


def test_whom_a_shortened_name_may_mean() -> None:
    people = People()
    for name in ("Orla Fell", "Edda Fell", "Bram Roe", "Ann Sedge Moor"):
        people.add(name)

    assert people.meant("mrs fell") == ("Orla Fell", "Edda Fell")
    assert people.meant("O. Fell") == people.meant("ORLA FELL") == ("Orla Fell",)
    assert people.meant("Bram") == people.meant("Frau Roe") == ("Bram Roe",)
    assert people.meant("Sedge Moor") == ("Ann Sedge Moor",)
    assert people.meant("Vance") == ()


@pytest.mark.parametrize(
    ("written", "parts"),
    [
        ("Fell 60 / Roe 40", (("Fell", 60), ("Roe", 40))),
        ("Fell 60% ; Roe 40%", (("Fell", 60), ("Roe", 40))),
        ("Fell/Roe 60/40", (("Fell", 60), ("Roe", 40))),
        ("Fell / Roe / Vance", (("Fell", 1), ("Roe", 1), ("Vance", 1))),
        ("Fell", (("Fell", 1),)),
        ("60/40", ()),
    ],
)
def test_who_pays_in_one_cell(written: str, parts: tuple[tuple[str, int], ...]) -> None:
    assert payers_named(written) == parts


@pytest.mark.parametrize(
    ("words", "feet"),
    [
        ("trim", ("trim", "trim")), ("front shoes", ("new", "trim")),
        ("fronts + trim", ("new", "trim")),
        ("hind shoes", ("trim", "new")), ("full set + pads", ("new", "new")),
        ("4 shoes lost LF since", ("new", "new")), ("reset 4", ("reset", "reset")),
        ("Reset fronts", ("reset", "trim")), ("Pull + trim", ("pulled", "pulled")),
        ("Lost shoe", ("none", "none")), ("refit all round", ("reset", "reset")),
        ("fronts and hinds", ("new", "new")), ("trim fronts", ("trim", "none")),
        ("Vorne neu, hinten ausschneiden", ("new", "trim")), ("pads, pair", (None, None)),
        ("looked at his leg", (None, None)), ("", (None, None)),
    ],
)  # fmt: skip
def test_what_work_does_to_fronts_and_hinds(
    words: str, feet: tuple[str | None, str | None]
) -> None:
    assert feet_of(words) == feet


def test_words_of_the_trade() -> None:
    kinds = ["QH", "WB x", "Shire x TB", "mini", "Kaltblut", "mule", "TB", "unicorn", None]
    assert [like_kind(kind) for kind in kinds] == [
        "stock", "sport", "draft", "pony", "draft", "donkey", "riding", None, None,
    ]  # fmt: skip
    assert kinds_apart("Mini / pony trim") == ("Trim", ("Mini", "pony"))
    assert [tool_sort(tool) for tool in ("loop knife", "nippers 15in", "drill")] == [
        "knife", "nippers", "other",
    ]  # fmt: skip
    assert [stock_sort(item) for item in ("steel shoe", "Hufnägel", "leather pads", "glue")] == [
        "shoe", "nail", "pad", "other",
    ]  # fmt: skip
    assert [method_of(how) for how in ("ck", "Karte", "bank transfer", "cash", "hay", "?")] == [
        "cheque", "card", "transfer", "cash", "other", None,
    ]  # fmt: skip
    assert [terms_of(terms) for terms in ("net 15", "30 days", "monthly", "hay")] == [
        (None, 15), (None, 30), ("monthly", None), (None, None),
    ]  # fmt: skip
    assert [flag for flag, _ in flags_of("KICKS behind left, needs sedated")] == [
        "kicks",
        "sedation",
    ]
    assert flags_of("sweet") == ()


@pytest.mark.parametrize(
    ("written", "heading", "days"),
    [
        (6, "Every (wk)", 42), ("6-7", "Every", 42), ("8 winter / 6 summer", "", 42), (42, "", 42),
        (6, "days", 6), ("5 weeks", "", 35), ("?", "", None), ("often", "", None), (0, "", None),
        (6.5, "", None), (9_999, "", None),
    ],
)  # fmt: skip
def test_how_often(written: Value, heading: str, days: int | None) -> None:
    assert cycle_of(written, heading)[0] == days


@pytest.mark.parametrize(
    ("written", "size", "pattern"),
    [
        ("000", "000", None), ("00", "00", None), (0, "0", None), ("0", "0", None),
        ("1 SC", "1", "SC"), ("2 QC", "2", "QC"), ("5x0", "5x0", None), (3, "3", None),
        ("size 2", "2", None),
    ],
)  # fmt: skip
def test_sizes_stay_text(written: Value, size: str, pattern: str | None) -> None:
    read = read_size(written)

    assert read is not None
    assert (read.size, read.pattern) == (size, pattern)
    assert read.lost_zeros == (written == 0)


def test_a_bare_foot_has_no_size() -> None:
    assert (read_size("bare"), read_size(None), read_size("-")) == (None, None, None)


@pytest.mark.parametrize(
    ("column", "address"), [(1, "A7"), (26, "Z7"), (27, "AA7"), (703, "AAA7"), (16384, "XFD7")]
)
def test_cells_are_named_as_spreadsheets_do(column: int, address: str) -> None:
    assert Cell("S", 7, column).address == address
