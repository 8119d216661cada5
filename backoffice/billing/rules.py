"""What does a bill come to, what of it is frozen, and which bill does a payment settle?"""

import hashlib
import json
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from enum import StrEnum

from backoffice.errors import Refused
from backoffice.money import apply_rate

TEMPLATE = "bill-1"  # the newest layout; older ones stay, for the bills that were printed with them
CHAIN_START = "0" * 64


class DocumentKind(StrEnum):
    """Bill or correction, by the document type code of EN 16931 (UNTDID 1001)."""

    INVOICE = "380"
    CREDIT = "381"


class TaxCategory(StrEnum):
    """How sales tax treats a line, by the category code of EN 16931 (UNCL 5305)."""

    STANDARD = "S"
    ZERO = "Z"
    EXEMPT = "E"
    OUTSIDE = "O"  # the seller is not registered, or the tax does not know such work


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentLine:
    """One line as billed: the price without tax, and the price as it was quoted."""

    kind: str
    net: int
    quoted: int
    category: str
    rate_ppm: int
    code: str = ""
    qty: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxSum:
    """The tax of one category and rate on a whole document."""

    category: str
    rate_ppm: int
    base: int
    tax: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """What a document comes to."""

    net: int
    taxes: tuple[TaxSum, ...]
    tax: int
    gross: int
    rounding: int
    payable: int


def _check_tax(lines: Sequence[DocumentLine]) -> None:
    for line in lines:
        if (TaxCategory(line.category) is TaxCategory.STANDARD) != (line.rate_ppm > 0):
            raise Refused("document.rate_unfit", category=line.category)
    if len({line.category == TaxCategory.OUTSIDE for line in lines}) > 1:
        raise Refused("document.outside_mixed")


def totals(lines: Sequence[DocumentLine], *, includes_tax: bool) -> Totals:
    """Add a document up, with tax per category and rate on the document.

    Prices that include tax keep the sum people were told: what the tax per rate does not give
    back goes to the rounding amount.
    Units: minor units.
    Rounding: the tax of each category and rate once, half up on the magnitude; sums never.
    Raises: Refused if a line without tax has a rate or one with tax has none, or if lines
    outside the tax are mixed with others.
    Source: docs/rules/billing.md#totals (EN 16931 BR-CO-13 to 17, BR-O-11 and 12)
    """
    _check_tax(lines)
    bases: dict[tuple[str, int], int] = {}
    for line in lines:
        key = (str(line.category), line.rate_ppm)
        bases[key] = bases.get(key, 0) + line.net
    taxes = tuple(
        TaxSum(category=category, rate_ppm=rate, base=base, tax=apply_rate(base, rate))
        for (category, rate), base in sorted(bases.items())
    )
    net = sum(bases.values())
    tax = sum(part.tax for part in taxes)
    gross = net + tax
    rounding = sum(line.quoted for line in lines) - gross if includes_tax else 0
    return Totals(
        net=net, taxes=taxes, tax=tax, gross=gross, rounding=rounding, payable=gross + rounding
    )


