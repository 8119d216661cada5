"""Money: what is ready to be billed, and who owes."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint
from werkzeug.wrappers import Response

from backoffice.billing import queries
from backoffice.billing.queries import BillLine, ReadyBill
from backoffice.visits import queries as visits
from backoffice.visits.queries import ToFindOut
from backoffice.web.caller import caller
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading

pages = Blueprint("money", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyPage:
    """What is ready, what is owed, and what was issued last."""

    today: date
    ready: tuple[ReadyBill, ...]
    owed: tuple[BillLine, ...]
    latest: tuple[BillLine, ...]
    find_out: tuple[ToFindOut, ...]

    @property
    def ready_sum(self) -> int:
        """What the ready bills come to."""
        return sum(bill.totals.payable for bill in self.ready)

    @property
    def owed_sum(self) -> int:
        """What is still to be paid."""
        return sum(bill.open for bill in self.owed)


@pages.get("/money")
@allow("owner", "books")
def index() -> Response:
    """Show what is ready and who owes."""
    with reading() as session:
        ready = queries.ready_bills(session, includes_tax=caller().practice.prices_include_tax)
        owed = queries.open_bills(session)
        latest = queries.bill_list(session)[:10]
        find_out = visits.to_find_out(session)
    return render(
        "money/index.html",
        MoneyPage(today=caller().today, ready=ready, owed=owed, latest=latest, find_out=find_out),
    )
