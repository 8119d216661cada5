"""What pays: which clients and which kinds of horse leave something, and each figure opened."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from flask import Blueprint, abort, request, url_for
from werkzeug.wrappers import Response

from backoffice.books import queries as books
from backoffice.clients.rules import client_label, horse_label
from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.practice import queries as practice
from backoffice.reports import queries, rules
from backoffice.reports.queries import By, Detail, Worked
from backoffice.reports.rules import Line, Period, Sums
from backoffice.web.caller import caller
from backoffice.web.forms import DayField, Form, refuse
from backoffice.web.generic import Link
from backoffice.web.records import page_no
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.writing import reading

pages = Blueprint("what_pays", __name__)

GROUPS = (By.CLIENTS, By.KINDS)
SHOWN = 100  # horses on one leaf


class DaysForm(Form):
    """From which day to which."""

    since = DayField("From", needed=True)
    until = DayField("To", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The period asked for: by its name, else by two dates; and how an address says it."""

    name: str
    period: Period
    form: DaysForm

    @property
    def address(self) -> dict[str, Any]:
        """Give what an address for the same period carries."""
        if self.name:
            return {"period": self.name}
        days = {"since": self.period.first, "until": self.period.last}
        return {name: day.isoformat() for name, day in days.items()}

    @property
    def status(self) -> int:
        """Say whether what was asked could be read."""
        return 422 if self.form.errors else 200


