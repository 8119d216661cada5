"""What stands on the paper day sheet, and how many pages it takes."""

import re
import shutil
import subprocess
from datetime import date
from pathlib import Path

import pytest

from backoffice.clients.queries import FlagLine
from backoffice.planning.document import pdf, worded
from backoffice.pricing.rules import Guarantee
from backoffice.typeset import Paper
from backoffice.visits.queries import (
    Sheet,
    SheetLine,
    SheetPayer,
    SheetStop,
    SheetWorn,
    WorkFootLine,
)
from backoffice.visits.rules.entry import read_entry
from backoffice.words import Speech
from tests.conftest import skip

DAY = date(2026, 3, 17)
US, UK = Speech(), Speech(words="uk", currency="GBP")
HOSTILE = '#panic("x") *bold* $x$ #read("/etc/hostname") \\ @preview "q" <tag> // no'
NAMES = (
    "Juniper", "Thistle", "Marigold", "Pepper", "Flint", "Sorrel", "Brigadier",
    "Nettle", "Duke", "Willow", "Hazel", "Rowan", "Tansy", "Clover",
)  # fmt: skip
SERVICES = {
    "Trim": ("trim", "trim", 5_800),
    "Fronts + trim hinds": ("new", "trim", 12_000),
    "Fronts reset + trim hinds": ("reset", "trim", 11_200),
    "Full set": ("new", "new", 17_500),
    "Lost shoe": ("none", "none", 4_500),
}


def feet(front: str, hind: str, size: str | None, nails: int | None) -> tuple[WorkFootLine, ...]:
    return tuple(
        WorkFootLine(
            foot=foot,
            planned=work,
            done=work,
            size=size if work in ("new", "reset") else None,
            nails=nails if work in ("new", "reset") else None,
        )
        for foot, work in (("LF", front), ("RF", front), ("LH", hind), ("RH", hind))
    )


def line(number: int, service: str = "Trim", **more: object) -> SheetLine:
    front, hind, price = SERVICES[service]
    known: dict[str, object] = {
        "work_id": number,
        "visit_id": 1,
        "number": number,
        "subject": str(number),
        "horse_id": number,
        "name": NAMES[(number - 1) % len(NAMES)],
        "words": None,
        "type_name": "Warmblood",
        "service_id": 1,
        "service_name": service,
        "outcome": "planned",
        "closed": False,
        "price": price,
        "to_pay": price + 500,
        "told": False,
        "travel": 500,
        "note": None,
        "last_note": None,
        "feet": feet(front, hind, "1", 6),
        "wears": (),
        "flags": (),
        "payers": (SheetPayer(client_id=1, name="Wenna Harrowgill", parts=1),),
        "owner_id": None,
        "owner_name": None,
        "finishes": False,
    }
    return SheetLine(**known | more)  # type: ignore[arg-type]


def flag(sort: str, note: str | None = None) -> FlagLine:
    return FlagLine(id=1, flag=sort, note=note, from_day=DAY)


def sheet(*stops: tuple[SheetLine, ...], farrier: str = "Idris Thornbeck", **more: object) -> Sheet:
    places = ("Undermoor", "Larkmoss Livery", "Nether Hollow", "Dunmarrow")
    known: dict[str, object] = {"yard_id": 1, "gate_note": "code 4711", "ground": "mud"}
    return Sheet(
        day=DAY,
        farrier_id=1,
        farrier_name=farrier,
        place_id=1,
        place_name="Truck A",
        stops=tuple(
            SheetStop(
                visit_id=nth,
                letter="ABCD"[nth],
                lines=lines,
                **{"yard_name": places[nth]} | known | more,  # type: ignore[arg-type]
            )
            for nth, lines in enumerate(stops)
        ),
    )


