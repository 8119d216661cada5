"""One horse at a visit as it is looked at: its feet, who pays, its price, and what came of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import url_for
from werkzeug.wrappers import Response

from backoffice.billing import queries as bills
from backoffice.clients.queries import PayerLine
from backoffice.clients.rules import client_label
from backoffice.units import Foot, FootWork
from backoffice.visits import queries
from backoffice.visits.queries import OtherWork, WorkCard, WorkFootLine, WorkMore
from backoffice.web import said
from backoffice.web.caller import caller
from backoffice.web.feet import FootDrawn, drawn
from backoffice.web.forms import ChoiceField, CountField, CreatesForm, LinesField, new_key
from backoffice.web.free import frees
from backoffice.web.generic import Link
from backoffice.web.roles import allow
from backoffice.web.shell import render
from backoffice.web.visits.blueprint import pages
from backoffice.web.visits.telling import SaysForm, card_of, name_of
from backoffice.web.writing import reading


class TapForm(CreatesForm):
    """Something said of a horse with one tap."""

    what = ChoiceField(
        "What",
        [
            ("as_planned", "{visits.tap.as_planned}"),
            ("absent", "{visits.tap.absent}"),
            ("fronts", "{visits.tap.fronts}"),
            ("hinds", "{visits.tap.hinds}"),
            ("owner_pays", "{visits.tap.owner_pays}"),
            ("as_always", "{visits.tap.as_always}"),
        ],
        needed=True,
    )


class LostForm(SaysForm):
    """A shoe that had come off."""

    foot = ChoiceField("On which foot", needed=True)
    lost = ChoiceField(
        "Was it found",
        [
            ("found", "{visits.lost.found}"),
            ("gone", "{visits.lost.gone}"),
            ("not", "{visits.lost.not}"),
        ],
        needed=True,
    )

    def offer(self) -> None:
        """Offer the four feet by name."""
        self.foot.offer([(foot.value, f"{{foot.long.{foot}}}") for foot in Foot])


class MoreForm(SaysForm):
    """A note for the record, and how long it took."""

    note = LinesField("Note for the record")
    minutes = CountField("Minutes it took", least=1, most=999)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A line of a price as it is read."""

    text: str
    why: str
    amount: int
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPage:
    """One horse at a visit. ``taps`` are what may be said with one press, the likeliest first."""

    card: WorkCard
    more: WorkMore
    name: str
    feet: tuple[FootDrawn, ...]
    lost: tuple[str, ...]
    payers: str
    known: bool
    owner: str
    belongs: tuple[Link, ...]
    reasons: tuple[Reason, ...]
    free: str
    bills: tuple[bills.BillLine, ...]
    late: str
    taps: tuple[str, ...]
    tap: TapForm
    lost_form: LostForm
    more_form: MoreForm
    opened: str
    fact_key: str


@pages.get("/horse-record/<int:work_id>")
@allow("owner", "field", "books")
def work(work_id: int) -> Response:
    """Show one horse at a visit."""
    return show(work_id)


def show(
    work_id: int,
    lost_form: LostForm | None = None,
    more_form: MoreForm | None = None,
    status: int = 200,
) -> Response:
    """Draw one horse at a visit; a form that was refused, or is asked for, stands open in it."""
    speech = caller().speech
    with reading() as session:
        card = card_of(session, work_id)
        more = queries.work_more(session, work_id)
        on = bills.bills_of_work(session, work_id)
        late = queries.late_said(session, work_id)
        names = queries.names_said(session, late)
        lost = card.work.lost_shoe and not card.work.closed and not card.work.told
        free = frees(session, card.day, [work_id] if lost else [])
        newest = queries.last_said(session, card.work.visit_id, card.work.subject)
    asks = card.work.lost_shoe and card.work.outcome == "planned"
    opened = "more" if more_form else "lost" if lost_form or asks else ""
    told = card.minutes if card.minutes_told else None
    lost_form = lost_form or LostForm(data={"seen": newest})
    lost_form.offer()
    more_form = more_form or MoreForm(
        data={"seen": newest, "note": card.work.note, "minutes": told}
    )
    return render(
        "visits/work.html",
        WorkPage(
            card=card,
            more=more,
            name=name_of(card),
            feet=drawn(card.work.feet, speech),
            lost=tuple(
                speech.say(f"visits.was_lost.{one.lost}", foot=one.foot) for one in more.lost
            ),
            payers=_payers(more.payers, once=more.once),
            known=any(payer.client_id for payer in more.payers),
            owner=client_label(speech, more.owner_name),
            belongs=_belongs(more),
            reasons=reasons_of(card),
            free=free.get(work_id, ""),
            bills=on,
            late=said.told(late, names) if late else "",
            taps=_taps(card),
            tap=TapForm(),
            lost_form=lost_form,
            more_form=more_form,
            opened=opened,
            fact_key=new_key(),
        ),
        status=status,
    )


def _taps(card: WorkCard) -> tuple[str, ...]:
    work = card.work
    taps = []
    if work.outcome != "done" and not work.lost_shoe:
        taps.append("as_planned")
    if ends(work.feet) == {"F", "H"}:
        taps += ["fronts", "hinds"]
    if work.outcome != "absent":
        taps.append("absent")
    return tuple(taps)


def ends(feet: Sequence[WorkFootLine]) -> set[str]:
    """Say at which ends of a horse something was planned, F in front and H behind."""
    return {line.foot[1] for line in feet if FootWork(line.planned).worked}


def _payers(payers: Sequence[PayerLine], *, once: bool) -> str:
    speech = caller().speech
    names = [
        client_label(speech, payer.name) if payer.client_id else speech.say("unknown")
        for payer in payers
    ]
    whose = {"names": ", ".join(names), "count": len(names)}
    if once:
        return speech.say("visits.pays_once", **whose)
    known = any(payer.client_id for payer in payers)
    return speech.say("visits.pays", **whose) if known else speech.say("visits.pays_unknown")


def _belongs(more: WorkMore) -> tuple[Link, ...]:
    before = [_link("visits.finishes", more.finishes)] if more.finishes else []
    after = [_link(f"visits.finish.{other.outcome}", other) for other in more.finished_by]
    return (*before, *after)


def _link(code: str, other: OtherWork) -> Link:
    text = caller().speech.say(code, on_day=other.day)
    return Link(url=url_for("visits.work", work_id=other.work_id), text=text)


def reasons_of(card: WorkCard) -> tuple[Reason, ...]:
    """Word the lines of a price and what they come to."""
    speech = caller().speech
    lines = [
        Reason(
            text=line.service_name or speech.say(f"line.{line.sort}").capitalize(),
            why=speech.say(line.reason, **line.facts)
            + (speech.say("price.waived_part", waived_cents=line.waived) if line.waived else ""),
            amount=line.quoted,
            kind="line",
        )
        for line in card.lines
    ]
    total = sum(line.quoted for line in card.lines)
    end = Reason(text=speech.say("price.total"), why="", amount=total, kind="end")
    return (*lines, end) if lines else ()
