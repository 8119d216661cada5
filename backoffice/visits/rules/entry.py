"""What does a line typed from the paper day sheet say? By line number, US and UK words alike."""

import re
import unicodedata
from collections.abc import Callable, Sequence

from backoffice.errors import Refused
from backoffice.money import parse_money
from backoffice.units import Foot, FootWork
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
from backoffice.visits.rules.facts import sayable_nails

LONGEST = 500


_LINE = re.compile(r"(?P<number>[0-9]{1,9})[.:)]?\s*(?P<rest>.*)")
_EXTRA = re.compile(r"(?P<letter>([a-z])\2?)\s*\+\s*(?P<rest>.*)", re.IGNORECASE)
_GROUND = re.compile(r"(?P<letter>([a-z])\2?) (?P<ground>\w+)", re.IGNORECASE)
_MISSED = re.compile(
    r"(a|absent|away|not there|not caught)(?![^\s,])[\s,]*(?P<note>.*)", re.IGNORECASE
)
_COUNT = re.compile(r"[0-9]{1,9}")
_NAILS = re.compile(r"x(?P<nails>[0-9]{1,9})", re.IGNORECASE)
_SIZE_NAILS = re.compile(r"(?P<size>[^x\s]+)x(?P<nails>[0-9]{1,9})", re.IGNORECASE)

_FRONTS, _HINDS = (Foot.LF, Foot.RF), (Foot.LH, Foot.RH)
_FEET: dict[str, tuple[Foot, ...]] = {
    "lf": (Foot.LF,), "rf": (Foot.RF,), "lh": (Foot.LH,), "rh": (Foot.RH,),
    "nf": (Foot.LF,), "of": (Foot.RF,), "nh": (Foot.LH,), "oh": (Foot.RH,),
    "f": _FRONTS, "front": _FRONTS, "fronts": _FRONTS, "fore": _FRONTS, "fores": _FRONTS,
    "h": _HINDS, "hind": _HINDS, "hinds": _HINDS,
    "all": tuple(Foot),
}  # fmt: skip
_WORK = {
    "new": FootWork.NEW,
    "reset": FootWork.RESET,
    "refit": FootWork.RESET,
    "trim": FootWork.TRIM,
    "trimmed": FootWork.TRIM,
    "pulled": FootWork.PULLED,
    "nothing": FootWork.NONE,
    "none": FootWork.NONE,
    "not done": FootWork.NOT_DONE,
}
_STAND = {"leaned": "leaned", "leant": "leaned", "slipped": "slipped", "creaks": "slipped",
          "creaked": "slipped", "fell": "fell"}  # fmt: skip
_GROUNDS = {"mud": "mud", "dry": "dry", "sand": "sand", "ordinary": "ordinary"}
_METHODS = {"cash": "cash", "card": "card", "transfer": "transfer", "check": "cheque",
            "cheque": "cheque", "app": "app"}  # fmt: skip
_NO_TRAVEL = ("no call-out", "no callout", "no call out", "no trip fee", "no travel")


def apart(text: str) -> tuple[str, ...]:
    """Part what was typed into entries, leaving out what is empty.

    Source: docs/rules/entry.md#reading
    """
    return tuple(part.strip() for part in re.split(r"[;\r\n]", text) if part.strip())


def read_entry(text: str, *, currency: str) -> Entry:
    """Read one entry: a line's number, a stop's letter or a word of the day, and what is said.

    Units: money in minor units of the currency, minutes, counts of nails, miles.
    Raises: Refused with what was typed and what could be, where it is not understood.
    Source: docs/rules/entry.md#reading
    """
    if any(unicodedata.category(c) in ("Cc", "Cs") and not c.isspace() for c in text):
        raise Refused("text.control")
    typed = " ".join(text.split())
    if len(typed) > LONGEST:
        raise Refused("text.too_long", most=LONGEST)
    if line := _LINE.fullmatch(typed):
        return _read_line(typed, int(line["number"]), line["rest"], currency)
    if extra := _EXTRA.fullmatch(typed):
        return _read_extra(typed, extra["letter"], extra["rest"], currency)
    if ground := _GROUND.fullmatch(typed):
        was = _GROUNDS.get(ground["ground"].casefold())
        if was is None:
            raise Refused("entry.ground", typed=typed)
        return GroundWas(letter=ground["letter"].upper(), ground=was)
    return _read_day(typed)


