"""Writing down what was typed for one farrier's day, all of it or nothing."""

import re
from dataclasses import replace
from datetime import date

from flask import abort, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from backoffice.billing import service as billing
from backoffice.books import service as books
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.visits import queries as visits
from backoffice.visits.service.entering import Entered, SaidMeanwhile, Typed, Unclear, enter
from backoffice.web.caller import caller
from backoffice.web.evening.blueprint import pages
from backoffice.web.evening.page import show_days
from backoffice.web.evening.sheets import SheetForm, Trouble
from backoffice.web.evening.understood import understood
from backoffice.web.forms import sent_key
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash
from backoffice.web.writing import see_other, writing

_SEEN = re.compile(r"(\d{1,15}):(\d{1,15})", re.ASCII)


@pages.post("/day/<day:day>/evening")
@allow("owner", "field")
@once
def write(day: date) -> Response:
    """Write down what was typed."""
    form = _typed()
    typed = Typed(
        day=day,
        farrier_id=farrier_of(form),
        text=form.text.data or "",
        key=sent_key(),
        seen={int(visit): int(seq) for visit, seq in _SEEN.findall(request.form.get("seen", ""))},
    )
    trouble = Trouble(
        day=day,
        farrier_id=typed.farrier_id,
        typed=str(form.text.raw_data[0]) if form.text.raw_data else "",
        seen=typed.seen,
    )
    if not form.validate():
        return again(replace(trouble, says=" ".join(form.text.errors)), 422)
    try:
        with writing(*form.key()) as unit:
            entered = enter(unit.session, typed, currency=caller().practice.currency)
            changes = _follow(unit.session, day, entered)
            says = understood(unit.session, typed, entered.taken)
            lines = "-".join(str(number) for number in entered.lines)
            unit.see_other(back(day, typed.farrier_id, wrote=lines or None))
    except Refused as refused:
        return again(_why(trouble, refused), 422 if isinstance(refused, Unclear) else 409)
    if entered.late:
        flash("evening.put_right", says=says, changes=changes)
    else:
        flash("evening.written", says=says)
    return see_other(unit)


def _typed() -> SheetForm:
    """Read what was sent; the two fields of the odometer are one entry."""
    sent: MultiDict[str, str] = MultiDict(request.form)
    if "out" in sent:
        sent["text"] = f"miles {sent['out']} {sent.get('in', '')}"
    return SheetForm(formdata=sent)


def _follow(session: Session, day: date, entered: Entered) -> str:
    """Put right what is written up already and owe whoever came along; say what changed."""
    today = caller().today
    if entered.late and caller().role != "owner":
        raise Refused("entry.owners_only")
    before = _charged(session, entered)
    for visit_id, facts in entered.late.items():
        billing.put_right(session, visit_id, facts, today=today)
    for farrier_id in entered.helpers:
        books.come_along(session, day, farrier_id, today=today)
    after = _charged(session, entered)
    return " ".join(_changed(number, before[number], after[number]) for number in after)


def _charged(session: Session, entered: Entered) -> dict[int, tuple[int, int]]:
    """Give what is charged for lines written up, and what their shoes and nails cost."""
    ids = entered.works.values()
    net = dict.fromkeys(ids, 0)
    for share in visits.live_shares(session, ids):
        net[share.work_id] += share.net
    costs = visits.costs_of(session, ids)
    return {
        number: (net[work_id], costs[work_id].material) for number, work_id in entered.works.items()
    }


def _changed(number: int, before: tuple[int, int], after: tuple[int, int]) -> str:
    say = caller().speech.say
    same = before[0] == after[0]
    code = "evening.stays_at" if same else "evening.now_costs"
    said = say(code, number=number, now_cents=after[0], before_cents=before[0])
    return said if before[1] == after[1] else f"{said} {say('evening.shelf_followed')}"


def _why(trouble: Trouble, refused: Refused) -> Trouble:
    say = caller().speech.say
    wrong = refused.wrong if isinstance(refused, Unclear) else ()
    why = [(one.typed, say(one.refused.code, **one.refused.facts)) for one in wrong]
    return replace(
        trouble,
        says=say(refused.code, **refused.facts),
        wrong=tuple((typed if typed not in says else "", says) for typed, says in why),
        meanwhile=refused.lines if isinstance(refused, SaidMeanwhile) else (),
    )


def again(trouble: Trouble, status: int) -> Response:
    """Show the page again with what was typed and why it was not saved."""
    return show_days(None if _among_all() else trouble.day, trouble, status)


def back(day: date, farrier_id: int, wrote: str | None = None) -> str:
    """Say where the page is that something was sent from, and where its cursor stands."""
    if _among_all():
        return url_for("evening.show", on=day.isoformat(), farrier=farrier_id, wrote=wrote)
    return url_for("evening.day", day=day, farrier=farrier_id, wrote=wrote)


def _among_all() -> bool:
    return request.form.get("among") == "all"


def farrier_of(form: SheetForm) -> int:
    """Say whose sheet was sent."""
    if form.farrier.data is None:
        abort(404)
    return form.farrier.data
