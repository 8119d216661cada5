"""A supplier's bill at the counter: a photo, from whom, the total, paid how."""

from dataclasses import dataclass, replace

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.books import service
from backoffice.books.rules import PAID_BY, SupplierBillNew
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.files import photo
from backoffice.files import service as files
from backoffice.files.photo import Upload
from backoffice.web.caller import caller, house
from backoffice.web.forms import (
    ChoiceField,
    DayField,
    FileField,
    MoneyField,
    SelectId,
    TextField,
    refuse,
)
from backoffice.web.records import keep
from backoffice.web.roles import allow, once, takes_file
from backoffice.web.shell import flash, render
from backoffice.web.spending.blueprint import pages
from backoffice.web.spending.lines import (
    LinesForm,
    Offered,
    offered,
    say_counted_since,
    typed_lines,
)

SEE_OTHER = 303


class BillForm(LinesForm):
    """A supplier's bill."""

    file = FileField("Photo or PDF of it")
    supplier = SelectId("From whom")
    total = MoneyField("Total, with tax", needed=True)
    paid_by = ChoiceField(
        "Paid how", [(how, "{paid_by." + how + "}") for how in PAID_BY], needed=True
    )
    day = DayField("Date on it", needed=True)
    reference = TextField("Its number", most=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPage:
    """A supplier's bill to be typed."""

    form: BillForm
    file_again: bool


@pages.get("/spending/new")
@allow("owner", "books")
def new() -> Response:
    """Ask for a supplier's bill."""
    known = offered()
    form = BillForm(data={"day": caller().today, "lines": known.empty_lines})
    return _new_page(form, known)


def _new_page(form: BillForm, known: Offered, status: int = 200) -> Response:
    form.supplier.offer(known.suppliers)
    known.to(form)
    page = NewPage(form=form, file_again=form.file.data is not None)
    return render("spending/new.html", page, status=status)


@pages.post("/spending/new")
@allow("owner", "books")
@takes_file
@once
def create() -> Response:
    """Enter a supplier's bill: its stock goes on the shelf, the rest is expense."""
    form, known = BillForm.typed(), offered()
    form.supplier.offer(known.suppliers)
    known.to(form)
    readable = form.validate()
    lines = typed_lines(form, known.items)
    upload = _upload(form)
    if not readable or form.errors:
        return _new_page(form, known, 422)
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
        lambda session: service.record_bill(session, _with_file(session, bill, form, upload)),
        lambda bill_id: url_for("spending.show", bill_id=bill_id),
        lambda status: _new_page(form, known, status),
    )
    if response.status_code == SEE_OTHER and not say_counted_since(lines, bill.day, known):
        flash("spending.saved", total_cents=bill.total)
    return response


def _upload(form: BillForm) -> Upload | None:
    """Take the photo or PDF that was sent, or say beside its field why it cannot be kept."""
    if form.file.data is None:
        return None
    try:
        return photo.read(form.file.data.read())
    except Refused as refused:
        refuse(form, refused)
        return None


def _with_file(
    session: Session, bill: SupplierBillNew, form: BillForm, upload: Upload | None
) -> SupplierBillNew:
    if upload is None or form.file.data is None:
        return bill
    name = form.file.data.filename or ""
    return replace(bill, file_id=files.keep(session, house().folder, upload, name))
