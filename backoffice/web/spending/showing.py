"""One supplier's bill: what is on it, and saying later what it was."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.books import queries, service
from backoffice.books.queries import SpendingCard, SpendingPart
from backoffice.db import Session
from backoffice.files import queries as files
from backoffice.files.queries import KeptFile
from backoffice.stock import queries as stock
from backoffice.stock.queries import ItemRow
from backoffice.web.caller import caller, house
from backoffice.web.records import keep
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.spending.blueprint import pages
from backoffice.web.spending.entering import SEE_OTHER
from backoffice.web.spending.lines import LinesForm, offered, say_counted_since, typed_lines
from backoffice.web.stock import in_words
from backoffice.web.writing import reading


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOf:
    """A line of a supplier's bill, in words."""

    item_id: int | None
    name: str
    says: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A supplier's bill as it was read."""

    card: SpendingCard
    file: KeptFile | None
    items: Mapping[int, ItemRow]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowPage:
    """A supplier's bill; ``form`` says what it was, while something is not sorted yet."""

    card: SpendingCard
    title: str
    file: KeptFile | None
    parts: tuple[PartOf, ...]
    opens_items: bool
    form: LinesForm | None


@pages.get("/spending/<int:bill_id>")
@allow("owner", "books")
def show(bill_id: int) -> Response:
    """Show a supplier's bill."""
    shown = _read(bill_id)
    form = None
    if shown.card.line.unsorted > 0:
        known = offered()
        form = LinesForm(data={"lines": known.empty_lines})
        known.to(form)
    return _show_page(shown, form)


def _read(bill_id: int) -> Shown:
    with reading() as session:
        card = queries.bill_card(session, bill_id)
        if card is None:
            abort(404)
        named = {part.item_id for part in card.parts if part.item_id}
        return Shown(
            card=card,
            file=_file(session, card.line.file_id),
            items=stock.items_by_ids(session, named),
        )


def _file(session: Session, file_id: int | None) -> KeptFile | None:
    return None if file_id is None else files.kept(session, house().folder, file_id)


def _show_page(shown: Shown, form: LinesForm | None, status: int = 200) -> Response:
    say = caller().speech.say
    page = ShowPage(
        card=shown.card,
        title=shown.card.line.supplier or say("spending.no_supplier"),
        file=shown.file,
        parts=tuple(_parts(shown.card.parts, shown.items)),
        opens_items=caller().role == "owner",
        form=form,
    )
    return render("spending/show.html", page, status=status)


def _parts(parts: Iterable[SpendingPart], items: Mapping[int, ItemRow]) -> Iterator[PartOf]:
    for part in parts:
        item = items.get(part.item_id or 0)
        name = item.label if item else part.what
        says = in_words(part.qty or 0, item.pack, item.sort) if item else ""
        yield PartOf(item_id=part.item_id, name=name, says=says, amount=part.amount)


@pages.post("/spending/<int:bill_id>/lines")
@allow("owner", "books")
@once
def sort(bill_id: int) -> Response:
    """Say later what was on a supplier's bill."""
    shown, known = _read(bill_id), offered()
    form = LinesForm.typed()
    known.to(form)
    readable = form.validate()
    lines = typed_lines(form, known.items)
    if not readable or form.errors:
        return _show_page(shown, form, 422)

    def save(session: Session) -> int:
        service.sort_bill(session, bill_id, lines, today=caller().today)
        return bill_id

    response = keep(
        form,
        save,
        lambda bill: url_for("spending.show", bill_id=bill),
        lambda status: _show_page(shown, form, status),
    )
    counted = response.status_code == SEE_OTHER and say_counted_since(
        lines, shown.card.line.day, known
    )
    if response.status_code == SEE_OTHER and not counted:
        flash("spending.sorted")
    return response
