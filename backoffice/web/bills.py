"""Bills: looked at, issued, printed, handed over and put right."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from flask import Blueprint, abort, url_for
from werkzeug.wrappers import Response
from wtforms import HiddenField

from backoffice.billing import document, queries, service
from backoffice.billing.queries import (
    AgainLine,
    BillCard,
    BillLine,
    InHand,
    Reached,
    ReadyBill,
)
from backoffice.clients.rules import client_label, horse_label
from backoffice.errors import Refused
from backoffice.typeset import Paper
from backoffice.web.caller import caller
from backoffice.web.forms import CountField, CreatesForm, LinesField, TextField, refuse
from backoffice.web.generic import FormPage, Link
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


class FixForm(CreatesForm):
    """Fixing a bill, and those of others that would change with it."""

    also = HiddenField("Other bills fixed with it")


class TakeBackForm(CreatesForm):
    """Taking a bill back for good."""

    reason = TextField("Why", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyPage:
    """A ready bill before it is issued."""

    bill: ReadyBill
    texts: tuple[str, ...]
    client: str
    in_hand: InHand | None
    today: date
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
        in_hand = queries.in_hand(session, [client_id])
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
        in_hand=in_hand.get(client_id),
        today=caller().today,
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
class MadeBill:
    """A bill just made; ``text`` is ready to be sent where its client is reached by text."""

    line: BillLine
    client: str
    how: str
    text: str
    link: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePage:
    """Bills just made, with what is to be done with each."""

    bills: tuple[MadeBill, ...]
    total: int


@pages.get("/bills/from/<int:first>/to/<int:last>")
@allow("owner", "books")
def made(first: int, last: int) -> Response:
    """List bills by their numbers, each with its paper and the text that goes with it."""
    with reading() as session:
        found = queries.bills_numbered(session, first, last)
        reached = queries.reached(session, [line.id for line in found])
    if not found:
        abort(404)
    bills = tuple(_made(line, reached[line.id]) for line in found)
    page = MadePage(bills=bills, total=sum(line.payable for line in found))
    return render("bills/made.html", page)


def _made(line: BillLine, how: Reached) -> MadeBill:
    speech = caller().speech
    client = client_label(speech, line.client)
    text = ""
    if how.bill_how == "text":
        text = speech.say(
            _text_code(line),
            name=client,
            number=line.number,
            horses=", ".join(how.horses) or speech.say("bills.your_horses"),
            payable_cents=line.payable,
            open_cents=line.open,
            due_day=line.due,
        )
    phone = re.sub(r"[^0-9+]", "", how.phone or "")
    link = f"sms:{phone}?body={quote(text)}" if text and phone else ""
    return MadeBill(line=line, client=client, how=how.bill_how, text=text, link=link)


def _text_code(line: BillLine) -> str:
    if line.open == line.payable:
        return "bills.text"
    return "bills.text_part" if line.open else "bills.text_paid"


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherBill:
    """The bill of somebody else that would change with this one."""

    id: int
    number: str
    form: FixForm


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """A horse that is ready to be billed again."""

    work_id: int
    name: str
    day: date
    payers: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BillPage:
    """One bill with all that became of it; ``refusal`` is why it was not fixed.

    ``again`` are its horses that wait to be billed anew, ``ready`` the bills they wait on.
    """

    card: BillCard
    client: str
    again: tuple[Again, ...]
    ready: tuple[Link, ...]
    today: date
    form: PressForm
    fix: FixForm
    refusal: str = ""
    other: OtherBill | None = None


@pages.get("/bills/<int:document_id>")
@allow("owner", "books")
def show(document_id: int) -> Response:
    """Show one bill or correction."""
    return _show(document_id)


def _show(document_id: int, refused: Refused | None = None, also: str = "") -> Response:
    speech = caller().speech
    card = _card(document_id)
    with reading() as session:
        again = queries.ready_again(session, document_id)
    other = None
    if refused and refused.code == "billing.other_bill":
        number, bill = str(refused.facts["number"]), int(str(refused.facts["bill"]))
        other = OtherBill(id=bill, number=number, form=FixForm(data={"also": f"{also} {bill}"}))
    page = BillPage(
        card=card,
        client=client_label(speech, card.line.client),
        again=tuple(_again(line) for line in again),
        ready=_ready_links(again),
        today=caller().today,
        form=PressForm(),
        fix=FixForm(),
        refusal=speech.say(refused.code, **refused.facts) if refused else "",
        other=other,
    )
    return render("bills/show.html", page, status=409 if refused else 200)


def _again(line: AgainLine) -> Again:
    speech = caller().speech
    names = [client_label(speech, name) for client_id, name in line.payers if client_id]
    if any(client_id is None for client_id, _ in line.payers):
        names.append(speech.say("visits.pays_unknown"))
    return Again(
        work_id=line.work_id,
        name=horse_label(speech, line.horse, line.words),
        day=line.day,
        payers=", ".join(names),
    )


def _ready_links(again: Sequence[AgainLine]) -> tuple[Link, ...]:
    speech = caller().speech
    waits = {client_id: name for line in again for client_id, name in line.payers if client_id}
    return tuple(
        Link(
            url=url_for("bills.ready", client_id=client_id),
            text=speech.say("bills.ready_for", client=client_label(speech, name)),
        )
        for client_id, name in waits.items()
    )


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
    if card.line.sort == "opening":
        abort(404)
    paper: Paper = "a4" if caller().practice.paper == "a4" else "us-letter"
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
    form = FixForm.typed()
    sent = (form.also.data or "").split()
    also = [int(one) for one in sent if re.fullmatch(r"[0-9]{1,15}", one)]
    try:
        with writing(*form.key()) as unit:
            correction = service.fix_bill(
                unit.session, document_id, today=caller().today, also=also
            )
            unit.see_other(url_for("bills.show", document_id=correction))
    except Refused as refused:
        return _show(document_id, refused, " ".join(str(one) for one in also))
    flash("bills.taken_back", bills=1 + len(also))
    return see_other(unit)


@pages.get("/bills/<int:document_id>/take-back")
@allow("owner")
def take_back(document_id: int) -> Response:
    """Ask why a bill is taken back for good, before it is."""
    return _take_back(document_id, TakeBackForm())


def _take_back(document_id: int, form: TakeBackForm, status: int = 200) -> Response:
    speech = caller().speech
    line = _card(document_id).line
    if line.sort == "credit" or line.credited:
        raise Refused("billing.already_corrected", number=line.number)
    client = client_label(speech, line.client)
    return render(
        "generic/form_page.html",
        FormPage(
            title=speech.say("bills.give_up_title", number=line.number),
            under=speech.say("bills.give_up_under", client=client, payable_cents=line.payable),
            form=form,
            submit=speech.say("bills.give_up_submit"),
            word=speech.say("bills.give_up_word"),
            back=url_for("bills.show", document_id=document_id),
            caution=speech.say("bills.give_up_caution", paid_cents=line.payable - line.open)
            if line.payable > line.open
            else speech.say("bills.give_up_unpaid"),
            hints={"reason": speech.say("bills.give_up_why")},
        ),
        status=status,
    )


@pages.post("/bills/<int:document_id>/take-back")
@allow("owner")
@once
def give_up(document_id: int) -> Response:
    """Take a bill back for good: nothing will be asked for its work."""
    form = TakeBackForm.typed()
    if not form.validate():
        return _take_back(document_id, form, 422)
    try:
        with writing(*form.key()) as unit:
            correction = service.credit(
                unit.session, document_id, today=caller().today, reason=form.reason.data or ""
            )
            unit.see_other(url_for("bills.show", document_id=correction))
    except Refused as refused:
        refuse(form, refused)
        return _take_back(document_id, form, 409)
    flash("bills.given_up")
    return see_other(unit)
