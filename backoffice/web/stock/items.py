"""An item looked at, added and changed."""

from dataclasses import dataclass
from datetime import date

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.practice import queries as practice
from backoffice.stock import queries, service
from backoffice.stock.rules import PATTERNS, ItemDetails
from backoffice.suppliers import queries as suppliers
from backoffice.visits import queries as visits
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, CountField, LinesField, SelectId, TextField, TickField
from backoffice.web.records import RecordForm, form_page, keep
from backoffice.web.roles import allow, once
from backoffice.web.shell import render
from backoffice.web.stock.blueprint import pages
from backoffice.web.stock.words import PlaceOf, in_words, places_of, title_of
from backoffice.web.writing import reading

KINDS = ("shoe", "nail", "pad", "packing", "rasp", "other")


class ItemForm(RecordForm):
    """Something kept in stock."""

    sort = ChoiceField("Kind", [(sort, "{item_sort." + sort + "}") for sort in KINDS], needed=True)
    name = TextField("Name", needed=True)
    size_text = TextField("Size", most=40)
    pattern = ChoiceField(
        "Goes on", [(pattern, "{pattern." + pattern + "}") for pattern in PATTERNS], needed=True
    )
    pack = CountField("How many come in a box or pack", least=1, needed=True)
    supplier_id = SelectId("Usually bought from")
    care = LinesField("What to mind")
    hidden = TickField("Put away: no longer kept")


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryOf:
    """What is left of one delivery at one place."""

    day: date
    place: str
    supplier: str
    says: str
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeOf:
    """Something that came or went."""

    day: date
    place: str
    what: str
    says: str
    cost: int
    work_id: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemPage:
    """An item with all that is known of it."""

    id: int
    title: str
    details: ItemDetails
    supplier: str
    pack: str
    places: tuple[PlaceOf, ...]
    left: tuple[DeliveryOf, ...]
    changes: tuple[ChangeOf, ...]
    sees_money: bool
    owner: bool


def _pack(details: ItemDetails) -> str:
    shoes = details.sort == "shoe"
    if details.pack <= (2 if shoes else 1):
        return ""
    code = "stock_page.pack.box" if shoes or details.sort == "nail" else "stock_page.pack.pack"
    return caller().speech.say(code, many=in_words(details.pack, 1, details.sort))


def _change(qty: int, details: ItemDetails) -> str:
    sign = "+" if qty > 0 else "−"
    return f"{sign} {in_words(abs(qty), details.pack, details.sort)}"


@pages.get("/stock/<int:item_id>")
@allow("owner", "field")
def show(item_id: int) -> Response:
    """Show an item."""
    say, role = caller().speech.say, caller().role
    with reading() as session:
        card = queries.item_card(session, item_id)
        uses = [move.use_id for move in card.moves if move.use_id is not None]
        works = visits.works_of_uses(session, uses)
        places = practice.places(session, hidden=True)
        sellers = {
            seller.id: seller.details.name
            for seller in suppliers.supplier_list(session, hidden=True).rows
        }
    details, held = card.details, {place.place_id for place in card.places}
    names = [(one.id, one.name) for one in places if one.id in held or not one.hidden]
    page = ItemPage(
        id=item_id,
        title=title_of(details),
        details=details,
        supplier=sellers.get(details.supplier_id or 0, ""),
        pack=_pack(details),
        places=places_of(card, names),
        left=tuple(
            DeliveryOf(
                day=left.day,
                place=left.place_name,
                supplier=sellers.get(left.supplier_id or 0, ""),
                says=in_words(left.qty, details.pack, details.sort),
                cost=left.cost,
            )
            for left in card.left
        ),
        changes=tuple(
            ChangeOf(
                day=move.day,
                place=move.place_name,
                what=say(f"stock.move.{move.what}"),
                says=_change(move.qty, details),
                cost=move.cost,
                work_id=works.get(move.use_id or 0),
            )
            for move in card.moves
        ),
        sees_money=role != "field",
        owner=role == "owner",
    )
    return render("stock/show.html", page)


@pages.get("/stock/new")
@allow("owner")
def new() -> Response:
    """Ask for a new item."""
    return _item_page(ItemForm(data={"pattern": "either", "pack": 1}), url_for("shelf.index"))


def _item_page(form: ItemForm, back: str, status: int = 200) -> Response:
    say = caller().speech.say
    with reading() as session:
        form.supplier_id.offer(suppliers.supplier_choices(session))
    is_new = form.version.data is None
    return form_page(
        form,
        title=say("stock_page.new") if is_new else form.name.data or say("stock_page.edit"),
        back=back,
        hints={
            "size_text": say("stock_page.size_hint"),
            "pack": say("stock_page.pack_hint"),
            "care": say("stock_page.care_hint"),
        },
        status=status,
    )


@pages.post("/stock/new")
@allow("owner")
@once
def create() -> Response:
    """Save a new item."""
    form = _typed_item()
    return keep(
        form,
        lambda session: service.save_item(session, form.details(ItemDetails)),
        lambda item_id: url_for("stock.show", item_id=item_id),
        lambda status: _item_page(form, url_for("shelf.index"), status),
    )


def _typed_item() -> ItemForm:
    form = ItemForm.typed()
    with reading() as session:
        form.supplier_id.offer(suppliers.supplier_choices(session))
    return form


@pages.get("/stock/<int:item_id>/edit")
@allow("owner")
def edit(item_id: int) -> Response:
    """Show an item to be changed."""
    with reading() as session:
        card = queries.item_card(session, item_id)
    return _item_page(ItemForm(obj=card.details), url_for("stock.show", item_id=item_id))


@pages.post("/stock/<int:item_id>/edit")
@allow("owner")
def save(item_id: int) -> Response:
    """Save what was changed in an item."""
    form, back = _typed_item(), url_for("stock.show", item_id=item_id)
    return keep(
        form,
        lambda session: service.save_item(session, form.details(ItemDetails), item_id),
        lambda _id: back,
        lambda status: _item_page(form, back, status),
        now=lambda session: queries.item_card(session, item_id).details,
    )
