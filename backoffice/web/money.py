"""Money: what is ready to be billed, what still collects, and who owes."""

import re
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, url_for
from werkzeug.wrappers import Response
from wtforms import HiddenField

from backoffice.billing import queries, service
from backoffice.billing.queries import BillLine, InHand, ReadyBill
from backoffice.billing.rules import AGES, age_of
from backoffice.errors import Refused
from backoffice.web import waiting
from backoffice.web.caller import caller
from backoffice.web.forms import CountField, CreatesForm, refuse
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.waiting import Waiting
from backoffice.web.writing import reading, see_other, writing

pages = Blueprint("money", __name__)

_SHOWN = re.compile(r"([0-9]{1,15}):([0-9]{1,15})")


class IssueAllForm(CreatesForm):
    """Issuing every ready bill as it was shown: each client with his amount."""

    expected = HiddenField("The amounts shown")
    first_no = CountField("Number of your first bill", least=1, most=99_999_999)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyPage:
    """What is ready, what still collects, and what is owed."""

    today: date
    ready: tuple[ReadyBill, ...]
    collecting: tuple[ReadyBill, ...]
    in_hand: dict[int, InHand]
    owed: tuple[BillLine, ...]
    find_out: tuple[Waiting, ...]
    number: int | None
    form: IssueAllForm

    @property
    def ready_sum(self) -> int:
        """What the ready bills come to."""
        return sum(bill.totals.payable for bill in self.ready)

    @property
    def owed_sum(self) -> int:
        """What is still to be paid."""
        return sum(bill.open for bill in self.owed)

    @property
    def by_age(self) -> tuple[tuple[str, int], ...]:
        """What is still to be paid by how long it has been past due; ages without any left out."""
        sums = dict.fromkeys(AGES, 0)
        for bill in self.owed:
            sums[age_of(bill.due, self.today)] += bill.open
        return tuple((age, amount) for age, amount in sums.items() if amount)


@pages.get("/money")
@allow("owner", "books")
def index() -> Response:
    """Show what is ready and who owes."""
    return _page(IssueAllForm(data={"first_no": 1}))


def _page(form: IssueAllForm, status: int = 200) -> Response:
    today = caller().today
    with reading() as session:
        found = queries.ready_bills(session, includes_tax=caller().practice.prices_include_tax)
        in_hand = queries.in_hand(session, [bill.client_id for bill in found])
        owed = queries.open_bills(session)
        find_out = waiting.to_find_out(session)
        number = queries.next_number(session, "bills")
    ready = tuple(bill for bill in found if not bill.collecting(today))
    form.expected.data = " ".join(f"{b.client_id}:{b.totals.payable}" for b in ready)
    page = MoneyPage(
        today=today,
        ready=ready,
        collecting=tuple(bill for bill in found if bill.collecting(today)),
        in_hand=in_hand,
        owed=owed,
        find_out=find_out,
        number=number,
        form=form,
    )
    return render("money/index.html", page, status=status)


@pages.post("/money/issue-all")
@allow("owner")
@once
def issue_all() -> Response:
    """Number and freeze every bill that was shown as ready, or none."""
    form = IssueAllForm.typed()
    shown = [_SHOWN.fullmatch(pair) for pair in (form.expected.data or "").split()]
    bills = [
        service.NewBill(client_id=int(pair[1]), expected=int(pair[2]), first_no=form.first_no.data)
        for pair in shown
        if pair
    ]
    if not form.validate() or len(bills) != len(shown):
        return _page(form, 422)
    try:
        with writing(*form.key()) as unit:
            service.issue_all(unit.session, bills, today=caller().today)
            last = (queries.next_number(unit.session, "bills") or 1) - 1
            first = last - len(bills) + 1
            unit.see_other(url_for("bills.made", first=first, last=last))
    except Refused as refused:
        refuse(form, refused)
        return _page(form, 409)
    flash("money.issued", bills=len(bills))
    return see_other(unit)
