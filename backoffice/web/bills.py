"""Bills: looked at, issued, printed, handed over and put right."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, abort, url_for
from werkzeug.wrappers import Response
from wtforms import HiddenField

from backoffice.billing import document, queries, service
from backoffice.billing.queries import BillCard, BillLine, ReadyBill
from backoffice.clients.rules import client_label
from backoffice.errors import Refused
from backoffice.web.caller import caller
from backoffice.web.forms import CountField, CreatesForm, LinesField, refuse
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("bills", __name__)


class IssueForm(CreatesForm):
    """Issuing a ready bill as it was shown."""

    expected = HiddenField("The amount shown")
    first_no = CountField("Number of your first bill", least=1, most=99_999_999)
    note = LinesField("Note printed on the bill", most=500)


class PressForm(CreatesForm):
    """One press of a button that makes money or documents."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyPage:
    """A ready bill before it is issued."""

    bill: ReadyBill
    texts: tuple[str, ...]
    client: str
    number: int | None
    form: IssueForm


@pages.get("/bills/ready/<int:client_id>")
@allow("owner", "books")
def ready(client_id: int) -> Response:
    """Show what would be billed to a client now."""
    return _ready(client_id, None)


def _ready(client_id: int, form: IssueForm | None, status: int = 200) -> Response:
    with reading() as session:
        found = queries.ready_bills(
            session, includes_tax=caller().practice.prices_include_tax, client_id=client_id
        )
        number = queries.next_number(session, "bills")
    if not found:
        raise Refused("billing.nothing_ready")
    if form is None:
        form = IssueForm(data={"first_no": 1})
    form.expected.data = str(found[0].totals.payable)
    page = ReadyPage(
        bill=found[0],
        texts=tuple(line.text(caller().speech) for line in found[0].lines),
        client=client_label(caller().speech, found[0].client),
        number=number,
        form=form,
    )
    return render("bills/ready.html", page, status=status)


@pages.post("/bills/ready/<int:client_id>")
@allow("owner")
@once
def issue(client_id: int) -> Response:
    """Number and freeze a ready bill."""
    form = IssueForm.typed()
    expected = form.expected.data or ""
    if not form.validate() or not expected.lstrip("-").isdecimal() or len(expected) > 15:
        return _ready(client_id, form, 422)
    new = service.NewBill(
        client_id=client_id,
        expected=int(expected),
        note=form.note.data or "",
        first_no=form.first_no.data,
    )
    try:
        with writing(*form.key()) as unit:
            document_id = service.issue(unit.session, new, today=caller().today)
            unit.see_other(url_for("bills.show", document_id=document_id))
    except Refused as refused:
        refuse(form, refused)
        return _ready(client_id, form, 409)
    return see_other(unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class BillsPage:
    """All bills and corrections, the newest first."""

    bills: tuple[BillLine, ...]
    today: date


@pages.get("/bills")
@allow("owner", "books")
def index() -> Response:
    """List bills and corrections."""
    with reading() as session:
        found = queries.bill_list(session)
    return render("bills/index.html", BillsPage(bills=found, today=caller().today))


@dataclass(frozen=True, slots=True, kw_only=True)
class BillPage:
    """One bill with all that became of it."""

    card: BillCard
    client: str
    today: date
    form: PressForm


@pages.get("/bills/<int:document_id>")
@allow("owner", "books")
def show(document_id: int) -> Response:
    """Show one bill or correction."""
    card = _card(document_id)
    page = BillPage(
        card=card,
        client=client_label(caller().speech, card.line.client),
        today=caller().today,
        form=PressForm(),
    )
    return render("bills/show.html", page)


def _card(document_id: int) -> BillCard:
    with reading() as session:
        card = queries.bill_card(session, document_id)
    if card is None:
        abort(404)
    return card


@pages.get("/bills/<int:document_id>/bill.pdf")
@allow("owner", "books")
def pdf(document_id: int) -> Response:
    """Print a bill or correction."""
    card = _card(document_id)
    paper: document.Paper = "a4" if caller().practice.paper == "a4" else "us-letter"
    made = document.pdf(card.printed, paper)
    response = Response(made, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="bill-{card.line.number}.pdf"'
    return response


@pages.post("/bills/<int:document_id>/handed-over")
@allow("owner", "books")
@once
def hand_over(document_id: int) -> Response:
    """Write down that a bill was handed over."""
    with writing(*PressForm.typed().key()) as unit:
        service.hand_over(unit.session, document_id, today=caller().today)
        unit.see_other(url_for("bills.show", document_id=document_id))
    return see_other(unit)


@pages.post("/bills/<int:document_id>/fix")
@allow("owner")
@once
def fix(document_id: int) -> Response:
    """Take a bill back and make its horses ready to be billed anew."""
    with writing(*PressForm.typed().key()) as unit:
        correction = service.fix_bill(unit.session, document_id, today=caller().today)
        unit.see_other(url_for("bills.show", document_id=correction))
    flash("bills.taken_back")
    return see_other(unit)
