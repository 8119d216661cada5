"""How does a day look on paper? One sheet for each farrier, to be written on with a pencil."""

from collections.abc import Mapping, Sequence
from datetime import date

from backoffice.clients.rules import client_label, horse_label, yard_label
from backoffice.folders import templates
from backoffice.money import plain, split
from backoffice.pricing.rules import Guarantee
from backoffice.typeset import Paper, set_pdf
from backoffice.units import Foot, FootWork
from backoffice.visits.queries import Sheet, SheetLine, SheetPayer, SheetStop
from backoffice.words import Speech

LAYOUT = "day-sheet-1.typ"
GROUNDS = ("ordinary", "mud", "dry", "sand")
KEY = ("planned", "absent", "fronts", "lost", "told", "owner", "paid", "extra", "stand")
# A sheet is not the record: what is longer than its place on paper ends in dots.
LONGEST_NAME = 60
LONGEST_NOTE = 90
LONGEST_WARNING = 300
LONGEST_GATE = 160
LONGEST_SIZE = 8

Guarantees = Mapping[int, Guarantee]
NO_GUARANTEES: Guarantees = {}


def pdf(
    day: date,
    sheets: Sequence[Sheet],
    speech: Speech,
    paper: Paper,
    guarantees: Guarantees = NO_GUARANTEES,
) -> bytes:
    """Set the sheets of a day as PDF, each beginning on a page of its own.

    ``guarantees`` say of lost shoes, by their horse records, whether they go back on free.

    Raises: Refused if the typesetter is not installed.
    """
    layout = templates() / "documents" / LAYOUT
    return set_pdf(layout, worded(day, sheets, speech, guarantees), paper, day)


def worded(
    day: date, sheets: Sequence[Sheet], speech: Speech, guarantees: Guarantees = NO_GUARANTEES
) -> dict[str, object]:
    """Word everything that stands on the sheets of a day, ready to be set."""
    return {
        "region": {"us": "US", "uk": "GB"}[speech.words],
        "title": speech.say("sheet.title", day=speech.long_day(day)),
        "miles": [speech.say("sheet.miles_out"), speech.say("sheet.miles_in")],
        "along": speech.say("sheet.along"),
        "ground": speech.say("sheet.ground"),
        "head": [
            speech.say(f"sheet.{column}")
            for column in ("horse", "feet", "work", "ticks", "otherwise")
        ],
        "paid": [speech.say(f"sheet.{part}") for part in ("paid", "tip", "receipt")],
        "feet": [speech.foot(foot) for foot in Foot],
        "page": speech.say("sheet.page"),
        "key": {
            "says": speech.say("sheet.key"),
            "codes": [
                [speech.say(f"sheet.key.{code}.typed"), speech.say(f"sheet.key.{code}")]
                for code in KEY
            ],
        },
        "sheets": [
            {
                "day": speech.long_day(sheet.day),
                "farrier": _short(sheet.farrier_name),
                "truck": _short(sheet.place_name),
                "stops": [_stop(stop, speech, guarantees) for stop in sheet.stops],
            }
            for sheet in sheets
        ],
    }


def _stop(stop: SheetStop, speech: Speech, guarantees: Guarantees) -> dict[str, object]:
    return {
        "letter": stop.letter,
        "name": _short(yard_label(speech, stop.yard_name)),
        "gate": _short(stop.gate_note, LONGEST_GATE),
        "ground": speech.say(f"sheet.ground.{stop.ground}"),
        "grounds": [speech.say(f"sheet.ground.{g}") for g in GROUNDS if g != stop.ground],
        "lines": [_line(line, speech, guarantees.get(line.work_id)) for line in stop.lines],
    }


def _line(line: SheetLine, speech: Speech, guarantee: Guarantee | None) -> dict[str, object]:
    label = horse_label(speech, line.name, line.words)
    about = [line.words if line.name else None, line.type_name]
    service = _short(line.service_name) or speech.say("unknown")
    price, besides = _price(line, speech, guarantee)
    return {
        "no": str(line.number),
        "flags": [
            _short(f"{speech.say(f'flag.{flag.flag}')} {flag.note or ''}", LONGEST_WARNING)
            for flag in line.flags
        ],
        "name": _short(label),
        "about": ", ".join(_short(text) for text in about if text),
        "pays": _pays(line, speech, free=guarantee is not None and guarantee.holds),
        "note": _note(line, speech),
        "feet": _feet(line, speech),
        "service": speech.say("sheet.finishes", service=service) if line.finishes else service,
        "price": price,
        "besides": besides,
        "ticks": _ticks(line, speech),
    }