def _read_day(typed: str) -> Entry:
    word, _, rest = typed.partition(" ")
    rest = rest.strip()
    match word.casefold():
        case "miles":
            return _miles(typed, rest.replace(",", "").split())
        case "knife":
            if not rest:
                raise Refused("entry.knife", typed=typed)
            return KnifeDull(name=None if rest.casefold() in ("no", "none") else rest)
        case "along":
            if rest.casefold() == "no":
                return CameAlong(came=False)
            return CameAlong(came=True, name=rest or None)
    raise Refused("entry.not_understood", typed=typed)


def _miles(typed: str, words: Sequence[str]) -> Miles:
    if len(words) != 2 or not all(_COUNT.fullmatch(word) for word in words):
        raise Refused("entry.miles", typed=typed)
    out, back = int(words[0]), int(words[1])
    if back < out:
        raise Refused("entry.miles_backwards", typed=typed, out=out, back=back)
    return Miles(out=out, back=back)


def _read_extra(typed: str, letter: str, rest: str, currency: str) -> Extra:
    words, _, more = rest.partition(",")
    service, _, price = more.partition(",")
    if not words.strip():
        raise Refused("entry.extra", typed=typed)
    return Extra(
        letter=letter.upper(),
        words=words.strip(),
        service=service.strip() or None,
        say=_price(price, currency) if price.strip() else None,
    )


def _price(text: str, currency: str) -> int:
    cents = parse_money(text, currency)
    if cents < 0:
        raise Refused("money.negative")
    return cents


def _read_line(typed: str, number: int, rest: str, currency: str) -> Entry:
    said = rest.casefold()
    if said in ("", "ok"):
        return AsPlanned(number=number)
    if said in ("undo", "owner", "owner pays"):
        return TakenBack(number=number) if said == "undo" else OwnerPays(number=number)
    if said == "free":
        return PriceTold(number=number, say=0)
    if said in _NO_TRAVEL:
        return PriceTold(number=number, travel=0)
    if said in _STAND:
        return StandMet(number=number, what=_STAND[said])
    word, _, more = rest.partition(" ")
    word = word.casefold()
    if word in _FEET:
        return _feet(typed, number, _FEET[word], more.split())
    if word in ("lost", "cast"):
        return _lost(typed, number, more.split())
    if missed := _MISSED.fullmatch(rest):
        return Missed(number=number, note=missed["note"] or None)
    if word in _READS:
        return _READS[word](typed, number, more, currency)
    raise Refused("entry.line_not_understood", typed=typed, number=number)


def _told(typed: str, number: int, more: str, currency: str) -> Entry:
    if not more:
        raise Refused("entry.told", typed=typed, number=number)
    return PriceTold(number=number, say=_price(more, currency))


def _pays(typed: str, number: int, more: str, _currency: str) -> Entry:
    if not more:
        raise Refused("entry.pays", typed=typed, number=number)
    return Pays(number=number, name=more)


def _note(typed: str, number: int, more: str, _currency: str) -> Entry:
    if not more:
        raise Refused("entry.note", typed=typed)
    return Written(number=number, text=more)


def _flag(typed: str, number: int, more: str, _currency: str) -> Entry:
    if not more:
        raise Refused("entry.flag", typed=typed)
    return Written(number=number, text=more, warning=True)


def _minutes(typed: str, number: int, more: str, _currency: str) -> Entry:
    if not re.fullmatch(r"0*[1-9][0-9]{0,2}", more):
        raise Refused("entry.minutes", typed=typed, number=number)
    return Took(number=number, minutes=int(more))


