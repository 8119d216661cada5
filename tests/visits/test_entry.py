"""What is typed from the paper day sheet is read as it was meant, or refused with a sentence."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.errors import Refused
from backoffice.units import Foot, FootWork
from backoffice.visits.rules.entering import read_all
from backoffice.visits.rules.entries import (
    AsPlanned,
    CameAlong,
    Entry,
    Extra,
    GroundWas,
    HandedOver,
    KnifeDull,
    Lost,
    Miles,
    Missed,
    OneEnd,
    Otherwise,
    OwnerPays,
    Pays,
    PriceTold,
    StandMet,
    TakenBack,
    Took,
    Written,
)
from backoffice.visits.rules.entry import apart, read_entry
from backoffice.words import CATALOGUE, Speech
from tests.docs.markdown import DOCS, read

LF, RF, LH, RH = Foot
ALL = (LF, RF, LH, RH)

EXAMPLES: list[tuple[str, Entry]] = [
    ("7", AsPlanned(number=7)),
    ("7 ok", AsPlanned(number=7)),
    (" 7.  OK ", AsPlanned(number=7)),
    ("7 a", Missed(number=7)),
    ("7a", Missed(number=7)),
    ("9 not caught", Missed(number=9)),
    ("9 absent Kicked the gate", Missed(number=9, note="Kicked the gate")),
    ("9 not there, sold?", Missed(number=9, note="sold?")),
    ("8 f", OneEnd(number=8, fronts=True)),
    ("8 Fronts", OneEnd(number=8, fronts=True)),
    ("8 h", OneEnd(number=8, fronts=False)),
    ("7 fronts 00", Otherwise(number=7, feet=(LF, RF), size="00")),
    ("7 fronts 0", Otherwise(number=7, feet=(LF, RF), size="0")),
    ("7 lf new 1 6", Otherwise(number=7, feet=(LF,), done=FootWork.NEW, size="1", nails=6)),
    ("7 nf new 1 x 6", Otherwise(number=7, feet=(LF,), done=FootWork.NEW, size="1", nails=6)),
    ("7 of new 1x6", Otherwise(number=7, feet=(RF,), done=FootWork.NEW, size="1", nails=6)),
    ("7 lf x6", Otherwise(number=7, feet=(LF,), nails=6)),
    ("7 lf 6 nails", Otherwise(number=7, feet=(LF,), nails=6)),
    ("7 lf 00", Otherwise(number=7, feet=(LF,), size="00")),
    ("7 lf 1 6 nails", Otherwise(number=7, feet=(LF,), size="1", nails=6)),
    (
        "7 lf new 1 6 side clip",
        Otherwise(number=7, feet=(LF,), done=FootWork.NEW, size="1", nails=6, shoe="side clip"),
    ),
    ("7 rh pulled", Otherwise(number=7, feet=(RH,), done=FootWork.PULLED)),
    ("7 oh pulled", Otherwise(number=7, feet=(RH,), done=FootWork.PULLED)),
    ("7 all reset", Otherwise(number=7, feet=ALL, done=FootWork.RESET)),
    ("7 all refit", Otherwise(number=7, feet=ALL, done=FootWork.RESET)),
    ("7 hinds not done", Otherwise(number=7, feet=(LH, RH), done=FootWork.NOT_DONE)),
    ("7 nh nothing", Otherwise(number=7, feet=(LH,), done=FootWork.NONE)),
    ("1 lost lf found", Lost(number=1, feet=(LF,), found=True)),
    ("1 cast nf found 6", Lost(number=1, feet=(LF,), found=True, nails=6)),
    ("1 lost lf", Lost(number=1, feet=(LF,))),
    ("1 lost lf 0 6", Lost(number=1, feet=(LF,), size="0", nails=6)),
    ("5 owner", OwnerPays(number=5)),
    ("5 pays Corbin Ash", Pays(number=5, name="Corbin Ash")),
    ("6 told 120", PriceTold(number=6, say=12_000)),
    ("6 told $1,120.50", PriceTold(number=6, say=112_050)),
    ("6 free", PriceTold(number=6, say=0)),
    ("6 no call-out", PriceTold(number=6, travel=0)),
    ("6 No trip fee", PriceTold(number=6, travel=0)),
    (
        "7 paid 190 tip 2 receipt 412",
        HandedOver(number=7, amount=18_800, tip=200, receipt="412"),
    ),
    ("7 paid 188 card", HandedOver(number=7, amount=18_800, method="card")),
    ("7 paid 188 check", HandedOver(number=7, amount=18_800, method="cheque")),
    ("8 note Sore behind", Written(number=8, text="Sore behind")),
    ("8 flag frightened behind", Written(number=8, text="frightened behind", warning=True)),
    ("8 min 95", Took(number=8, minutes=95)),
    ("11 leaned", StandMet(number=11, what="leaned")),
    ("11 creaks", StandMet(number=11, what="slipped")),
    ("11 fell", StandMet(number=11, what="fell")),
    ("8 undo", TakenBack(number=8)),
    (
        "b + Sarah's new bay, trim, 58",
        Extra(letter="B", words="Sarah's new bay", service="trim", say=5_800),
    ),
    ("B+new bay", Extra(letter="B", words="new bay")),
    ("b + bay, full, 1,200", Extra(letter="B", words="bay", service="full", say=120_000)),
    ("b mud", GroundWas(letter="B", ground="mud")),
    ("AA dry", GroundWas(letter="AA", ground="dry")),
    ("miles 41210 41268", Miles(out=41_210, back=41_268)),
    ("miles 41,210 41,268", Miles(out=41_210, back=41_268)),
    ("knife right", KnifeDull(name="right")),
    ("knife no", KnifeDull(name=None)),
    ("along", CameAlong(came=True)),
    ("along Finn", CameAlong(came=True, name="Finn")),
    ("along no", CameAlong(came=False)),
]


@pytest.mark.parametrize(("typed", "meant"), EXAMPLES, ids=[typed for typed, _ in EXAMPLES])
def test_an_entry_is_read_as_it_was_meant(typed: str, meant: Entry) -> None:
    assert read_entry(typed, currency="USD") == meant
    assert read_entry(typed.upper(), currency="USD").__class__ is meant.__class__


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "entry.not_understood"),
        ("hello", "entry.not_understood"),
        ("7 frnots", "entry.line_not_understood"),
        ("7 lf", "entry.foot_what"),
        ("7 all", "entry.foot_what"),
        ("7 lf pulled 1 6", "entry.no_shoe_there"),
        ("7 lf new 1 26", "visits.nails_asked_back"),
        ("7 lf x0", "visits.nails_asked_back"),
        ("1 lost", "entry.lost_foot"),
        ("1 lost lf found 0 6", "entry.own_shoe"),
        ("6 told", "entry.told"),
        ("6 told cheap", "money.unreadable"),
        ("6 told -5", "money.negative"),
        ("5 pays", "entry.pays"),
        ("7 paid", "entry.paid"),
        ("7 paid 190 tip", "entry.paid"),
        ("7 paid 190 receipt", "entry.paid"),
        ("7 paid 190 gold", "entry.paid"),
        ("7 paid 2 tip 2", "entry.tip"),
        ("7 paid 1.001", "money.too_many_decimals"),
        ("8 note", "entry.note"),
        ("8 flag", "entry.flag"),
        ("8 min 0", "entry.minutes"),
        ("8 min soon", "entry.minutes"),
        ("b +", "entry.extra"),
        ("b wet", "entry.ground"),
        ("miles 41210", "entry.miles"),
        ("miles 41268 41210", "entry.miles_backwards"),
        ("knife", "entry.knife"),
        ("7 note a\0b", "text.control"),
        ("7 note " + "x" * 600, "text.too_long"),
    ],
)
def test_what_is_not_understood_is_refused_with_a_sentence(typed: str, code: str) -> None:
    with pytest.raises(Refused) as refused:
        read_entry(typed, currency="USD")

    assert refused.value.code == code
    for words in CATALOGUE:
        assert Speech(words=words).say(code, **refused.value.facts)


def test_entries_stand_apart_by_semicolons_and_line_ends() -> None:
    assert apart("7; 8 f;\r\n9 a\n\n ; ") == ("7", "8 f", "9 a")


def test_every_code_of_the_key_is_understood_in_the_words_it_is_shown_in() -> None:
    for words, currency in (("us", "USD"), ("uk", "GBP")):
        shown = [s for code, s in CATALOGUE[words].items() if code.startswith("evening.key.")]
        typed = shown[::2]
        assert len(typed) == 26
        for entries in typed:
            for entry in apart(entries):
                read_entry(entry, currency=currency)


def test_every_code_of_the_manual_is_understood() -> None:
    table = [line.split("|")[1] for line in read(DOCS / "evening.md").splitlines() if "|" in line]
    codes = [code for cell in table for code in re.findall("`(.+?)`", cell)]

    assert len(codes) > 25
    for code in codes:
        read_entry(code, currency="USD")


PIECES = st.sampled_from(
    [*"789bf;x+,", "lf", "oh", "fronts", "all", "new", "reset", "not", "done", "lost", "found",
     "paid", "tip", "receipt", "told", "pays", "note", "min", "a", "miles", "knife", "along",
     "190", "00", "1x6", "26", "nails", "\u00b2", "\u0661", "-5", "1e9", "9" * 12]
)  # fmt: skip


@given(st.one_of(st.text(), st.lists(PIECES).map(" ".join)))
def test_reading_never_fails_in_any_other_way(typed: str) -> None:
    read = read_all(typed, currency="USD")

    assert tuple(part for part, _ in read) == apart(typed)
    for _, entry in read:
        if isinstance(entry, Refused):
            assert Speech().say(entry.code, **entry.facts)
