"""The price of a horse: what was told, and pricing it again by the rules."""

from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.billing import service as billing
from backoffice.db import Session
from backoffice.visits import queries
from backoffice.visits.queries import WorkCard
from backoffice.visits.rules import FactSort
from backoffice.web.caller import caller
from backoffice.web.forms import CreatesForm, MoneyField
from backoffice.web.roles import allow, once
from backoffice.web.shell import render
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.looking import Reason, reasons_of
from backoffice.web.visits.telling import Pair, SaysForm, card_of, facts_of, name_of, record, tell
from backoffice.web.writing import reading, see_other, writing


class PriceForm(SaysForm):
    """The price told for a horse."""

    told = MoneyField("Price told", needed=True)
    travel = MoneyField("{trip_fee}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePage:
    """The form of a price."""

    card: WorkCard
    name: str
    form: PriceForm
    reasons: tuple[Reason, ...]


@pages.get("/horse-record/<int:work_id>/price")
@allow("owner")
def price(work_id: int) -> Response:
    """Ask for the price told."""
    with reading() as session:
        card = card_of(session, work_id)
        form = PriceForm(data={"told": card.work.price, "travel": card.work.travel or None})
        form.look_again(session, card)
    return _page(card, form)


def _page(card: WorkCard, form: PriceForm, status: int = 200) -> Response:
    page = PricePage(card=card, name=name_of(card), form=form, reasons=reasons_of(card))
    return render("visits/price.html", page, status=status)


@pages.post("/horse-record/<int:work_id>/price")
@allow("owner")
@once
def change_price(work_id: int) -> Response:
    """Take the price told; a horse that is written up is priced anew."""
    form = PriceForm.typed()
    with reading() as session:
        card = card_of(session, work_id)
    if not form.validate():
        return _page(card, form, 422)

    def says(_session: Session, now: WorkCard) -> list[Pair]:
        data = {"say": form.told.data}
        if form.travel.data is not None and form.travel.data != now.work.travel:
            data["travel"] = form.travel.data
        return [(FactSort.TOLD, data)]

    leads = url_for("visits.work", work_id=work_id)
    return tell(form, work_id, says, lambda status: _page(card, form, status), leads)


@pages.post("/horse-record/<int:work_id>/price-again")
@allow("owner")
@once
def price_again(work_id: int) -> Response:
    """Price a horse that is written up by the rules again, with its payers as known now."""
    with writing(*CreatesForm.typed().key()) as unit:
        card = card_of(unit.session, work_id)
        (row,) = queries.works_by_id(unit.session, [work_id])
        if row.told is None and row.travel_told is None:
            billing.reprice(unit.session, work_id, told=None, today=caller().today)
        else:
            by_the_rules = (FactSort.TOLD, {"say": None, "travel": None})
            record(unit.session, card, facts_of(card, [by_the_rules]))
        unit.see_other(url_for("visits.work", work_id=work_id))
    return see_other(unit)
