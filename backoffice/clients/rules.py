"""What is known of a client, a yard, a horse; what is it called, and who pays for it?"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from backoffice.errors import Refused
from backoffice.practice.rules import whole
from backoffice.words import Speech

GONE = ("sold", "gone", "dead")
NOBODY_KNOWN: tuple[tuple[int | None, int], ...] = ((None, 1),)
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ClientDetails:
    """Someone who is billed, as the edit form shows him."""

    name: str | None = None
    address: str | None = None
    phone: str | None = None
    email: str | None = None
    notes: str | None = None
    sort: str = "private"
    bill_when: str = "tonight"
    bill_how: str = "paper"
    terms_days: int | None = None
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class YardDetails:
    """Where horses stand, as the edit form shows it."""

    name: str | None = None
    address: str | None = None
    gate_note: str | None = None
    notes: str | None = None
    ground: str | None = None
    miles: int | None = None
    call_out: int | None = None
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseTypeDetails:
    """A kind of horse, as the edit form shows it; factors in thousandths of an ordinary one."""

    name: str
    wear_factor: int = 1_000
    time_factor: int = 1_000
    nails: int = 6
    shod_days: int = 42
    trim_days: int = 56
    hidden: bool = False
    version: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseDetails:
    """A horse, as the edit form shows it; flags and payers are edited apart.

    Its owner need not be who pays.
    """

    name: str | None = None
    words: str | None = None
    notes: str | None = None
    type_id: int | None = None
    yard_id: int | None = None
    owner_id: int | None = None
    weight_lb: int | None = None
    cycle_days: int | None = None
    hidden: bool = False
    version: int | None = None


def search_key(*texts: str | None) -> str:
    """Give what a search compares: small letters without accents, the texts one after another."""
    joined = " ".join(text for text in texts if text)
    folded = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", joined).casefold())
    kept = (c for c in folded.casefold() if unicodedata.category(c) not in ("Mn", "Cf"))
    return " ".join("".join(kept).translate(_PLAIN).split())


def client_label(speech: Speech, name: str | None) -> str:
    """Name a client, even one whose name is not known yet."""
    return name or speech.say("client.unnamed")


def yard_label(speech: Speech, name: str | None) -> str:
    """Name a yard, even one whose name is not known yet."""
    return name or speech.say("yard.unnamed")


def horse_label(speech: Speech, name: str | None, words: str | None) -> str:
    """Name a horse: its name, else the words it was first spoken of with."""
    return name or words or speech.say("horse.unnamed")


def payer_parts(parts: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Give the payers that have a part, in the order named; none at all is not known yet.

    Raises: Refused if a part is below nothing, all are nothing, or a client is named twice.
    """
    if any(part < 0 for _, part in parts) or (parts and not any(part for _, part in parts)):
        raise Refused("shares.make_nothing", field="parts")
    for _, part in parts:
        whole(part, "parts")
    if len({client for client, _ in parts}) < len(parts):
        raise Refused("shares.twice", field="parts")
    return tuple((client, part) for client, part in parts if part)


def starting_types(words: str) -> tuple[HorseTypeDetails, ...]:
    """Give the kinds of horse a practice starts with.

    Wear: a draft's foot is three or four ordinary feet, a pony's seven tenths of one. Time and
    days: common practice; a foal is seen every four weeks until it is weaned.
    """
    us = words != "uk"

    def kind(name: str, wear: int, time: int, nails: int, shod: int, trim: int) -> HorseTypeDetails:
        return HorseTypeDetails(
            name=name,
            wear_factor=wear,
            time_factor=time,
            nails=nails,
            shod_days=shod,
            trim_days=trim,
        )

    return (
        kind("Mini or pony" if us else "Pony or miniature", 700, 950, 5, 56, 56),
        kind("Light riding horse" if us else "Riding horse", 1_000, 1_000, 6, 42, 56),
        kind("Stock horse" if us else "Cob", 1_000, 1_000, 6, 42, 56),
        kind("Sport horse or warmblood", 1_150, 1_100, 6, 35, 56),
        kind("Draft horse" if us else "Heavy horse", 3_000, 2_100, 8, 49, 56),
        kind("Donkey or mule", 800, 950, 5, 56, 60),
        kind("Foal", 400, 600, 4, 28, 28),
    )
