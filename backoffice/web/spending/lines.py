"""What was on a supplier's bill, line by line: something for the shelf, or an expense in words."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import wtforms

from backoffice.books.rules import BillLine
from backoffice.practice import queries as practice
from backoffice.stock import queries as stock
from backoffice.stock.queries import ItemRow
from backoffice.suppliers import queries as suppliers
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    CreatesForm,
    Form,
    MoneyField,
    SelectId,
    TextField,
)
from backoffice.web.shell import flash
from backoffice.web.writing import reading

LINES = 8
SHOWN = 4  # the rest opens when it is wanted
COUNTED_IN = ("usual", "single", "pair", "pack")


class LineForm(Form):
    """One line of a supplier's bill."""

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


class LinesForm(CreatesForm):
    """The lines of a supplier's bill."""

    lines = wtforms.FieldList(wtforms.FormField(LineForm), max_entries=LINES)

    @property
    def line_forms(self) -> list[LineForm]:
        """The lines as forms."""
        return [entry.form for entry in self.lines]

    @property
    def shown(self) -> list[LineForm]:
        """The first lines, which are always there."""
        return self.line_forms[:SHOWN]

    @property
    def more(self) -> list[LineForm]:
        """The lines that open when they are wanted."""
        return self.line_forms[SHOWN:]

    @property
    def some_typed(self) -> bool:
        """Whether something was typed in any line."""
        return not all(line.empty for line in self.line_forms)

    @property
    def more_open(self) -> bool:
        """Whether something was typed in a line that opens when it is wanted."""
        return not all(line.empty for line in self.more)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """What a supplier's bill may name, and when each shelf was counted last."""

    suppliers: tuple[tuple[int, str], ...]
    places: tuple[tuple[int, str], ...]
    items: Mapping[int, ItemRow]
    counted: Mapping[tuple[int, int], date]

    def to(self, form: LinesForm) -> None:
        """Offer it in a form."""
        nothing = caller().speech.say("spending.no_item")
        for line in form.line_forms:
            line.item.unknown = nothing
            line.item.offer((item.id, item.label) for item in self.items.values())
            line.place.offer(self.places)
            del line.per.choices[:1]  # type: ignore[union-attr, arg-type] # a list, once offered

    @property
    def empty_lines(self) -> list[dict[str, object]]:
        """Lines with nothing typed, as they are first shown."""
        first = self.places[0][0] if self.places else None
        return [{"place": first, "per": "usual"}] * LINES


def offered() -> Offered:
    """Read what a supplier's bill may name."""
    with reading() as session:
        shelves = stock.shelf_list(session)
        return Offered(
            suppliers=suppliers.supplier_choices(session),
            places=practice.place_choices(session),
            items={one.item.id: one.item for one in shelves},
            counted={
                (one.item.id, place.place_id): place.counted_since
                for one in shelves
                for place in one.places
                if place.counted_since is not None
            },
        )


def typed_lines(form: LinesForm, items: Mapping[int, ItemRow]) -> tuple[BillLine, ...]:
    """Take the lines that say something; what one lacks is said beside its field."""
    taken = tuple(_lines(form, items))
    form.lines.errors = [line.errors for line in form.line_forms if line.errors]
    return taken


def _lines(form: LinesForm, items: Mapping[int, ItemRow]) -> Iterator[BillLine]:
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
        yield BillLine(
            sort="stock",
            amount=line.amount.data or 0,
            item_id=item.id,
            place_id=line.place.data,
            qty=(line.qty.data or 0) * _singles(line.per.data or "", item),
        )


def _singles(per: str, item: ItemRow) -> int:
    """Give how many singles make one as it was counted; usually a pair of shoes, a box of nails."""
    usual = 2 if item.sort == "shoe" else item.pack
    return {"single": 1, "pair": 2, "pack": item.pack}.get(per, usual)


def say_counted_since(lines: Iterable[BillLine], day: date, known: Offered) -> bool:
    """Say at the top of the next page that a shelf was counted after these things came."""
    for line in lines:
        since = known.counted.get((line.item_id or 0, line.place_id or 0))
        if since is not None and since > day:
            item = known.items[line.item_id or 0]
            flash("spending.counted_since", item=item.label, count_day=since)
            return True
    return False
