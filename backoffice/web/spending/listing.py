"""Money out in a list: bills not sorted yet first, and what is owed for days along."""

from dataclasses import dataclass
from datetime import timedelta

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.books import queries
from backoffice.books.queries import PayLine, SpendingLine
from backoffice.web.caller import caller
from backoffice.web.records import page_no
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.spending.blueprint import pages
from backoffice.web.writing import reading


@dataclass(frozen=True, slots=True, kw_only=True)
class PayOf:
    """What an apprentice is owed this month and the last."""

    farrier_id: int
    name: str
    this: PayLine | None
    last: PayLine | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpendingPage:
    """Suppliers' bills, each once, and the pay of who came along."""

    unsorted: tuple[SpendingLine, ...]
    others: tuple[SpendingLine, ...]
    pay: tuple[PayOf, ...]
    opens_people: bool
    before: str
    after: str

    @property
    def unsorted_sum(self) -> int:
        """What no line says yet, over all bills."""
        return sum(bill.unsorted for bill in self.unsorted)


@pages.get("/spending")
@allow("owner", "books")
def index() -> Response:
    """List suppliers' bills."""
    no, today = page_no(), caller().today
    this_month = today.replace(day=1)
    month_end = this_month - timedelta(days=1)
    with reading() as session:
        listed = queries.bill_list(session, no)
        this = queries.pay_owed(session, this_month, today)
        last = queries.pay_owed(session, month_end.replace(day=1), month_end)
    page = SpendingPage(
        unsorted=tuple(bill for bill in listed.rows if bill.unsorted > 0),
        others=tuple(bill for bill in listed.rows if bill.unsorted <= 0),
        pay=_by_person(this, last) if no == 1 else (),
        opens_people=caller().role == "owner",
        before=url_for("spending.index", page=no - 1) if no > 1 else "",
        after=url_for("spending.index", page=no + 1) if listed.more else "",
    )
    return render("spending/index.html", page)


def _by_person(this: tuple[PayLine, ...], last: tuple[PayLine, ...]) -> tuple[PayOf, ...]:
    now = {line.farrier_id: line for line in this}
    then = {line.farrier_id: line for line in last}
    names = {line.farrier_id: line.name for line in (*this, *last)}
    return tuple(
        PayOf(farrier_id=person, name=names[person], this=now.get(person), last=then.get(person))
        for person in sorted(names)
    )
