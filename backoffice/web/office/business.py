"""Everything in the office, and the business itself."""

from dataclasses import dataclass, replace
from zoneinfo import available_timezones

from babel import Locale
from flask import url_for
from werkzeug.wrappers import Response

from backoffice.billing import queries as bills
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.money import MINOR_UNITS
from backoffice.practice import queries, service
from backoffice.practice.rules import (
    PracticeDetails,
)
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    LinesField,
    TextField,
    TickField,
)
from backoffice.web.generic import Link
from backoffice.web.office.blueprint import pages
from backoffice.web.records import RecordForm, form_page, keep
from backoffice.web.roles import allow, allowed
from backoffice.web.shell import render

REGIONS = ("Africa/", "America/", "Asia/", "Atlantic/", "Australia/", "Europe/", "Pacific/")
INDEX = (
    ("office.part.people", ("clients.index", "yards.index", "suppliers.index", "office.people")),
    ("office.part.prices", ("prices.index", "prices.kinds", "prices.tax")),
    ("office.part.business", ("office.business", "office.settings", "access.password")),
    ("office.part.books", ("what_pays.show", "office.proof")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficePage:
    """Everything in the office, in parts."""

    parts: tuple[tuple[str, tuple[Link, ...]], ...]


@pages.get("/office")
@allow("owner", "field", "books")
def index() -> Response:
    """Show everything in the office."""
    say = caller().speech.say
    parts = tuple(
        (say(part), tuple(Link(url=url_for(name), text=say(f"to.{name}")) for name in open_to_him))
        for part, names in INDEX
        if (open_to_him := [name for name in names if caller().role in allowed(name)])
    )
    return render("office/index.html", OfficePage(parts=parts))


def _zones() -> list[tuple[str, str]]:
    names = sorted(zone for zone in available_timezones() if zone.startswith(REGIONS))
    return [(name, name.replace("_", " ")) for name in names]


def _countries(names: Locale) -> list[tuple[str, str]]:
    found = [(c, name) for c, name in names.territories.items() if len(c) == 2 and c.isalpha()]
    return sorted(found, key=lambda country: country[1])


class BusinessForm(RecordForm):
    """The business."""

    name = TextField("Name")
    address = LinesField("Address")
    phone = TextField("Telephone")
    email = TextField("E-mail")
    how_to_pay = LinesField("How to pay you")
    tax_number = TextField("{office.tax_number}")
    prices_include_tax = TickField("{office.prices_include_tax}")
    words = ChoiceField(
        "Words", [("us", "{office.words_us}"), ("uk", "{office.words_uk}")], needed=True
    )
    country = ChoiceField("Country", needed=True)
    currency = ChoiceField("Currency", needed=True)
    zone = ChoiceField("Time of day as in", needed=True)
    paper = ChoiceField(
        "Paper", [("us-letter", "{office.letter}"), ("a4", "{office.a4}")], needed=True
    )


def _offer(form: BusinessForm) -> None:
    names = Locale.parse("en_GB" if caller().practice.words == "uk" else "en_US")
    form.country.offer(_countries(names))
    form.currency.offer((code, f"{code} · {names.currencies[code]}") for code in MINOR_UNITS)
    zone = form.zone.data
    form.zone.offer([*([(zone, zone)] if zone == "UTC" else []), *_zones()])


def _business_page(form: BusinessForm, status: int = 200) -> Response:
    say = caller().speech.say
    return form_page(
        form,
        title=say("to.office.business"),
        under=say("office.business_under"),
        back=url_for("office.index"),
        hints={
            "how_to_pay": say("office.how_to_pay_hint"),
            "tax_number": say("office.tax_number_hint"),
            "words": say("office.words_hint"),
            "currency": say("office.currency_hint"),
        },
        status=status,
    )


@pages.get("/office/business")
@allow("owner")
def business() -> Response:
    """Show the business to be changed."""
    form = BusinessForm(obj=caller().practice)
    _offer(form)
    return _business_page(form)


@pages.post("/office/business")
@allow("owner")
def save_business() -> Response:
    """Save what was changed in the business."""
    form = BusinessForm.typed()
    _offer(form)

    def save(session: Session) -> int:
        now = queries.practice(session)
        if form.currency.data != now.currency and bills.next_number(session, "bills"):
            raise Refused("office.currency_fixed", field="currency")
        return service.save_practice(session, replace(now, **form.values(PracticeDetails)))

    return keep(
        form,
        save,
        lambda _id: url_for("office.business"),
        lambda status: _business_page(form, status),
        now=queries.practice,
    )