def _asked() -> Asked:
    today = caller().today
    name = request.args.get("period", "")
    if name not in rules.PERIODS:
        name = rules.PERIODS[0]
    found = rules.period(name, today)
    if not {"since", "until"} & set(request.args):
        form = DaysForm(data={"since": found.first, "until": found.last})
        return Asked(name=name, period=found, form=form)
    form = DaysForm(formdata=request.args)
    if form.validate() and form.since.data and form.until.data:
        try:
            told = rules.between(form.since.data, form.until.data)
            return Asked(name="", period=told, form=form)
        except Refused as refused:
            refuse(form, refused)
    return Asked(name=name, period=found, form=form)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A line drawn: thousandths of the widest there is."""

    worked: int
    left: int
    time: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of the table, in words."""

    url: str
    name: str
    says: str
    line: Line
    hours: str
    per_hour: str
    bar: Bar | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One of several views of the same thing."""

    link: Link
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowPage:
    """What is left, by client or by kind of horse; ``pay`` is owed to apprentices beside it."""

    by: By
    asked: Asked
    views: tuple[Choice, ...]
    periods: tuple[Choice, ...]
    says: tuple[str, ...]
    measured: str
    rows: tuple[Row, ...]
    total: Row
    hour: int
    pay: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LatePart:
    """What came after a horse was written up."""

    url: str
    name: str
    says: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOf:
    """A line of the sum on paper."""

    text: str
    amount: int
    why: str = ""
    kind: str = "line"


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailPage:
    """What makes up one line."""

    title: str
    by: By
    asked: Asked
    back: str
    reckon: tuple[PartOf, ...]
    measured: str
    late: tuple[LatePart, ...]
    rows: tuple[Row, ...]
    before: str
    after: str


def _hour(session: Session) -> int:
    return practice.settings(session)["hour_cents"]


@pages.get("/what-pays")
@allow("owner")
def show() -> Response:
    """Show which clients, or which kinds of horse, leave what."""
    by = By.KINDS if request.args.get("by") == By.KINDS else By.CLIENTS
    asked = _asked()
    with reading() as session:
        hour = _hour(session)
        found = queries.what_pays(session, asked.period, by, hour_cents=hour)
        named = queries.names(session, by, [line.key for line in found.lines if line.key])
        pay = books.pay_owed(session, asked.period.first, asked.period.last)
    rows = [_row(by, asked, line, _name(by, line.key, named)) for line in found.lines]
    page = ShowPage(
        by=by,
        asked=asked,
        views=_views(by, asked),
        periods=_periods(by, asked),
        says=tuple(_says(found.total, rows, hour)),
        measured=_measured(found.total.sums),
        rows=_drawn(rows),
        total=_words(found.total, url="", name=caller().speech.say("reports.all")),
        hour=hour,
        pay=sum(line.amount for line in pay),
    )
    return render("what_pays/show.html", page, status=asked.status)


def _views(by: By, asked: Asked) -> tuple[Choice, ...]:
    return tuple(
        Choice(
            link=Link(
                url=url_for("what_pays.show", by=one.value, **asked.address),
                text=caller().speech.say(f"reports.by.{one}"),
            ),
            here=one is by,
        )
        for one in GROUPS
    )


def _periods(by: By, asked: Asked) -> tuple[Choice, ...]:
    return tuple(
        Choice(
            link=Link(
                url=url_for("what_pays.show", by=by.value, period=name),
                text=caller().speech.say(f"reports.period.{name}"),
            ),
            here=name == asked.name,
        )
        for name in rules.PERIODS
    )


def _name(by: By, key: int | None, named: dict[int, str | None]) -> str:
    speech = caller().speech
    if key is None:
        return speech.say(f"reports.unknown.{by}")
    return client_label(speech, named[key])


def _row(by: By, asked: Asked, line: Line, name: str) -> Row:
    url = url_for("what_pays.detail", by=by.value, group_id=line.key or 0, **asked.address)
    return _words(line, url=url, name=name)


def _words(line: Line, *, url: str, name: str, says: str = "") -> Row:
    speech = caller().speech
    return Row(
        url=url,
        name=name,
        says=says,
        line=line,
        hours=_hours(line.sums.minutes),
        per_hour="" if line.per_hour is None else speech.money(line.per_hour),
    )


def _hours(minutes: int) -> str:
    hours, rest = divmod(minutes, rules.HOUR)
    return caller().speech.say("reports.hours", hours=hours, minutes=rest)


def _drawn(rows: Sequence[Row]) -> tuple[Row, ...]:
    widest = max((max(r.line.sums.net, r.line.left, r.line.time) for r in rows), default=0)

    def part(amount: int) -> int:
        return rules.parts_of(max(amount, 0), widest, 1_000) or 0

    def bar(line: Line) -> Bar:
        return Bar(worked=part(line.sums.net), left=part(line.left), time=part(line.time))

    return tuple(replace(row, bar=bar(row.line)) for row in rows)


def _says(total: Line, rows: Sequence[Row], hour: int) -> Iterator[str]:
    """Say in plain words what came of it, who left most, and who least for an hour."""
    say = caller().speech.say
    percent = rules.parts_of(total.left, total.sums.net)
    share = "" if percent is None else say("reports.left_share", percent=percent)
    yield say("reports.left", worked_cents=total.sums.net, left_cents=total.left, share=share)
    if total.per_hour is not None:
        hours = _hours(total.sums.minutes)
        yield say("reports.took", hours=hours, hour_cents=total.per_hour)
    names = {row.line.key: row.name for row in rows}
    most = rules.most(row.line for row in rows)
    least = rules.least_an_hour(row.line for row in rows)
    if most and least and len(rows) > 1:
        yield say("reports.most", name=names[most.key], left_cents=most.left)
        below = (least.per_hour or 0) < hour
        yield say(
            "reports.least_below" if below else "reports.least",
            name=names[least.key],
            per_hour_cents=least.per_hour,
            hour_cents=hour,
        )


def _measured(sums: Sums) -> str:
    say = caller().speech.say
    parts = {
        "minutes": (sums.minutes, sums.minutes_est),
        "drive": (sums.drive, sums.drive_est),
        "materials": (sums.material, sums.material_est),
    }
    if not any(estimated for _, estimated in parts.values()):
        return say("reports.all_measured")
    return say("reports.measured", **{name: _share(*part) for name, part in parts.items()})


def _share(whole: int, estimated: int) -> str:
    say = caller().speech.say
    if estimated == 0:
        return say("reports.share.all")
    if estimated == whole:
        return say("reports.share.none")
    return say("reports.share.part", percent=rules.parts_of(whole - estimated, whole))


@pages.get("/what-pays/<by>/<int:group_id>")
@allow("owner")
def detail(by: str, group_id: int) -> Response:
    """Show every horse behind one line, and what came later of it; 0 is not known yet."""
    if by not in GROUPS:
        abort(404)
    grouped, key, asked, no = By(by), group_id or None, _asked(), page_no()
    with reading() as session:
        hour = _hour(session)
        named = queries.names(session, grouped, [group_id])
        if key and key not in named:
            abort(404)
        found = queries.detail(session, asked.period, grouped, key, hour_cents=hour)
        here = found.works[(no - 1) * SHOWN : no * SHOWN]
        ids = {work.key or 0 for work in here} | {row.work_id for row in found.late}
        worked = queries.worked(session, ids)

    def leaf(number: int) -> str:
        return url_for("what_pays.detail", by=by, group_id=group_id, page=number, **asked.address)

    page = DetailPage(
        title=_name(grouped, key, named),
        by=grouped,
        asked=asked,
        back=url_for("what_pays.show", by=by, **asked.address),
        reckon=tuple(_reckon(found, hour)) if found.works else (),
        measured=_measured(found.line.sums),
        late=tuple(_late(found, worked)),
        rows=tuple(_work(work, worked[work.key or 0]) for work in here),
        before=leaf(no - 1) if no > 1 else "",
        after=leaf(no + 1) if len(found.works) > no * SHOWN else "",
    )
    return render("what_pays/detail.html", page, status=asked.status)


def _work(line: Line, work: Worked) -> Row:
    speech = caller().speech
    return _words(
        line,
        url=url_for("visits.work", work_id=line.key),
        name=horse_label(speech, work.name, work.words),
        says=" · ".join((speech.day(work.day), work.service or speech.say("unknown"))),
    )


def _late(found: Detail, worked: dict[int, Worked]) -> Iterator[LatePart]:
    speech = caller().speech
    for row in found.late:
        work = worked[row.work_id]
        yield LatePart(
            url=url_for("visits.work", work_id=row.work_id),
            name=horse_label(speech, work.name, work.words),
            says=speech.say(f"reports.late.{row.sort}", on_day=work.day),
            amount=row.sums.net - row.sums.material,
        )


def _reckon(found: Detail, hour: int) -> Iterator[PartOf]:
    """Write the line down as a sum, what came later apart."""
    say, line = caller().speech.say, found.line
    frozen = rules.add_up(work.sums for work in found.works)
    taken = (
        ("worked", frozen.net),
        ("taken_back", line.sums.net - frozen.net),
        ("materials", -frozen.material),
        ("settled", frozen.material - line.sums.material),
        ("drive", -frozen.drive),
        ("tools", -frozen.tool),
    )
    for part, amount in taken:
        if amount:
            yield PartOf(text=say(f"reports.part.{part}"), amount=amount)
    yield PartOf(
        text=say("reports.part.left", hours=_hours(line.sums.minutes)),
        why="" if line.per_hour is None else say("reports.an_hour", hour_cents=line.per_hour),
        amount=line.left,
        kind="sum",
    )
    yield PartOf(
        text=say("reports.part.time"),
        why=say("reports.an_hour", hour_cents=hour),
        amount=-line.time,
    )
    yield PartOf(text=say("reports.part.after_time"), amount=line.after_time, kind="end")
