"""Suppliers: who we buy from."""

from flask import Blueprint, url_for
from werkzeug.wrappers import Response

from backoffice.suppliers import queries, service
from backoffice.suppliers.queries import SupplierDetails
from backoffice.web.caller import caller
from backoffice.web.forms import LinesField, TextField, TickField
from backoffice.web.generic import Link, Row
from backoffice.web.records import (
    RecordForm,
    form_page,
    keep,
    list_page,
    page_no,
    with_hidden,
)
from backoffice.web.roles import allow, once
from backoffice.web.writing import reading

pages = Blueprint("suppliers", __name__)


class SupplierForm(RecordForm):
    """Someone we buy from."""

    name = TextField("Name", needed=True)
    contact = LinesField("How to reach them")
    hidden = TickField("Put away: we no longer buy there")


@pages.get("/suppliers")
@allow("owner", "books")
def index() -> Response:
    """List who we buy from."""
    say = caller().speech.say
    with reading() as session:
        listed = queries.supplier_list(session, page_no(), hidden=with_hidden())
    rows = tuple(
        Row(
            url=url_for("suppliers.edit", supplier_id=card.id),
            name=card.details.name,
            says=" · ".join(card.details.contact.splitlines()),
            end=say("records.put_away") if card.details.hidden else "",
        )
        for card in listed.rows
    )
    return list_page(
        listed,
        rows,
        title=say("suppliers.title"),
        none=say("suppliers.none"),
        also=say("records.also_put_away"),
        add=Link(url=url_for("suppliers.new"), text=say("suppliers.add")),
        searched=False,
    )


@pages.get("/suppliers/new")
@allow("owner", "books")
def new() -> Response:
    """Ask for a new supplier."""
    return _new_page(SupplierForm())


def _new_page(form: SupplierForm, status: int = 200) -> Response:
    return form_page(
        form,
        title=caller().speech.say("suppliers.new"),
        back=url_for("suppliers.index"),
        status=status,
    )


@pages.post("/suppliers/new")
@allow("owner", "books")
@once
def create() -> Response:
    """Save a new supplier."""
    form = SupplierForm.typed()
    return keep(
        form,
        lambda session: service.save_supplier(session, form.details(SupplierDetails)),
        lambda _id: url_for("suppliers.index"),
        lambda status: _new_page(form, status),
    )


@pages.get("/suppliers/<int:supplier_id>")
@allow("owner", "books")
def edit(supplier_id: int) -> Response:
    """Show a supplier to be changed."""
    with reading() as session:
        card = queries.supplier_card(session, supplier_id)
    return _edit_page(SupplierForm(obj=card.details))


def _edit_page(form: SupplierForm, status: int = 200) -> Response:
    return form_page(
        form,
        title=form.name.data or caller().speech.say("suppliers.title"),
        back=url_for("suppliers.index"),
        status=status,
    )


@pages.post("/suppliers/<int:supplier_id>")
@allow("owner", "books")
def save(supplier_id: int) -> Response:
    """Save what was changed in a supplier."""
    form = SupplierForm.typed()
    return keep(
        form,
        lambda session: service.save_supplier(session, form.details(SupplierDetails), supplier_id),
        lambda _id: url_for("suppliers.index"),
        lambda status: _edit_page(form, status),
        now=lambda session: queries.supplier_card(session, supplier_id).details,
    )