def _paid(typed: str, number: int, more: str, currency: str) -> Entry:
    words = [word.rstrip(",") for word in more.split()]
    if not words:
        raise Refused("entry.paid", typed=typed, number=number)
    handed, tip, receipt, method = _price(words[0], currency), 0, None, "cash"
    left = iter(words[1:])
    for word in left:
        match word.casefold():
            case "tip" if given := next(left, ""):
                tip = _price(given, currency)
            case "receipt" if given := next(left, ""):
                receipt = given
            case way if way in _METHODS:
                method = _METHODS[way]
            case _:
                raise Refused("entry.paid", typed=typed, number=number)
    if tip >= handed:
        raise Refused("entry.tip", handed_cents=handed, tip_cents=tip)
    return HandedOver(number=number, amount=handed - tip, tip=tip, receipt=receipt, method=method)


_READS: dict[str, Callable[[str, int, str, str], Entry]] = {
    "told": _told,
    "pays": _pays,
    "paid": _paid,
    "note": _note,
    "flag": _flag,
    "min": _minutes,
    "minutes": _minutes,
}


def _feet(typed: str, number: int, feet: tuple[Foot, ...], words: list[str]) -> Entry:
    done, words = _work_of(words)
    if done is None and not words:
        if feet in (_FRONTS, _HINDS):
            return OneEnd(number=number, fronts=feet is _FRONTS)
        raise Refused("entry.foot_what", typed=typed)
    size, nails, shoe = _shoe(words)
    if words and done is not None and not done.shod:
        raise Refused("entry.no_shoe_there", typed=typed)
    return Otherwise(number=number, feet=feet, done=done, size=size, nails=nails, shoe=shoe)


def _work_of(words: list[str]) -> tuple[FootWork | None, list[str]]:
    for length in (2, 1):
        said = " ".join(words[:length]).casefold()
        if len(words) >= length and said in _WORK:
            return _WORK[said], words[length:]
    return None, words


def _lost(typed: str, number: int, words: list[str]) -> Entry:
    feet = _FEET.get(words[0].casefold()) if words else None
    if feet is None:
        raise Refused("entry.lost_foot", typed=typed, number=number)
    found = len(words) > 1 and words[1].casefold() == "found"
    if found:
        nails = _only_nails(words[2:])
        if len(words) > 2 and nails is None:
            raise Refused("entry.own_shoe", typed=typed)
        return Lost(number=number, feet=feet, found=True, nails=nails)
    size, nails, shoe = _shoe(words[1:])
    return Lost(number=number, feet=feet, size=size, nails=nails, shoe=shoe)


def _only_nails(words: list[str]) -> int | None:
    """Read ``x6``, ``x 6``, ``6 nails`` or a bare ``6``; anything else is None."""
    said = " ".join(words).casefold().removesuffix(" nails").removeprefix("x").strip()
    return sayable_nails(int(said)) if _COUNT.fullmatch(said) else None


def _shoe(words: list[str]) -> tuple[str | None, int | None, str | None]:
    """Read a size, nails, and words of the shoe's name, each of which may be left out."""
    if not words:
        return None, None, None
    only = words[0].casefold() == "x" or _NAILS.fullmatch(words[0])
    if only or words[-1].casefold() == "nails":
        nails = _only_nails(words)
        if nails is not None:
            return None, nails, None
    size, rest = words[0], words[1:]
    if both := _SIZE_NAILS.fullmatch(size):
        size, rest = both["size"], [both["nails"], *rest]
    if rest and rest[0].casefold() == "x":
        rest = rest[1:]
    nails = None
    if rest and (count := _COUNT.fullmatch(rest[0]) or _NAILS.fullmatch(rest[0])):
        nails = sayable_nails(int(count[0].lstrip("xX")))
        rest = rest[1:]
    if rest and rest[0].casefold() == "nails":
        rest = rest[1:]
    return size, nails, " ".join(rest) or None
