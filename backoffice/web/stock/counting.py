"""A shelf counted, and singles carried from one place to another."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from flask import request, url_for
from werkzeug.wrappers import Response

from backoffice.daybook import service as daybook
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.stock import queries, service
from backoffice.stock.queries import ItemCard
from backoffice.stock.rules import ItemDetails
from backoffice.web.caller import caller
from backoffice.web.forms import CountField, CreatesForm, SelectId, Typed
from backoffice.web.records import form_page, keep
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash
from backoffice.web.stock.blueprint import pages
from backoffice.web.stock.words import counted_by, in_words, places_of, title_of
from backoffice.web.writing import reading

SEE_OTHER = 303


class HalvesField(Typed):
    """A number of pairs or boxes, kept in halves: ``1½`` is 3."""

    data: int | None

    def read(self, text: str) -> int:
        """Read a whole number, or one and a half."""
        if text.startswith(("-", "−")):
            raise Refused("count.negative")
        found = re.fullmatch(r"([0-9]{0,5}) ?(½|1/2|\.5|\.0)?", text)
        if found is None or not (found[1] or found[2]):
            raise Refused("stock_page.halves_unreadable", typed=text)
        return 2 * int(found[1] or 0) + (found[2] not in (None, ".0"))

    def write(self, value: int) -> str:
        """Write it as people do."""
        return f"{value // 2 or ''}{'½' if value % 2 else ''}" or "0"


def _singles(halves: int | None, loose: int | None, details: ItemDetails) -> int | None:
    """Add packs and loose ones up; nothing typed is not known."""
    if halves is None and loose is None:
        return None
    return (halves or 0) * counted_by(details) // 2 + (loose or 0)


class CountForm(CreatesForm):
    """What was found on a shelf."""

    place = SelectId("Where", needed=True)
    packs = HalvesField("Packs")
    found = CountField("Loose ones")


class MoveForm(CreatesForm):
    """What is carried over."""

    from_place = SelectId("From", needed=True)
    to_place = SelectId("To", needed=True)
    packs = HalvesField("Packs")
    qty = CountField("Loose ones")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shelf:
    """An item and the places it may be at, as a form needs them."""

    card: ItemCard
    places: tuple[tuple[int, str], ...]

    @property
    def stands(self) -> str:
        """Say what the books hold at each place."""
        return "; ".join(
            f"{place.name}: {place.says}" for place in places_of(self.card, self.places)
        )


def _shelf(item_id: int) -> _Shelf:
    with reading() as session:
        return _Shelf(
            card=queries.item_card(session, item_id), places=practice.place_choices(session)
        )


def _asked_place(places: Sequence[tuple[int, str]]) -> int | None:
    asked = request.args.get("place", "")
    ids = [place for place, _name in places]
    if asked.isdecimal() and int(asked[:9]) in ids:
        return int(asked[:9])
    return ids[0] if len(ids) == 1 else None


def _word_amounts(form: CreatesForm, loose: CountField, details: ItemDetails) -> None:
    """Call packs and loose ones by the item's own words; what comes singly has no packs."""
    say = caller().speech.say
    if counted_by(details) == 1:
        del form["packs"]
        loose.label.text = say("stock_page.how_many")
        return
    kind = details.sort if details.sort in ("shoe", "nail") else "other"
    form["packs"].label.text = say(f"stock_page.packs.{kind}", pack=details.pack)
    loose.label.text = say(f"stock_page.loose.{kind}")


@pages.get("/stock/<int:item_id>/count")
@allow("owner", "field")
def count(item_id: int) -> Response:
    """Ask what was found on a shelf."""
    shelf = _shelf(item_id)
    return _count_page(CountForm(data={"place": _asked_place(shelf.places)}), shelf)


