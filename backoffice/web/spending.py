"""Money out: a supplier's bill or delivery, entered once; part of it stock, the rest expense."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import wtforms
from flask import Blueprint, abort, url_for
from werkzeug.wrappers import Response

from backoffice.books import queries, service
from backoffice.books.queries import SpendingCard, SpendingPart
from backoffice.books.rules import PAID_BY, BillLine, SupplierBillNew
from backoffice.practice import queries as practice
from backoffice.stock import queries as stock
from backoffice.stock.queries import ItemRow
from backoffice.suppliers import queries as suppliers
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    CreatesForm,
    DayField,
    Form,
    MoneyField,
    SelectId,
    TextField,
)
from backoffice.web.generic import Link, ListPage, Row
from backoffice.web.records import keep, page_no
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.stock import in_words
from backoffice.web.writing import reading

pages = Blueprint("spending", __name__)

LINES = 8
SHOWN = 3  # the rest opens when it is wanted
SEE_OTHER = 303
COUNTED_IN = ("single", "pair", "pack")


class LineForm(Form):
    """One line of a supplier's bill: something for the shelf, or an expense in words."""

    item = SelectId("For the shelf")
    qty = CountField("How many", least=1)
    per = ChoiceField("Counted in", [(per, "{spending.per." + per + "}") for per in COUNTED_IN])
    place = SelectId("Put where")
    what = TextField("Or what else it was")
    amount = MoneyField("Amount")

    @property
    def empty(self) -> bool:
        """Whether nothing was typed here."""
        fields = (self.item, self.qty, self.what, self.amount)
        return not any(field.errors or field.data is not None for field in fields)


class BillForm(CreatesForm):
    """A supplier's bill."""

    supplier = SelectId("From whom")
    day = DayField("Date on it", needed=True)
    reference = TextField("Its number", most=60)
    total = MoneyField("Total, with tax", needed=True)
    paid_by = ChoiceField(
        "Paid how", [(how, "{paid_by." + how + "}") for how in PAID_BY], needed=True
    )
    lines = wtforms.FieldList(wtforms.FormField(LineForm), min_entries=LINES, max_entries=LINES)

    @property
    def line_forms(self) -> list[LineForm]:
        """The lines as forms."""
        return [entry.form for entry in self.lines]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """What a supplier's bill may name."""

    suppliers: tuple[tuple[int, str], ...]
    places: tuple[tuple[int, str], ...]
    items: Mapping[int, ItemRow]

    def to(self, form: BillForm) -> None:
        """Offer it in a form."""
        form.supplier.offer(self.suppliers)
        nothing = caller().speech.say("spending.no_item")
        for line in form.line_forms:
            line.item.unknown = nothing
            line.item.offer((item.id, item.label) for item in self.items.values())
            line.place.offer(self.places)
            del line.per.choices[:1]  # type: ignore[union-attr, arg-type] # a list, once offered