def full_day(horses: int, stops: int) -> Sheet:
    """A day of all sorts of work over some stops; every fourth horse kicks."""
    services = tuple(SERVICES)[:4]
    lines = [
        line(
            number,
            services[number % 4],
            flags=(flag("kicks", "left behind"),) if number % 4 == 2 else (),
        )
        for number in range(1, horses + 1)
    ]
    most = -(-horses // stops)
    return sheet(*(tuple(lines[nth * most : (nth + 1) * most]) for nth in range(stops)))


def only(one: SheetLine, speech: Speech = US) -> dict:
    """Word a sheet of one line and give the line."""
    said = worded(DAY, [sheet((one,))], speech)
    return said["sheets"][0]["stops"][0]["lines"][0]


def asked(tool: str, made: bytes, tmp_path: Path, *options: str) -> str:
    if not shutil.which(tool):
        skip(f"{tool} (poppler-utils) is not installed")
    file = tmp_path / "made.pdf"
    file.write_bytes(made)
    to = ["-"] if tool == "pdftotext" else []
    run = subprocess.run([tool, *options, str(file), *to], capture_output=True, check=True)
    return run.stdout.decode()


def words_of(made: bytes, tmp_path: Path, *options: str) -> str:
    """Read a PDF as text in the order it is read aloud, break marks left out."""
    text = asked("pdftotext", made, tmp_path, "-raw", *options)
    return re.sub(r"\s+", " ", text.replace("\u200b", ""))


def pages_of(made: bytes, tmp_path: Path) -> int:
    return int(re.search(r"Pages:\s+(\d+)", asked("pdfinfo", made, tmp_path))[1])


def test_a_line_says_who_what_and_how_much() -> None:
    said = only(line(4, "Fronts + trim hinds", flags=(flag("kicks", "left behind"),)))

    assert said == {
        "no": "4",
        "flags": ["kicks left behind"],
        "name": "Pepper",
        "about": "Warmblood",
        "pays": ["pays: Wenna Harrowgill"],
        "note": "",
        "feet": [
            {"foot": "LF", "work": "new", "size": "1", "nails": "×6", "ask": ""},
            {"foot": "RF", "work": "new", "size": "1", "nails": "×6", "ask": ""},
            {"foot": "LH", "work": "trim", "size": "", "nails": "", "ask": ""},
            {"foot": "RH", "work": "trim", "size": "", "nails": "", "ask": ""},
        ],
        "service": "Fronts + trim hinds",
        # 120.00 for the work and 5.00 of the trip fee.
        "price": "$125.00",
        "besides": "incl. 5.00",
        "ticks": ["as planned", "not there", "fronts only"],
    }


def test_what_is_not_known_yet_is_left_open() -> None:
    said = only(
        line(
            1, "Fronts + trim hinds", name=None, words="the new bay", price=None, travel=0,
            service_name=None, type_name=None, feet=feet("new", "trim", None, None),
            payers=(SheetPayer(client_id=None, name=None, parts=1),),
        )
    )  # fmt: skip

    assert (said["name"], said["about"], said["service"]) == ("the new bay", "", "not known yet")
    assert (said["price"], said["besides"]) == ("", "")
    assert said["pays"] == ["who pays?"]
    assert [foot["ask"] for foot in said["feet"]] == ["yes", "yes", "", ""]


def test_two_who_share_a_horse_each_see_their_own_amount() -> None:
    shared = line(
        1, "Fronts + trim hinds", price=12_001, travel=501,
        payers=(SheetPayer(client_id=1, name="O1", parts=1),
                SheetPayer(client_id=2, name="O2", parts=1)),
    )  # fmt: skip

    # Halves of 120.01 and of 5.01: the odd cent of each goes to who is named first.
    assert only(shared)["pays"] == ["pays: O1 62.52\u00a0· O2 62.50"]


def test_shares_of_a_price_not_known_yet_are_said_as_parts() -> None:
    shared = line(
        1, price=None,
        payers=(SheetPayer(client_id=1, name="O1", parts=2),
                SheetPayer(client_id=2, name="O2", parts=1)),
    )  # fmt: skip

    assert only(shared)["pays"] == ["pays: O1 2\u00a0· O2 1"]


def test_an_owner_who_does_not_pay_is_named_and_one_who_does_is_not_named_twice() -> None:
    assert only(line(1, owner_id=9, owner_name="Ada Łęcka"))["pays"] == [
        "pays: Wenna Harrowgill",
        "owner: Ada Łęcka",
    ]
    assert only(line(1, owner_id=1, owner_name="Wenna Harrowgill"))["pays"] == [
        "pays: Wenna Harrowgill"
    ]


def test_a_foot_that_gets_no_shoe_shows_what_it_wears() -> None:
    worn = tuple(SheetWorn(foot=foot, size="0", nails=6) for foot in ("LF", "RF"))
    said = only(line(1, "Lost shoe", wears=worn))

    assert [(foot["work"], foot["size"], foot["nails"]) for foot in said["feet"]] == [
        ("–", "0", "×6"),
        ("–", "0", "×6"),
        ("–", "", ""),
        ("–", "", ""),
    ]
    assert said["ticks"] == ["shoe found", "shoe gone", "not there"]


def test_fronts_only_is_offered_where_shoes_are_planned_in_front_and_work_behind() -> None:
    ticks = {service: only(line(1, service))["ticks"] for service in SERVICES}
    offered = {service for service, said in ticks.items() if "fronts only" in said}

    assert offered == {"Fronts + trim hinds", "Fronts reset + trim hinds", "Full set"}
    assert "fronts only" not in only(line(1, feet=feet("new", "none", "1", 6)))["ticks"]
    assert ticks["Trim"] == ["as planned", "not there"]


@pytest.mark.parametrize(
    ("stands", "price", "besides"),
    [
        ({"day": 9}, "free", "(guarantee, day 9 of 14), else $50.00"),
        ({"day": 14}, "free", "(guarantee, day 14 of 14), else $50.00"),
        ({"day": 15}, "$50.00", "incl. 5.00"),
        ({"day": None}, "$50.00", "incl. 5.00"),
        ({"day": 9, "owing": True}, "$50.00", "incl. 5.00"),
        ({"day": 9, "on_schedule": False}, "$50.00", "incl. 5.00"),
    ],
)
def test_a_lost_shoe_is_free_where_the_guarantee_holds(
    stands: dict[str, object], price: str, besides: str
) -> None:
    guarantee = Guarantee(**{"of": 14, "on_schedule": True, "owing": False} | stands)  # type: ignore[arg-type]
    lines = (line(1, "Lost shoe"), line(2, "Lost shoe"))
    said = worded(DAY, [sheet(lines)], US, {1: guarantee})["sheets"][0]["stops"][0]["lines"]

    # 45.00 for the work and 5.00 of the trip fee.
    assert (said[0]["price"], said[0]["besides"]) == (price, besides)
    assert (said[1]["price"], said[1]["besides"]) == ("$50.00", "incl. 5.00")


def test_what_is_free_is_not_shared_out() -> None:
    payers = tuple(SheetPayer(client_id=no, name=f"O{no}", parts=1) for no in (1, 2))
    free = Guarantee(day=9, of=14, on_schedule=True, owing=False)
    lines = (line(1, "Lost shoe", payers=payers, price=None),)
    (said,) = worded(DAY, [sheet(lines)], US, {1: free})["sheets"][0]["stops"][0]["lines"]

    assert said["pays"] == ["pays: O1\u00a0· O2"]
    assert (said["price"], said["besides"]) == ("free", "(guarantee, day 9 of 14)")


def test_there_is_room_for_what_was_paid_its_tip_and_the_receipt(tmp_path: Path) -> None:
    assert worded(DAY, [], US)["paid"] == ["paid", "tip", "receipt"]
    words = words_of(pdf(DAY, [sheet((line(1),))], US, "us-letter"), tmp_path)
    assert words.count("paid tip receipt") == 1 + 3  # the horse, and three lines for more


def test_what_was_planned_counts_more_than_what_is_worn() -> None:
    worn = (SheetWorn(foot="LF", size="0", nails=6),)
    larger = only(line(1, "Full set", feet=feet("new", "new", "00", 7), wears=worn))
    same = only(line(1, "Full set", feet=feet("new", "new", None, None), wears=worn))

    assert [(foot["size"], foot["nails"]) for foot in larger["feet"]] == [("00", "×7")] * 4
    assert [(foot["size"], foot["ask"]) for foot in same["feet"]] == [
        ("0", ""), ("", "yes"), ("", "yes"), ("", "yes"),
    ]  # fmt: skip


def test_a_note_is_said_and_else_the_last_one_and_neither_at_length() -> None:
    assert only(line(1, note="pads off", last_note="thin sole"))["note"] == "pads off"
    assert only(line(1, last_note="quarter\nthin"))["note"] == "last time: quarter thin"
    long = only(line(1, note="word " * 100))["note"]
    assert len(long) <= 90
    assert long.endswith("word…")


def test_a_horse_to_be_finished_says_so() -> None:
    assert only(line(1, "Full set", finishes=True))["service"] == "to finish: Full set"


def test_a_stop_offers_the_grounds_it_is_not() -> None:
    stop = worded(DAY, [sheet((line(1),), ground="mud")], US)["sheets"][0]["stops"][0]

    assert (stop["letter"], stop["name"], stop["gate"]) == ("A", "Undermoor", "code 4711")
    assert (stop["ground"], stop["grounds"]) == ("mud", ["ordinary", "dry", "sand"])


def test_british_words_stand_on_a_british_sheet(tmp_path: Path) -> None:
    day = [sheet((line(1, "Fronts reset + trim hinds"),))]
    text = words_of(pdf(DAY, day, UK, "a4"), tmp_path)

    for said in (
        "Tuesday 17 March 2026", "NF refit", "OF refit", "NH trim", "OH trim",
        "£117.00 incl. 5.00", "price with call-out", "1 cast nf found", "paid at the yard",
    ):  # fmt: skip
        assert said in text
    assert not re.search(r"\b(LF|RH|trip fee|barn|reset,)\b", text)


def test_every_number_and_price_is_there_and_a_warning_stands_before_its_horse(
    tmp_path: Path,
) -> None:
    text = words_of(pdf(DAY, [full_day(12, 3)], US, "us-letter"), tmp_path)

    for number in range(1, 13):
        name = NAMES[number - 1]
        before = "kicks left behind " if number % 4 == 2 else ""
        assert f" {number} {before}{name} Warmblood pays: Wenna Harrowgill" in text
    for price, times in (("$63.00", 3), ("$125.00", 3), ("$117.00", 3), ("$180.00", 3)):
        assert text.count(f"{price} incl. 5.00") == times
    assert text.count("as planned") == 12 + 1  # and once in the key
    for said in (
        "Idris Thornbeck · Truck A", "Miles out", "Miles in", "Apprentice along",
        "Undermoor code 4711", "A+", "B+", "C+", "7 paid 190 tip 2 receipt 412",
    ):  # fmt: skip
        assert said in text


@pytest.mark.parametrize("paper", ["us-letter", "a4"])
@pytest.mark.parametrize(("horses", "stops"), [(5, 2), (8, 3), (12, 3), (12, 4), (14, 3), (14, 4)])
def test_a_day_fits_on_one_page(paper: Paper, horses: int, stops: int, tmp_path: Path) -> None:
    made = pdf(DAY, [full_day(horses, stops)], US, paper)

    assert pages_of(made, tmp_path) == 1
    assert "page 1" not in words_of(made, tmp_path)


def test_what_does_not_fit_goes_on_with_the_head_repeated(tmp_path: Path) -> None:
    made = pdf(DAY, [full_day(24, 4)], US, "us-letter")
    first, second = (words_of(made, tmp_path, "-f", str(n), "-l", str(n)) for n in (1, 2))

    assert pages_of(made, tmp_path) == 2
    for nth, text in ((1, first), (2, second)):
        for said in ("Tuesday, March 17, 2026", "Horse, and who pays", f"page {nth} of 2"):
            assert said in text
    for number in range(1, 25):
        found = re.findall(
            rf" {number} (?:kicks left behind )?[A-Z][a-z]+ Warmblood", first + second
        )
        assert len(found) == 1, number


def test_each_farrier_begins_on_a_page_of_his_own_with_its_own_count(tmp_path: Path) -> None:
    made = pdf(DAY, [full_day(24, 4), sheet((line(1),), farrier="Oda Vell")], US, "a4")
    pages = [words_of(made, tmp_path, "-f", str(n), "-l", str(n)) for n in (1, 2, 3)]

    assert pages_of(made, tmp_path) == 3
    assert ["Oda Vell" in text for text in pages] == [False, False, True]
    assert ["page 1 of 2" in pages[0], "page 2 of 2" in pages[1], "page 1" in pages[2]] == [
        True, True, False,
    ]  # fmt: skip


@pytest.mark.parametrize(("paper", "size"), [("us-letter", "612 x 792"), ("a4", "595")])
def test_both_papers_are_set_archival_and_readable_aloud(
    paper: Paper, size: str, tmp_path: Path
) -> None:
    made = pdf(DAY, [full_day(8, 3)], US, paper)

    assert re.search(rf"Page size:\s+{size}", asked("pdfinfo", made, tmp_path))
    assert b"pdfaid:part" in made
    assert b"pdfuaid:part" in made


def test_the_same_day_gives_the_same_bytes() -> None:
    assert pdf(DAY, [full_day(8, 3)], US, "a4") == pdf(DAY, [full_day(8, 3)], US, "a4")


def hostile_day(odd: str) -> Sheet:
    one = line(
        1, name=odd, words=odd, type_name=odd, service_name=odd, note=odd,
        flags=(flag("other", odd),), owner_id=9, owner_name=odd,
        payers=(SheetPayer(client_id=1, name=odd, parts=1),),
        feet=feet("new", "trim", odd, 6),
    )  # fmt: skip
    return sheet((one,), farrier=odd, yard_name=odd, gate_note=odd)


def test_what_people_typed_is_never_markup(tmp_path: Path) -> None:
    text = words_of(pdf(DAY, [hostile_day(HOSTILE)], US, "us-letter"), tmp_path)

    assert text.count('#read("/etc/hostname")') >= 3
    assert text.count("*bold* $x$") >= 3


@pytest.mark.parametrize(
    "odd",
    [
        "שלום עולם", "مرحبا", "x" * 2_000, "word " * 400, "Star 🐴", "漢字", "a\x01b\x7f",
        "\ud800", "\u202eabc", "two\nlines\r\nand a tab\t", "",
    ],
    ids=ascii,
)  # fmt: skip
def test_no_name_keeps_a_sheet_from_being_set(odd: str) -> None:
    made = pdf(DAY, [hostile_day(odd)], US, "a4")

    assert made.startswith(b"%PDF-")
    assert made.rstrip().endswith(b"%%EOF")


@pytest.mark.parametrize("speech", [US, UK], ids=["us", "uk"])
def test_every_entry_of_the_key_is_understood_in_the_evening(speech: Speech) -> None:
    key = worded(DAY, [], speech)["key"]
    read = [type(read_entry(typed, currency=speech.currency)).__name__ for typed, _ in key["codes"]]

    assert read == [
        "AsPlanned", "Missed", "OneEnd", "Lost", "PriceTold", "OwnerPays", "HandedOver", "Extra",
        "StandMet",
    ]  # fmt: skip


def test_a_stop_without_horses_still_has_lines_to_write_on(tmp_path: Path) -> None:
    text = words_of(pdf(DAY, [sheet(())], US, "a4"), tmp_path)

    assert "Undermoor" in text
    assert text.count("A+") == 3
