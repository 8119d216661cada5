"""What the page of one horse at a visit says beyond its card: payers, owner, what it finishes."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.clients.models import Client, Horse
from backoffice.clients.queries import PayerLine
from backoffice.visits.models import Visit, Work, WorkFoot, WorkPayer


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWork:
    """The work this one finishes, or one that is to finish it."""

    work_id: int
    day: date
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LostShoe:
    """A shoe that had come off before, found or gone."""

    foot: str
    lost: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkMore:
    """Who pays for a work, whose horse it is, which shoes were lost, and what it belongs to.

    ``once`` says that somebody else than always pays.
    """

    payers: tuple[PayerLine, ...]
    once: bool
    owner_id: int | None
    owner_name: str | None
    lost: tuple[LostShoe, ...]
    finishes: OtherWork | None
    finished_by: tuple[OtherWork, ...]

    @property
    def owner_may_pay(self) -> bool:
        """Whether the horse has an owner who is not among those who pay."""
        return self.owner_id is not None and all(
            payer.client_id != self.owner_id for payer in self.payers
        )


def work_more(session: Session, work_id: int) -> WorkMore:
    """Give what is known around one work."""
    head = session.execute(
        select(
            Work.horse_id, Work.finishes_id, Visit.day, Horse.owner_id, Client.name.label("owner")
        )
        .join(Visit, Visit.id == Work.visit_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Client, Client.id == Horse.owner_id)
        .where(Work.id == work_id)
    ).one()
    this_once = session.execute(
        select(WorkPayer.client_id, WorkPayer.parts)
        .where(WorkPayer.work_id == work_id)
        .order_by(WorkPayer.place_no)
    )
    once = tuple(this_once.all())
    horses = [head.horse_id] if head.horse_id is not None else []
    always = clients.payers_on(session, horses, head.day).get(head.horse_id or 0, ((None, 1),))
    paying = once or always
    ids = [client for client, _ in paying if client is not None]
    names = dict(session.execute(select(Client.id, Client.name).where(Client.id.in_(ids))).all())
    lost = session.execute(
        select(WorkFoot.foot, WorkFoot.lost)
        .where(WorkFoot.work_id == work_id, WorkFoot.lost.is_not(None))
        .order_by(WorkFoot.id)
    )
    others = _works(session, (Work.finishes_id == work_id) | (Work.id == (head.finishes_id or 0)))
    return WorkMore(
        payers=tuple(
            PayerLine(client_id=client, name=names.get(client or 0), parts=parts)
            for client, parts in paying
        ),
        once=bool(once) and once != always,
        owner_id=head.owner_id,
        owner_name=head.owner,
        lost=tuple(LostShoe(foot=foot, lost=word) for foot, word in lost if word is not None),
        finishes=next((work for work in others if work.work_id == head.finishes_id), None),
        finished_by=tuple(work for work in others if work.work_id != head.finishes_id),
    )


def _works(session: Session, where: ColumnElement[bool]) -> tuple[OtherWork, ...]:
    rows = session.execute(
        select(Work.id.label("work_id"), Visit.day, Work.outcome)
        .join(Visit, Visit.id == Work.visit_id)
        .where(where)
        .order_by(Visit.day, Work.id)
    ).mappings()
    return tuple(OtherWork(**row) for row in rows)