def _price(line: SheetLine, speech: Speech, guarantee: Guarantee | None) -> tuple[str, str]:
    """Say the price to tell, and what is to be known with it."""
    price = "" if line.price is None else speech.money(line.price + line.travel)
    if guarantee is not None and guarantee.holds:
        code = "sheet.free_else" if price else "sheet.free_by"
        by = speech.say(code, day=guarantee.day, of=guarantee.of, price=price)
        return speech.say("price.free"), by
    if not line.travel:
        return price, ""
    travel = plain(line.travel, speech.currency)
    return price, speech.say("sheet.incl_call_out", travel=travel)


def _pays(line: SheetLine, speech: Speech, *, free: bool) -> list[str]:
    """Say who pays; several each with what is theirs, split as the bill splits it."""
    known = [payer for payer in line.payers if payer.client_id is not None]
    if not known:
        said = [speech.say("sheet.pays_unknown")]
    else:
        said = [
            speech.say("sheet.pays", who="\u00a0· ".join(_parts(line, known, speech, free=free)))
        ]
    if line.owner_id is not None and line.owner_id not in {payer.client_id for payer in known}:
        owner = _short(client_label(speech, line.owner_name))
        said.append(speech.say("sheet.owner", who=owner))
    return said


def _parts(
    line: SheetLine, payers: Sequence[SheetPayer], speech: Speech, *, free: bool
) -> list[str]:
    names = [_short(client_label(speech, payer.name)) for payer in payers]
    if len(names) == 1 or free:
        return names
    parts = [payer.parts for payer in payers]
    if line.price is None:
        return [f"{name} {part}" for name, part in zip(names, parts, strict=True)]
    shares = zip(names, split(line.price, parts), split(line.travel, parts), strict=True)
    return [f"{name} {plain(work + way, speech.currency)}" for name, work, way in shares]


def _note(line: SheetLine, speech: Speech) -> str:
    note = line.note or (line.last_note and speech.say("sheet.last_note", note=line.last_note))
    return _short(note, LONGEST_NOTE)


def _short(text: str | None, most: int = LONGEST_NAME) -> str:
    words = " ".join((text or "").split())
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _feet(line: SheetLine, speech: Speech) -> list[dict[str, str]]:
    planned = {foot.foot: foot for foot in line.feet}
    worn = {foot.foot: foot for foot in line.wears}
    boxes = []
    for foot in Foot:
        plan, wears = planned.get(foot), worn.get(foot)
        work = FootWork(plan.planned) if plan else FootWork.NONE
        shod = plan if plan and work.shod else None
        known = shod if shod and shod.size else wears
        nails = known.nails if known else shod.nails if shod else None
        boxes.append(
            {
                "foot": speech.foot(foot),
                "work": speech.say(f"sheet.foot.{work}") if plan else "",
                "size": _short(known.size if known else None, LONGEST_SIZE),
                "nails": f"×{nails}" if nails else "",
                # A shoe goes on and nobody knows which: room to write it down.
                "ask": "yes" if shod and not (known and known.size) else "",
            }
        )
    return boxes


def _ticks(line: SheetLine, speech: Speech) -> list[str]:
    """Give what may be ticked; fronts only where shoes are planned there, for a trim is quick."""
    if line.lost_shoe:
        return [speech.say(f"sheet.{tick}") for tick in ("found", "gone", "absent")]
    planned = [(Foot(foot.foot).front, FootWork(foot.planned)) for foot in line.feet]
    ticks = ["as_planned", "absent"]
    if any(front and work.shod for front, work in planned) and any(
        not front and work.worked for front, work in planned
    ):
        ticks.append("fronts")
    return [speech.say(f"sheet.{tick}") for tick in ticks]
