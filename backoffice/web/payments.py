"""Money received from a client."""

from flask import Blueprint, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from backoffice.billing import queries, service
from backoffice.billing.queries import PaymentWaiting
from backoffice.clients import queries as clients
from backoffice.clients.rules import client_label, horse_label
from backoffice.errors import Refused
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CreatesForm,
    DayField,
    MoneyField,
    SelectId,
    TextField,
    refuse,
)
from backoffice.web.generic import FormPage
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("payments", __name__)

METHODS = ("cash", "card", "transfer", "cheque", "app", "other")


class PaymentForm(CreatesForm):
    """Money a client gave."""

    amount = MoneyField("Amount paid", needed=True)
    method = ChoiceField(
        "How", [(method, "{method." + method + "}") for method in METHODS], needed=True
    )
    day = DayField("On which day", needed=True)
    bill = SelectId("For which bill", unknown="the oldest first")
    tip = MoneyField("Tip beside it")
    receipt = TextField("Number of the paper receipt", most=40)


@pages.get("/clients/<int:client_id>/payment")
@allow("owner", "books")
def new(client_id: int) -> Response:
    """Ask what was paid."""
    chosen = request.args.get("bill", "")
    bill = int(chosen) if chosen.isdecimal() and len(chosen) < 16 else None
    with reading() as session:
        still_open = {line.id: line.open for line in queries.bills_of_client(session, client_id)}
    form = PaymentForm(
        data={
            "amount": still_open.get(bill or 0) or None,
            "method": "cash",
            "day": caller().today,
            "bill": bill,
        }
    )
    return _page(client_id, form)


def _page(client_id: int, form: PaymentForm, status: int = 200) -> Response:
    speech = caller().speech
    with reading() as session:
        card = clients.client_card(session, client_id, caller().today)
        bills = queries.bills_of_client(session, client_id)
        owed = queries.owed(session, [client_id])[client_id]
    form.bill.offer(
        (line.id, speech.say("payments.bill", number=line.number, open_cents=line.open))
        for line in bills
        if line.open > 0
    )
    code = "payments.owes" if owed > 0 else "payments.credit" if owed < 0 else "payments.even"
    return render(
        "generic/form_page.html",
        FormPage(
            title=speech.say("payments.from", name=client_label(speech, card.details.name)),
            under=speech.say(code, owed_cents=abs(owed)),
            form=form,
            submit=speech.say("payments.submit"),
            back=url_for("clients.show", client_id=client_id),
            hints={
                "tip": speech.say("payments.tip_hint"),
                "amount": speech.say("payments.amount_hint"),
            },
        ),
        status=status,
    )


@pages.post("/clients/<int:client_id>/payment")
@allow("owner", "books")
@once
def record(client_id: int) -> Response:
    """Take money in and set it against bills."""
    form = PaymentForm.typed()
    with reading() as session:
        bills = queries.bills_of_client(session, client_id)
    form.bill.offer((line.id, line.number) for line in bills)
    if not form.validate() or form.amount.data is None or form.day.data is None:
        return _page(client_id, form, 422)
    new = service.NewPayment(
        client_id=client_id,
        amount=form.amount.data,
        tip=form.tip.data or 0,
        method=form.method.data or "other",
        day=form.day.data,
        receipt=form.receipt.data,
        document_id=form.bill.data,
    )
    back = url_for("clients.show", client_id=client_id)
    if form.bill.data:
        back = url_for("bills.show", document_id=form.bill.data)
    try:
        with writing(*form.key()) as unit:
            service.record_payment(unit.session, new)
            unit.see_other(back)
    except Refused as refused:
        refuse(form, refused)
        return _page(client_id, form, 409)
    flash("payments.taken", amount_cents=new.amount)
    return see_other(unit)


class WhoForm(CreatesForm):
    """Who gave money that was taken at a visit; the amount is asked where nobody wrote it down."""

    client = SelectId("Who paid?", needed=True)
    amount = MoneyField("Amount paid", needed=True)


@pages.get("/payments/who/<fact_id>")
@allow("owner", "books")
def who(fact_id: str) -> Response:
    """Ask who gave money that was taken at a visit."""
    return _who_page(fact_id, WhoForm())


def _who_page(fact_id: str, form: WhoForm, status: int = 200) -> Response:
    speech = caller().speech
    with reading() as session:
        waiting = _waiting(session, fact_id)
        choices = clients.client_choices(session, speech)
    form.client.offer(choices)
    if waiting.given.amount is not None:
        del form.amount
    return render(
        "generic/form_page.html",
        FormPage(
            title=speech.say("payments.who"),
            under=_told(waiting),
            form=form,
            submit=speech.say("payments.submit"),
            back=url_for("money.index"),
        ),
        status=status,
    )


def _waiting(session: Session, fact_id: str) -> PaymentWaiting:
    for waiting in queries.payments_waiting(session):
        if waiting.fact_id == fact_id:
            return waiting
    raise Refused("billing.not_waiting")


def _told(waiting: PaymentWaiting) -> str:
    """Say what is known of it: how much, how, when, with which horse, on which receipt."""
    speech, given = caller().speech, waiting.given
    parts = [] if given.amount is None else [speech.money(given.amount)]
    parts += [speech.say(f"method.{given.method}"), speech.long_day(waiting.day)]
    if waiting.work_id is not None:
        parts.append(horse_label(speech, waiting.horse, waiting.words))
    if given.receipt:
        parts.append(speech.say("payments.receipt", receipt=given.receipt))
    return ", ".join(parts)


@pages.post("/payments/who/<fact_id>")
@allow("owner", "books")
@once
def say_who(fact_id: str) -> Response:
    """Take in money that waited for who gave it."""
    form = WhoForm.typed()
    with reading() as session:
        waiting = _waiting(session, fact_id)
        form.client.offer(clients.client_choices(session, caller().speech))
    amount = waiting.given.amount
    if amount is not None:
        del form.amount
    if not form.validate() or form.client.data is None:
        return _who_page(fact_id, form, 422)
    try:
        with writing(*form.key()) as unit:
            service.take_payment(
                unit.session,
                fact_id,
                form.client.data,
                today=caller().today,
                amount=form.amount.data if amount is None else None,
            )
            unit.see_other(url_for("clients.show", client_id=form.client.data))
    except Refused as refused:
        refuse(form, refused)
        return _who_page(fact_id, form, 409)
    flash("payments.taken", amount_cents=amount if amount is not None else form.amount.data)
    return see_other(unit)
