"""How is what a page says about a horse saved? As facts, before and after the day is done."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.billing import queries as bills
from backoffice.billing import service as billing
from backoffice.clients.rules import client_label, horse_label
from backoffice.db import OtherBody, Session
from backoffice.errors import Refused
from backoffice.visits import queries, service
from backoffice.visits.queries import WorkCard
from backoffice.visits.rules import FactSort, Said
from backoffice.web import said
from backoffice.web.caller import caller
from backoffice.web.forms import CreatesForm, VersionField, new_key, refuse, sent_key
from backoffice.web.generic import Link
from backoffice.web.said import SaidLine
from backoffice.web.writing import reading, see_other, writing

Pair = tuple[FactSort, Mapping[str, Any]]
Says = Callable[[Session, WorkCard], Sequence[Pair]]


class SaysForm(CreatesForm):
    """A form that says something about a horse; ``seen`` is the last fact it was shown with.

    ``first`` leads to what must be done before it can be saved.
    """

    seen = VersionField("seen")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.meanwhile: tuple[SaidLine, ...] = ()
        self.late = ""
        self.first: Link | None = None

    def look_again(self, session: Session, card: WorkCard) -> None:
        """Show what was said since the form was shown, and what came late; take note of it."""
        visit_id, subject = card.work.visit_id, card.work.subject
        if self.seen.data is not None:
            since = queries.said_since(session, visit_id, subject, self.seen.data)
            self.meanwhile = said.lines(since, queries.names_said(session, since))
        late = queries.late_said(session, card.work.id)
        self.late = said.told(late, queries.names_said(session, late)) if late else ""
        self.seen.data = queries.last_said(session, visit_id, subject)
        self.seen.raw_data = None


def card_of(session: Session, work_id: int) -> WorkCard:
    """Give one horse at a visit; what is none is not found."""
    card = queries.work_card(session, work_id)
    if card is None:
        abort(404)
    return card


def name_of(card: WorkCard) -> str:
    """Name a horse on a page about it."""
    return horse_label(caller().speech, card.work.name, card.work.words)


def facts_of(card: WorkCard, pairs: Sequence[Pair]) -> list[Said]:
    """Make facts of what a form says, each with an id made of the form's key."""
    first = f"table-{card.work.id}-{sent_key()}"
    return [
        Said(
            id=f"{first}-{turn}" if turn else first,
            subject=card.work.subject,
            sort=sort,
            data=data,
        )
        for turn, (sort, data) in enumerate(pairs)
    ]


def record(session: Session, card: WorkCard, facts: Sequence[Said]) -> None:
    """Say facts about a horse; of one that is written up, only the owner, and it is put right.

    Raises: Refused; if a bill that stands is in the way, it is named.
    """
    if not card.work.closed:
        service.say(session, card.work.visit_id, facts)
    elif caller().role == "owner":
        with naming_bills(session):
            billing.put_right(session, card.work.visit_id, facts, today=caller().today)
    else:
        abort(403)


@contextmanager
def naming_bills(session: Session) -> Iterator[None]:
    """Name the bill that is in the way of what is saved in a block."""
    try:
        yield
    except Refused as refused:
        if refused.code != "visits.on_a_bill" or "client" not in refused.facts:
            raise
        work_id, client_id = int(str(refused.facts["work"])), int(str(refused.facts["client"]))
        bill = bills.last_bill(session, work_id, client_id)
        raise Refused(
            "billing.given_up_already" if bill.credited else "billing.on_a_bill",
            number=bill.number,
            client=client_label(caller().speech, bill.client),
            bill=bill.id,
        ) from None


def tell(
    form: SaysForm, work_id: int, says: Says, again: Callable[[int], Response], leads: str
) -> Response:
    """Save what a form says about a horse and go on, or show it again with what stands against it.

    What somebody else said while it was being typed is shown first, and gone over only when the
    form is sent again. A form saved before and then changed is told apart from a new one.
    """
    try:
        with writing(*form.key()) as unit:
            card = card_of(unit.session, work_id)
            own = facts_of(card, says(unit.session, card))
            if own:
                record(unit.session, card, own)
            if form.seen.data is not None:
                ids = [fact.id for fact in own]
                visit_id, subject = card.work.visit_id, card.work.subject
                if queries.said_since(unit.session, visit_id, subject, form.seen.data, ids):
                    raise Refused("said.meanwhile")
            unit.see_other(leads)
    except OtherBody:
        form.form_key.data = new_key()
        form.seen.data = None
        return _again(form, work_id, Refused("said.saved_already"), again)
    except Refused as refused:
        return _again(form, work_id, refused, again)
    return see_other(unit)


def _again(
    form: SaysForm, work_id: int, refused: Refused, again: Callable[[int], Response]
) -> Response:
    if refused.code == "record.missing":
        raise refused
    refuse(form, refused)
    if "bill" in refused.facts:
        form.first = Link(
            url=url_for("bills.show", document_id=refused.facts["bill"], _anchor="fix"),
            text=caller().speech.say("bills.open", number=refused.facts["number"]),
        )
    with reading() as session:
        form.look_again(session, card_of(session, work_id))
    return again(409)
