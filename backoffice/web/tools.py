"""One tool: how it stands, what happened to it, and writing down what happens now."""

from dataclasses import dataclass, replace
from datetime import date

from flask import Blueprint, url_for
from werkzeug.wrappers import Response

from backoffice.daybook import service as daybook
from backoffice.db import Session
from backoffice.practice import queries as practice
from backoffice.tools import queries, service
from backoffice.tools.queries import ToolCard, ToolLine
from backoffice.tools.rules import ToolDetails, usual, worth
from backoffice.web.caller import caller
from backoffice.web.forms import (
    ChoiceField,
    CountField,
    CreatesForm,
    DayField,
    MoneyField,
    SelectId,
    TextField,
    TickField,
)
from backoffice.web.records import RecordForm, ScaledField, form_page, keep
from backoffice.web.roles import allow, once
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading

pages = Blueprint("tools", __name__)

SEE_OTHER = 303
HAPPENS = (
    "sharpened", "reground", "went_dull", "staged", "looked_at", "leaned", "slipped", "fell",
    "repaired", "put_away",
)  # fmt: skip
STAGES = ("new", "finishing", "hot")
# What usually happens to a tool of each kind: one tap each.
TAPS = {
    "knife": ("sharpened", "went_dull", "reground"),
    "rasp": ("staged",),
    "nippers": ("sharpened", "looked_at", "repaired"),
    "clinchers": ("looked_at", "repaired"),
    "hammer": ("looked_at", "repaired"),
    "stand": ("looked_at", "leaned", "slipped", "fell"),
    "forge": ("looked_at", "repaired"),
    "gas": ("looked_at",),
    "other": ("looked_at", "repaired"),
}


def sentences(tool: ToolLine) -> tuple[str, ...]:
    """Say how a tool stands."""
    return tuple(caller().speech.say(said.code, **said.facts) for said in tool.standing)


def next_code(tool: ToolLine, edge: int | None, life: int | None, today: date) -> str:
    """Give the code of what to do next with a tool, or nothing.

    Units: edge and life in thousandths of an ordinary horse, None where not known.
    """
    if tool.trouble:
        return f"tool_page.next.{tool.trouble}"
    if tool.look_days is not None and (
        tool.look_day is None or (today - tool.look_day).days > tool.look_days
    ):
        return "tool_page.next.look"
    if tool.sort == "rasp":
        return "tool_page.next.rasp" if life is not None and tool.since >= life else ""
    return "tool_page.next.sharpen" if edge is not None and tool.since >= edge else ""


class ToolForm(RecordForm):
    """A tool."""

    sort = ChoiceField("Kind", [(sort, "{tool." + sort + "}") for sort in TAPS], needed=True)
    name = TextField("Name", needed=True)
    place_id = SelectId("Kept in", needed=True)
    share = ScaledField("Its part of the work of its kind, in %", decimals=1)
    stage = ChoiceField(
        "A rasp is used for", [(stage, "{stage." + stage + "}") for stage in STAGES]
    )
    price = MoneyField("What it cost")
    scrap = MoneyField("What it brings when worn out")
    life = ScaledField("How many ordinary horses it lasts", decimals=3)
    edge = ScaledField("How many ordinary horses between two sharpenings", decimals=3)
    edge_cost = MoneyField("What one sharpening costs")
    look_days = CountField("Looked at every so many days", least=1)
    bought = DayField("Bought on")
    hidden = TickField("Put away for good")

    def tool(self) -> ToolDetails:
        """Make a tool's details of what was typed."""
        typed = self.values(ToolDetails)
        for field in ("share", "scrap", "edge_cost"):
            typed[field] = typed[field] or 0
        return ToolDetails(**typed)


class EventForm(CreatesForm):
    """Something that happened to a tool."""

    sort = ChoiceField(
        "What happened", [(sort, "{tool_event." + sort + "}") for sort in HAPPENS], needed=True
    )
    day = DayField("On which day")
    cost = MoneyField("What it cost")
    note = TextField("Note")


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOf:
    """Work a tool did on a day, in words."""

    day: date
    says: str
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolPage:
    """A tool with all that is known of it."""

    card: ToolCard
    says: tuple[str, ...]
    next: str
    facts: tuple[tuple[str, str], ...]
    taps: tuple[str, ...]
    works: tuple[WorkOf, ...]
    form: EventForm
    typed: EventForm
    opened: bool
    sees_money: bool
    owner: bool


@pages.get("/tools/<int:tool_id>")
@allow("owner", "field")
def show(tool_id: int) -> Response:
    """Show a tool."""
    return _show(tool_id, None)


def _show(tool_id: int, typed: EventForm | None, status: int = 200) -> Response:
    say, today, role = caller().speech.say, caller().today, caller().role
    with reading() as session:
        card = queries.tool_card(session, tool_id, today)
    tool, details = card.tool, card.details
    code = next_code(tool, details.edge, details.life, today)
    taps = () if tool.hidden or tool.stage == "hot" else TAPS[tool.sort]
    page = ToolPage(
        card=card,
        says=sentences(tool),
        next=say(code) if code else "",
        facts=_facts(card, sees_money=role != "field"),
        taps=taps,
        works=tuple(
            WorkOf(day=wear.day, says=_worth(wear.units), cost=wear.cost) for wear in card.wears
        ),
        form=EventForm(),
        typed=typed or EventForm(data={"day": today}),
        opened=typed is not None,
        sees_money=role != "field",
        owner=role == "owner",
    )
    return render("tools/show.html", page, status=status)


