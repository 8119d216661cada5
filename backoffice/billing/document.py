"""How does a bill look on paper? Worded here, set by the layout it was first printed with."""

from backoffice.billing.rules import DocumentKind, Printed, PrintedLine, TaxCategory
from backoffice.folders import templates
from backoffice.money import plain
from backoffice.typeset import Paper, set_pdf
from backoffice.words import Speech


def pdf(printed: Printed, paper: Paper) -> bytes:
    """Set a document as PDF, in the words and currency it was issued in.

    The same record gives the same bytes within one version of the program. The file is archival
    and readable aloud (PDF/A-3a, PDF/UA-1) unless it holds a sign that no font here can draw.
    Raises: Refused if the typesetter is not installed.
    """
    layout = templates() / "documents" / f"{printed.body.template}.typ"
    return set_pdf(layout, sheet(printed), paper, printed.body.issued)


def sheet(printed: Printed) -> dict[str, object]:
    """Word everything that stands on the paper, line by line, ready to be set."""
    body = printed.body
    speech = Speech(words=body.words, currency=body.currency)
    credit = body.kind is DocumentKind.CREDIT
    facts = [[speech.say("document.issued"), speech.long_day(body.issued)]]
    if body.due and not credit:
        facts.append([speech.say("document.due"), speech.long_day(body.due)])
    settled = not credit and printed.paid is not None and printed.open <= 0
    title = "document.correction_title" if credit else "document.bill_title"
    seller = body.seller
    return {
        "region": {"us": "US", "uk": "GB"}[body.words],
        "title": speech.say(title, number=body.number, credits=body.credits),
        "seller": {
            "name": seller.name,
            "address": list(seller.address),
            "tax_id": seller.tax_id and speech.say("document.tax_id", number=seller.tax_id),
        },
        "heading": speech.say("document.correction" if credit else "document.bill"),
        "number": body.number,
        "corrects": speech.say("document.corrects", credits=body.credits) if credit else "",
        "facts": facts,
        "for": speech.say("document.for"),
        "buyer": list(printed.buyer or (speech.say("document.removed_buyer"),)),
        "head": {
            "day": speech.say("document.day"),
            "horse": speech.say("document.horse"),
            "done": speech.say("document.done"),
            "tax": speech.say("document.tax"),
            "amount": speech.say("document.amount", currency=body.currency),
        },
        "rows": _rows(printed, speech),
        "rates": len(body.totals.taxes) > 1,
        "include": speech.say("document.prices_include")
        if body.includes_tax and body.totals.tax
        else "",
        "sums": _sums(printed, speech),
        "total": [
            speech.say("document.taken_off" if credit else "document.total"),
            _minus(speech.money(body.totals.payable)),
        ],
        "after": [] if credit else _after(printed, speech),
        "settled": speech.say("document.settled") if settled else "",
        "note": [speech.say("document.note"), printed.note] if printed.note else [],
        "pay_to": [speech.say("document.pay_to"), *seller.pay_to]
        if seller.pay_to and not settled and not credit
        else [],
        "page": [speech.say("document.page"), speech.say("document.of")],
    }


def _rows(printed: Printed, speech: Speech) -> list[dict[str, object]]:
    """Give a row for each line; the day and the horse stand where they begin."""
    rows: list[dict[str, object]] = []
    for day in printed.days:
        for nth_horse, horse in enumerate(day.horses):
            for nth, line in enumerate(horse.lines):
                begins = "" if nth else "horse" if nth_horse else "day"
                rows.append(
                    {
                        "begins": begins,
                        "lines": len(horse.lines),
                        "day": speech.day(day.day) if day.day and begins == "day" else "",
                        "horse": horse.name or "" if begins else "",
                        "done": _done(line, speech),
                        "tax": _rate(line, speech),
                        "amount": _amount(line.amount, speech.currency),
                    }
                )
    return rows


def _done(line: PrintedLine, speech: Speech) -> str:
    text = speech.say("document.removed_text") if line.text is None else line.text
    return text if line.qty == 1 else speech.say("document.times", qty=line.qty, text=text)


def _rate(line: PrintedLine, speech: Speech) -> str:
    exempt = line.category == TaxCategory.EXEMPT
    return speech.say("document.exempt") if exempt else _percent(line.rate_ppm)


def _sums(printed: Printed, speech: Speech) -> list[list[str]]:
    """Give the way from the lines to the total; nothing at all where no tax is about."""
    totals = printed.body.totals
    currency = printed.body.currency
    taxed = [part for part in totals.taxes if part.category != TaxCategory.OUTSIDE]
    sums = [[speech.say("document.before_tax"), _amount(totals.net, currency)]] if taxed else []
    for part in taxed:
        label = speech.say(
            f"document.tax.{part.category}",
            rate=_percent(part.rate_ppm),
            base_cents=part.base,
        )
        sums.append([_minus(label), _amount(part.tax, currency)])
    if totals.rounding:
        sums.append([speech.say("document.rounding"), _amount(totals.rounding, currency)])
    return sums


def _after(printed: Printed, speech: Speech) -> list[list[str]]:
    if not printed.paid:
        return []
    rows = [[speech.say("document.paid"), _minus(speech.money(printed.paid))]]
    if printed.open > 0:
        rows.append([speech.say("document.to_pay"), speech.money(printed.open)])
    if printed.open < 0:
        rows.append([speech.say("document.kept"), speech.money(-printed.open)])
    return rows


def _percent(rate_ppm: int) -> str:
    whole, part = divmod(rate_ppm, 10_000)
    return f"{whole}.{part:04d}".rstrip("0").rstrip(".") + "%"


def _amount(cents: int, currency: str) -> str:
    whole, point, minor = plain(abs(cents), currency).partition(".")
    return _minus(f"{'-' if cents < 0 else ''}{int(whole):,}{point}{minor}")


def _minus(text: str) -> str:
    return text.replace("-", "\u2212")