def _count_page(form: CountForm, shelf: _Shelf, status: int = 200) -> Response:
    say, details = caller().speech.say, shelf.card.details
    form.place.offer(shelf.places)
    _word_amounts(form, form.found, details)
    return form_page(
        form,
        title=say("stock_page.count", item=title_of(details)),
        under=say("stock_page.books_say", stands=shelf.stands),
        submit=say("stock_page.count_submit"),
        back=url_for("stock.show", item_id=shelf.card.id),
        hints={"place": say("stock_page.first_count_hint")},
        status=status,
    )


@pages.post("/stock/<int:item_id>/count")
@allow("owner", "field")
@once
def record_count(item_id: int) -> Response:
    """Let the books follow what was found."""
    form, shelf, today = CountForm.typed(), _shelf(item_id), caller().today
    form.place.offer(shelf.places)
    details, done = shelf.card.details, list[service.Counted]()

    def save(session: Session) -> int:
        found = _needed(_singles(form.packs.data, form.found.data, details), "found")
        place_id = form.place.data or 0
        entry_id = daybook.record(session, "count", today)
        done.append(service.count(session, entry_id, item_id, place_id, found, today))
        return item_id

    response = keep(
        form,
        save,
        lambda _id: url_for("stock.show", item_id=item_id),
        lambda status: _count_page(form, shelf, status),
    )
    if response.status_code == SEE_OTHER:
        _say_counted(done[0], dict(shelf.places)[form.place.data or 0], details)
    return response


def _needed(qty: int | None, field: str) -> int:
    if qty is None:
        raise Refused("text.needed", field=field)
    return qty


def _say_counted(counted: service.Counted, place: str, details: ItemDetails) -> None:
    item = title_of(details)
    if counted.first:
        flash("stock_page.counted_first", item=item, place=place)
        return
    code = "more" if counted.more else "less" if counted.less else "same"
    difference = in_words(counted.more or counted.less, details.pack, details.sort)
    flash(f"stock_page.counted_{code}", item=item, difference=difference)


@pages.get("/stock/<int:item_id>/move")
@allow("owner")
def move(item_id: int) -> Response:
    """Ask what is carried over."""
    shelf = _shelf(item_id)
    return _move_page(MoveForm(data={"from_place": _asked_place(shelf.places)}), shelf)


def _move_page(form: MoveForm, shelf: _Shelf, status: int = 200) -> Response:
    say, details = caller().speech.say, shelf.card.details
    form.from_place.offer(shelf.places)
    form.to_place.offer(shelf.places)
    _word_amounts(form, form.qty, details)
    return form_page(
        form,
        title=say("stock_page.move", item=title_of(details)),
        under=say("stock_page.books_say", stands=shelf.stands),
        submit=say("stock_page.move_submit"),
        back=url_for("stock.show", item_id=shelf.card.id),
        status=status,
    )


@pages.post("/stock/<int:item_id>/move")
@allow("owner")
@once
def record_move(item_id: int) -> Response:
    """Carry singles from one place to another."""
    form, shelf, today = MoveForm.typed(), _shelf(item_id), caller().today
    form.from_place.offer(shelf.places)
    form.to_place.offer(shelf.places)
    details = shelf.card.details

    def save(session: Session) -> int:
        qty = _needed(_singles(form.packs.data, form.qty.data, details), "qty")
        here, there = form.from_place.data or 0, form.to_place.data or 0
        entry_id = daybook.record(session, "transfer", today)
        try:
            service.transfer(session, entry_id, item_id, here, there, qty)
        except Refused as refused:
            if "have" not in refused.facts:
                raise
            have = in_words(int(str(refused.facts["have"])), details.pack, details.sort)
            field = "qty" if form.packs.data is None else "packs"
            raise Refused(refused.code, field=field, have=have) from None
        return item_id

    response = keep(
        form,
        save,
        lambda _id: url_for("stock.show", item_id=item_id),
        lambda status: _move_page(form, shelf, status),
    )
    if response.status_code == SEE_OTHER:
        there = dict(shelf.places)[form.to_place.data or 0]
        flash("stock_page.moved", item=title_of(details), place=there)
    return response