def _worth(units: int) -> str:
    say = caller().speech.say
    horses, number = worth(abs(units))
    code = "tool_page.worth.back" if units < 0 else "tool_page.worth"
    return say(code, horses=horses, number=number)


def _facts(card: ToolCard, *, sees_money: bool) -> tuple[tuple[str, str], ...]:
    speech, tool, details = caller().speech, card.tool, card.details
    say = speech.say
    found = [(say("tool_page.kept"), tool.place_name)]
    if tool.stage:
        found.append((say("tool_page.stage"), say(f"stage.{tool.stage}")))
    if card.leaned:
        found.append((say("tool_page.leaned"), say("tool_page.times", times=card.leaned)))
    if tool.total:
        found.append((say("tool_page.total"), _worth(tool.total)))
    if details.life:
        found.append((say("tool_page.life"), _worth(details.life)))
    if details.edge:
        found.append((say("tool_page.edge"), _worth(details.edge)))
    if details.look_days:
        found.append((say("tool_page.look"), say("tool_page.every", days=details.look_days)))
    if details.bought:
        found.append((say("tool_page.bought"), speech.day(details.bought)))
    if sees_money and details.price is not None:
        found.append((say("tool_page.price"), speech.money(details.price)))
    if sees_money and card.cost_known and card.horse_cost:
        found.append((say("tool_page.horse_cost"), speech.money(card.horse_cost)))
    return tuple(found)


@pages.post("/tools/<int:tool_id>/event")
@allow("owner", "field")
@once
def event(tool_id: int) -> Response:
    """Write down what happened to a tool."""
    form, today = EventForm.typed(), caller().today

    def save(session: Session) -> int:
        queries.tool_details(session, tool_id)
        entry_id = daybook.record(session, "tool", form.day.data or today)
        sort = form.sort.data or ""
        service.record_event(
            session, entry_id, tool_id, sort, note=form.note.data or "", cost=form.cost.data or 0
        )
        return tool_id

    response = keep(
        form,
        save,
        lambda _id: url_for("tools.show", tool_id=tool_id),
        lambda status: _show(tool_id, form, status),
    )
    if response.status_code == SEE_OTHER:
        flash("tool_page.noted", what=caller().speech.say(f"tool_event.{form.sort.data}"))
    return response


@pages.get("/tools/new")
@allow("owner")
def new() -> Response:
    """Ask for a new tool."""
    return _page(ToolForm(data={"share": 1_000}), url_for("shelf.index"))


def _page(form: ToolForm, back: str, status: int = 200) -> Response:
    say = caller().speech.say
    with reading() as session:
        form.place_id.offer(practice.place_choices(session))
    is_new = form.version.data is None
    usual_hint = say("tool_page.usual_hint" if is_new else "tool_page.unknown_hint")
    return form_page(
        form,
        title=say("tool_page.new") if is_new else form.name.data or say("tool_page.edit"),
        back=back,
        hints={
            "share": say("tool_page.share_hint"),
            "life": usual_hint,
            "edge": usual_hint,
            "look_days": usual_hint,
        },
        status=status,
    )


def _typed() -> ToolForm:
    form = ToolForm.typed()
    with reading() as session:
        form.place_id.offer(practice.place_choices(session))
    return form


@pages.post("/tools/new")
@allow("owner")
@once
def create() -> Response:
    """Save a new tool; what was left empty starts with the usual of its kind."""
    form = _typed()

    def save(session: Session) -> int:
        details, settings = form.tool(), practice.settings(session)
        names = ("knife_edge", "rasp_life", "look_days")
        starts = usual(details.sort, {name: settings[name] for name in names})
        details = replace(
            details,
            life=details.life or starts.life,
            edge=details.edge or starts.edge,
            look_days=details.look_days or starts.look_days,
        )
        return service.save_tool(session, details)

    return keep(
        form,
        save,
        lambda tool_id: url_for("tools.show", tool_id=tool_id),
        lambda status: _page(form, url_for("shelf.index"), status),
    )


@pages.get("/tools/<int:tool_id>/edit")
@allow("owner")
def edit(tool_id: int) -> Response:
    """Show a tool to be changed."""
    with reading() as session:
        details = queries.tool_details(session, tool_id)
    return _page(ToolForm(obj=details), url_for("tools.show", tool_id=tool_id))


@pages.post("/tools/<int:tool_id>/edit")
@allow("owner")
def save(tool_id: int) -> Response:
    """Save what was changed in a tool."""
    form, back = _typed(), url_for("tools.show", tool_id=tool_id)
    return keep(
        form,
        lambda session: service.save_tool(session, form.tool(), tool_id),
        lambda _id: back,
        lambda status: _page(form, back, status),
        now=lambda session: queries.tool_details(session, tool_id),
    )
