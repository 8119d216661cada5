"""Shelf and tools: what is where, in what state, and what to do next."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from flask import Blueprint
from werkzeug.wrappers import Response

from backoffice.practice import queries as practice
from backoffice.stock import queries as stock
from backoffice.stock.queries import ItemOnShelf
from backoffice.tools import queries as tools
from backoffice.tools.queries import KitTool, ToolLine
from backoffice.web.caller import caller
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.stock import in_words
from backoffice.web.tools import next_code, sentences
from backoffice.web.writing import reading

pages = Blueprint("shelf", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRow:
    """An item and what each place holds of it, in words."""

    id: int
    name: str
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOf:
    """Items of one kind."""

    word: str
    items: tuple[ItemRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolRow:
    """A tool, what is wrong with it, how it stands and what to do next."""

    id: int
    name: str
    sort: str
    trouble: str
    says: tuple[str, ...]
    next: str
    stop: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """The tools of one place."""

    place: str
    tools: tuple[ToolRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfPage:
    """All that is kept."""

    places: tuple[str, ...]
    kinds: tuple[KindOf, ...]
    kits: tuple[Kit, ...]
    owner: bool


@pages.get("/shelf")
@allow("owner", "field")
def index() -> Response:
    """Show the shelves and the tools."""
    today = caller().today
    with reading() as session:
        places = practice.places(session)
        items = stock.shelf_list(session)
        found = tools.tool_list(session, today)
        kits = tools.kit(session, {tool.place_id for tool in found})
    worked = {tool.id: tool for kit in kits.values() for sort in kit.values() for tool in sort}
    page = ShelfPage(
        places=tuple(place.name for place in places),
        kinds=_kinds(items, [place.id for place in places]),
        kits=_kits(found, worked, today),
        owner=caller().role == "owner",
    )
    return render("shelf/index.html", page)


def _kinds(items: Iterable[ItemOnShelf], places: list[int]) -> tuple[KindOf, ...]:
    say, kinds = caller().speech.say, dict[str, list[ItemRow]]()
    for one in items:
        row = ItemRow(id=one.item.id, name=one.item.label, holds=_holds(one, places))
        kinds.setdefault(one.item.sort, []).append(row)
    return tuple(
        KindOf(word=say(f"shelf.kind.{sort}"), items=tuple(rows)) for sort, rows in kinds.items()
    )


def _holds(one: ItemOnShelf, places: list[int]) -> tuple[str, ...]:
    held = {place.place_id: place for place in one.places}

    def says(place_id: int) -> str:
        place = held.get(place_id)
        if place is None or not place.counted:
            return caller().speech.say("stock.not_counted")
        return in_words(place.qty, one.item.pack, one.item.sort)

    return tuple(says(place_id) for place_id in places)


def _kits(found: Iterable[ToolLine], worked: Mapping[int, KitTool], today: date) -> tuple[Kit, ...]:
    say, kits = caller().speech.say, dict[str, list[ToolRow]]()
    for tool in found:
        spent = worked.get(tool.id)
        code = next_code(tool, spent.edge if spent else None, spent.life if spent else None, today)
        said = sentences(tool)
        row = ToolRow(
            id=tool.id,
            name=tool.name,
            sort=say(f"tool.{tool.sort}"),
            trouble=said[0].rstrip(".") if tool.trouble else "",
            says=said[1:] if tool.trouble else said,
            next=say(code) if code else "",
            stop=tool.trouble == "do_not_use",
        )
        kits.setdefault(tool.place_name, []).append(row)
    return tuple(Kit(place=place, tools=tuple(rows)) for place, rows in kits.items())