def collecting_until(bill_when: str, first_day: date) -> date | None:
    """Say until which day a bill collects what comes after its first line; None, it does not.

    Weekly to the Sunday, monthly to the last day of the month; on that day it is ready.
    Units: days.
    Source: docs/rules/billing.md#when-a-bill-is-ready
    """
    if bill_when == "weekly":
        return first_day + timedelta(days=6 - first_day.weekday())
    if bill_when == "monthly":
        return first_day.replace(day=monthrange(first_day.year, first_day.month)[1])
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seller:
    """The practice as it stood on the day of issue."""

    name: str
    address: tuple[str, ...] = ()
    tax_id: str = ""
    pay_to: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The frozen half of a document: no personal data, kept for good.

    A correction (381) carries positive amounts, which are taken off what is owed.
    """

    series: str
    no: int
    kind: DocumentKind
    issued: date
    due: date | None
    currency: str
    words: str
    includes_tax: bool
    seller: Seller
    lines: tuple[DocumentLine, ...]
    totals: Totals
    credits: str | None = None
    template: str = TEMPLATE

    @property
    def number(self) -> str:
        """The number as printed."""
        return document_number(self.series, self.no)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineText:
    """What a line says about people: the work in words, the horse, the day."""

    text: str
    horse: str | None = None
    day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """The personal half of a document, emptied once the law lets go of it.

    ``buyer`` is the name and then the address, ``lines`` stand in the order of the body's.
    """

    buyer: tuple[str, ...]
    lines: tuple[LineText, ...]
    note: str = ""


def document_number(series: str, no: int) -> str:
    """Write a document's number: ``B-1042``, or ``1042`` in a series without a name.

    Source: docs/rules/billing.md#numbers
    """
    return f"{series}-{no}" if series else str(no)


def _whole(value: object) -> None:
    if isinstance(value, float):
        raise TypeError("no float goes into a frozen record")
    if isinstance(value, dict):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise TypeError("the keys of a frozen record are text")
            _whole(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            _whole(inner)


def canonical(data: object) -> str:
    """Write data as the one text its hash is taken of: sorted keys, no spaces, ASCII.

    Dates become YYYY-MM-DD.
    Raises: TypeError for a float or a key that is not text.
    Source: docs/rules/billing.md#the-frozen-record
    """
    _whole(data)
    return json.dumps(
        data, sort_keys=True, separators=(",", ":"), ensure_ascii=True, default=date.isoformat
    )


def body_text(body: Body) -> str:
    """Write the frozen half of a document as canonical text.

    Source: docs/rules/billing.md#the-frozen-record
    """
    return canonical(asdict(body))


def read_body(text: str) -> Body:
    """Read the frozen half of a document back.

    Source: docs/rules/billing.md#the-frozen-record
    """
    raw = json.loads(text)
    seller, sums = raw["seller"], raw["totals"]
    taxes = tuple(TaxSum(**part) for part in sums["taxes"])
    return Body(
        **raw
        | {
            "kind": DocumentKind(raw["kind"]),
            "issued": date.fromisoformat(raw["issued"]),
            "due": _day(raw["due"]),
            "seller": Seller(
                **seller | {"address": tuple(seller["address"]), "pay_to": tuple(seller["pay_to"])}
            ),
            "lines": tuple(DocumentLine(**line) for line in raw["lines"]),
            "totals": Totals(**sums | {"taxes": taxes}),
        }
    )


def particulars_text(particulars: Particulars) -> str:
    """Write the personal half of a document as canonical text.

    Source: docs/rules/billing.md#the-frozen-record
    """
    return canonical(asdict(particulars))


def read_particulars(text: str) -> Particulars:
    """Read the personal half of a document back.

    Source: docs/rules/billing.md#the-frozen-record
    """
    raw = json.loads(text)
    return Particulars(
        buyer=tuple(raw["buyer"]),
        lines=tuple(LineText(**line | {"day": _day(line["day"])}) for line in raw["lines"]),
        note=raw["note"],
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def digest(salt_hex: str, text: str) -> str:
    """Seal the personal half of a document so that, emptied, it tells nothing.

    SHA-256 of the salt's bytes and the text's, as hex.
    Source: docs/rules/billing.md#the-chain
    """
    return hashlib.sha256(bytes.fromhex(salt_hex) + text.encode()).hexdigest()


def chain(prev_hex: str, no: int, body: str, digest_hex: str) -> str:
    """Seal a document to the one before it in its series; the first follows CHAIN_START.

    SHA-256 over 32 bytes of the previous seal, 8 of the number (big-endian), 32 of the body's
    SHA-256 and 32 of the particulars' digest, as hex.
    Raises: ValueError if a seal is not 32 bytes.
    Source: docs/rules/billing.md#the-chain
    """
    prev, sealed = bytes.fromhex(prev_hex), bytes.fromhex(digest_hex)
    if len(prev) != 32 or len(sealed) != 32:
        raise ValueError("a seal is 32 bytes")
    inner = hashlib.sha256(body.encode()).digest()
    return hashlib.sha256(prev + no.to_bytes(8, "big") + inner + sealed).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedLine:
    """A line as it is read; ``text`` is None once removed."""

    text: str | None
    qty: int
    amount: int
    category: str
    rate_ppm: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedHorse:
    """What was done to one horse on one day; ``name`` is None for what concerns no horse."""

    name: str | None
    lines: tuple[PrintedLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedDay:
    """What was done on one day; ``day`` is None for what concerns no day."""

    day: date | None
    horses: tuple[PrintedHorse, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A document as it is read; ``buyer`` is None once the particulars are removed."""

    body: Body
    buyer: tuple[str, ...] | None
    days: tuple[PrintedDay, ...]
    note: str
    paid: int | None

    @property
    def open(self) -> int:
        """What is left to pay."""
        return self.body.totals.payable - (self.paid or 0)


def printed(body: str, particulars: str | None, paid_cents: int | None = None) -> Printed:
    """Put both halves of a document together as it is read: by day, then by horse.

    Days stand in order, lines without a day last; horses as they first appear.
    Units: minor units; ``paid_cents`` is None where payments are not to be mentioned.
    Source: docs/rules/billing.md#the-printed-page
    """
    frozen = read_body(body)
    personal = read_particulars(particulars) if particulars is not None else None
    texts = personal.lines if personal else (None,) * len(frozen.lines)
    days: dict[date | None, dict[str | None, list[PrintedLine]]] = {}
    for line, said in zip(frozen.lines, texts, strict=True):
        horses = days.setdefault(said.day if said else None, {})
        horses.setdefault(said.horse if said else None, []).append(
            PrintedLine(
                text=said.text if said else None,
                qty=line.qty,
                amount=line.quoted if frozen.includes_tax else line.net,
                category=line.category,
                rate_ppm=line.rate_ppm,
            )
        )
    return Printed(
        body=frozen,
        buyer=personal.buyer if personal else None,
        days=tuple(
            PrintedDay(
                day=day,
                horses=tuple(
                    PrintedHorse(name=name, lines=tuple(lines)) for name, lines in horses.items()
                ),
            )
            for day, horses in sorted(days.items(), key=lambda item: item[0] or date.max)
        ),
        note=personal.note if personal else "",
        paid=paid_cents,
    )


def allocate_oldest_first(
    open_amounts: Sequence[tuple[int, int]], cents: int
) -> tuple[tuple[int, int], ...]:
    """Settle open bills with a payment, in the order given, oldest first.

    What is left over stays the payer's credit; bills with nothing open are passed over.
    Units: pairs of bill and minor units, in and out.
    Raises: Refused if the payment is below nothing.
    Source: docs/rules/billing.md#oldest-first
    """
    if cents < 0:
        raise Refused("money.negative")
    settled = []
    for bill, still_open in open_amounts:
        part = min(max(still_open, 0), cents)
        if part:
            settled.append((bill, part))
            cents -= part
    return tuple(settled)


AGES = ("current", "to_30", "to_60", "to_90", "older")


def age_of(due: date, today: date) -> str:
    """Say how long a bill has been past due: not yet, up to 30, 60 or 90 days, or longer.

    Units: days; the day it is due is not yet late.
    Source: docs/rules/billing.md#how-late
    """
    late = (today - due).days
    return AGES[0] if late <= 0 else AGES[min((late + 29) // 30, 4)]