def _offered() -> Offered:
    with reading() as session:
        return Offered(
            suppliers=suppliers.supplier_choices(session),
            places=practice.place_choices(session),
            items={one.item.id: one.item for one in stock.shelf_list(session)},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPage:
    """A supplier's bill to be typed."""

    form: BillForm
    lines: tuple[LineForm, ...]
    more: tuple[LineForm, ...]
    more_open: bool


@pages.get("/spending/new")
@allow("owner", "books")
def new() -> Response:
    """Ask for a supplier's bill."""
    offered = _offered()
    first = offered.places[0][0] if offered.places else None
    line = {"place": first, "per": "pack"}
    form = BillForm(data={"day": caller().today, "lines": [line] * LINES})
    return _new_page(form, offered)


def _new_page(form: BillForm, offered: Offered, status: int = 200) -> Response:
    offered.to(form)
    lines = form.line_forms
    page = NewPage(
        form=form,
        lines=tuple(lines[:SHOWN]),
        more=tuple(lines[SHOWN:]),
        more_open=not all(line.empty for line in lines[SHOWN:]),
    )
    return render("spending/new.html", page, status=status)


@pages.post("/spending/new")
@allow("owner", "books")
@once
def create() -> Response:
    """Enter a supplier's bill: its stock goes on the shelf, the rest is expense."""
    form, offered = BillForm.typed(), _offered()
    offered.to(form)
    readable = form.validate()
    lines = tuple(_lines(form, offered.items))
    if not readable or form.errors:
        return _new_page(form, offered, 422)
    bill = SupplierBillNew(
        supplier_id=form.supplier.data,
        day=form.day.data or caller().today,
        reference=form.reference.data or "",
        total=form.total.data or 0,
        paid_by=form.paid_by.data or "",
        lines=lines,
    )
    response = keep(
        form,
        lambda session: service.record_bill(session, bill),
        lambda bill_id: url_for("spending.show", bill_id=bill_id),
        lambda status: _new_page(form, offered, status),
    )
    if response.status_code == SEE_OTHER:
        flash("spending.saved", total_cents=bill.total)
    return response


def _lines(form: BillForm, items: Mapping[int, ItemRow]) -> Iterator[BillLine]:
    for line in form.line_forms:
        if line.empty:
            continue
        item = items.get(line.item.data or 0)
        lacks = [line.qty, line.place, line.per] if item else [line.what]
        for field in (*lacks, line.amount):
            if field.data is None and not field.errors:
                field.errors = [caller().speech.say("text.needed")]
        if item is None:
            yield BillLine(sort="expense", amount=line.amount.data or 0, what=line.what.data or "")
            continue
        per = {"pair": 2, "pack": item.pack}.get(line.per.data or "", 1)
        yield BillLine(
            sort="stock",
            amount=line.amount.data or 0,
            item_id=item.id,
            place_id=line.place.data,
            qty=(line.qty.data or 0) * per,
        )
    form.lines.errors = [line.errors for line in form.line_forms if line.errors]


@pages.get("/spending")
@allow("owner", "books")
def index() -> Response:
    """List suppliers' bills."""
    speech, no = caller().speech, page_no()
    with reading() as session:
        listed = queries.bill_list(session, no)
    page: ListPage[Row] = ListPage(
        title=speech.say("spending.title"),
        under=speech.say("spending.under"),
        rows=tuple(
            Row(
                url=url_for("spending.show", bill_id=bill.id),
                name=bill.supplier or speech.say("spending.no_supplier"),
                says=" · ".join(part for part in (speech.day(bill.day), bill.reference) if part),
                end=speech.money(bill.total),
                end_says=speech.say(f"paid_by.{bill.paid_by}"),
            )
            for bill in listed.rows
        ),
        none=speech.say("spending.none"),
        add=Link(url=url_for("spending.new"), text=speech.say("spending.add")),
        before=url_for("spending.index", page=no - 1) if no > 1 else "",
        after=url_for("spending.index", page=no + 1) if listed.more else "",
    )
    return render("generic/list_page.html", page)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOf:
    """A line of a supplier's bill, in words."""

    item_id: int | None
    name: str
    says: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowPage:
    """A supplier's bill."""

    card: SpendingCard
    title: str
    parts: tuple[PartOf, ...]
    opens_items: bool


@pages.get("/spending/<int:bill_id>")
@allow("owner", "books")
def show(bill_id: int) -> Response:
    """Show a supplier's bill."""
    say = caller().speech.say
    with reading() as session:
        card = queries.bill_card(session, bill_id)
        if card is None:
            abort(404)
        items = stock.items_by_ids(session, {part.item_id for part in card.parts if part.item_id})
    page = ShowPage(
        card=card,
        title=card.line.supplier or say("spending.no_supplier"),
        parts=tuple(_parts(card.parts, items)),
        opens_items=caller().role == "owner",
    )
    return render("spending/show.html", page)


def _parts(parts: Iterable[SpendingPart], items: Mapping[int, ItemRow]) -> Iterator[PartOf]:
    say = caller().speech.say
    for part in parts:
        item = items.get(part.item_id or 0)
        name = item.label if item else part.what or say("spending.not_sorted")
        says = in_words(part.qty or 0, item.pack, item.sort) if item else ""
        yield PartOf(item_id=part.item_id, name=name, says=says, amount=part.amount)
