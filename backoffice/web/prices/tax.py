"""Sales tax, by kind of line."""

from dataclasses import dataclass

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.pricing import queries, service
from backoffice.pricing.queries import TaxLine
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    DayField,
    Form,
)
from backoffice.web.prices.blueprint import pages
from backoffice.web.records import (
    ScaledField,
    form_page,
    keep,
    scaled,
)
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading

TAX_KINDS = ("labour", "goods", "travel")
CATEGORIES = ("S", "Z", "E", "O")


class TaxForm(Form):
    """How sales tax treats a kind of line from a day on."""

    category = ChoiceField(
        "How it is taxed", [(word, "{tax_category." + word + "}") for word in CATEGORIES],
        needed=True,
    )  # fmt: skip
    rate_ppm = ScaledField("Rate in percent", decimals=4)
    from_day = DayField("From which day", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxRow:
    """A kind of line, how it is taxed today, and what was set before or is to come."""

    kind: str
    now: str
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxPage:
    """How sales tax treats each kind of line."""

    rows: tuple[TaxRow, ...]


@pages.get("/prices/tax")
@allow("owner", "books")
def tax() -> Response:
    """Show how sales tax treats each kind of line."""
    say, today = caller().speech.say, caller().today
    with reading() as session:
        lines = queries.tax_lines(session)
    rows = []
    for kind in TAX_KINDS:
        own = [line for line in lines if line.tax_kind == kind]
        now = next((line for line in own if line.from_day <= today), None)
        others = tuple(_tax_words(line) for line in own if line is not now)
        shown = _tax_words(now) if now else say("tax.nothing_set")
        rows.append(TaxRow(kind=kind, now=shown, others=others))
    return render("prices/tax.html", TaxPage(rows=tuple(rows)))


def _tax_words(line: TaxLine) -> str:
    say = caller().speech.say
    rate = say("tax.rate", rate=scaled(line.rate_ppm, 4)) if line.category == "S" else ""
    what = say(f"tax_category.{line.category}")
    return say("tax.from", what=what, rate=rate, from_day=line.from_day)


@pages.get("/prices/tax/<word>")
@allow("owner", "books")
def tax_of(word: str) -> Response:
    """Ask how sales tax treats a kind of line."""
    today = caller().today
    with reading() as session:
        lines = queries.tax_lines(session)
    now = next((x for x in lines if x.tax_kind == word and x.from_day <= today), None)
    rate = now.rate_ppm or None if now else None
    form = TaxForm(
        data={"category": now.category if now else "O", "rate_ppm": rate, "from_day": today}
    )
    return _tax_page(word, form)


def _tax_page(word: str, form: TaxForm, status: int = 200) -> Response:
    if word not in TAX_KINDS:
        abort(404)
    say = caller().speech.say
    return form_page(
        form,
        title=say("tax.of", what=say(f"tax_kind.{word}")),
        back=url_for("prices.tax"),
        caution=say("tax.ask"),
        hints={"rate_ppm": say("tax.rate_hint")},
        status=status,
    )


@pages.post("/prices/tax/<word>")
@allow("owner", "books")
def set_tax(word: str) -> Response:
    """Set how sales tax treats a kind of line from a day on."""
    form = TaxForm.typed()

    def save(session: Session) -> int:
        day = form.from_day.data or caller().today
        category, rate = form.category.data or "", form.rate_ppm.data or 0
        service.set_tax(session, word, day, category, rate)
        return 0

    return keep(
        form,
        save,
        lambda _id: url_for("prices.tax"),
        lambda status: _tax_page(word, form, status),
    )
