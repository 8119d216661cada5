"""What a service takes besides shoes and nails: packing, pads, gas."""

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.pricing import queries, service
from backoffice.stock import queries as stock
from backoffice.web.caller import caller
from backoffice.web.forms import ChoiceField, CountField, Form, SelectId
from backoffice.web.prices.blueprint import pages
from backoffice.web.records import form_page, keep
from backoffice.web.roles import allow
from backoffice.web.writing import reading

KINDS = ("pad", "packing", "rasp", "other")


class TakesForm(Form):
    """An item a service takes, and how many of it."""

    item = SelectId("What it takes", needed=True)
    qty = CountField("How many", least=0, most=1_000, needed=True)
    per = ChoiceField(
        "For each", [("horse", "{takes.horse}"), ("shod_foot", "{takes.shod_foot}")], needed=True
    )


@pages.get("/prices/services/<int:service_id>/takes")
@allow("owner", "books")
def takes(service_id: int) -> Response:
    """Show what a service takes, to be changed item by item."""
    form = TakesForm(data={"qty": 1, "per": "horse"})
    return _takes_page(form, service_id)


def _offer(form: TakesForm, session: Session) -> None:
    form.item.offer(pair for kind in KINDS for pair in stock.choices(session, kind))


def _takes_page(form: TakesForm, service_id: int, status: int = 200) -> Response:
    say = caller().speech.say
    with reading() as session:
        offered = queries.services_by_id(session).get(service_id)
        taken = queries.recipes(session).get(service_id, ())
        _offer(form, session)
    if offered is None:
        abort(404)
    lines = [
        say(
            "takes.line",
            qty=line.qty,
            item=f"{line.item_name} {line.size_text}".strip(),
            per=say(f"takes.{line.per}"),
        )
        for line in taken
    ]
    return form_page(
        form,
        title=say("takes.title", name=offered.name),
        under="; ".join(lines) or say("takes.nothing"),
        back=url_for("prices.of_service", service_id=service_id),
        hints={"qty": say("takes.qty_hint")},
        status=status,
    )


@pages.post("/prices/services/<int:service_id>/takes")
@allow("owner", "books")
def save_takes(service_id: int) -> Response:
    """Save what a service takes of one item; 0 takes none."""
    form = TakesForm.typed()
    with reading() as session:
        _offer(form, session)

    def save(session: Session) -> int:
        item, per = form.item.data or 0, form.per.data or ""
        service.set_recipe(session, service_id, item, form.qty.data or 0, per)
        return service_id

    return keep(
        form,
        save,
        lambda _id: url_for("prices.takes", service_id=service_id),
        lambda status: _takes_page(form, service_id, status),
    )
