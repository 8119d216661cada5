"""What is ready to be billed to whom, and how long does it still collect?"""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from backoffice.billing import rules
from backoffice.billing.rules import Totals
from backoffice.clients.models import Client, Horse
from backoffice.pricing.models import Service
from backoffice.visits.models import PriceLine, PriceShare, Unbilled, Visit, Work
from backoffice.words import Speech

_SAID_BESIDE = {
    "price.guarantee": "billing.under_guarantee",
    "price.part": "billing.only_done",
    "price.part_of": "billing.only_done",
    "price.finish": "billing.the_rest",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """A line that is on no bill yet."""

    share_id: int
    work_id: int
    day: date
    horse: str | None
    sort: str
    service_id: int | None
    service: str | None
    qty: int
    whole: int
    quoted: int
    net: int
    category: str
    rate_ppm: int
    reason: str

    def text(self, speech: Speech) -> str:
        """Say what the line is for, and of which whole it is a part."""
        text = speech.say(f"line.{self.sort}").capitalize()
        if self.service and self.sort in ("service", "told"):
            text = self.service
        if self.reason in _SAID_BESIDE:
            text = speech.say(_SAID_BESIDE[self.reason], text=text)
        if self.quoted == self.whole:
            return text
        return speech.say("line.part_of", text=text, whole_cents=self.whole)

    def as_document_line(self) -> rules.DocumentLine:
        """Give the line as a document adds it up."""
        return rules.DocumentLine(
            kind=self.sort,
            code=str(self.service_id or ""),
            qty=self.qty,
            net=self.net,
            quoted=self.quoted,
            category=self.category,
            rate_ppm=self.rate_ppm,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyBill:
    """What would be billed to a client now."""

    client_id: int
    client: str | None
    bill_when: str
    lines: tuple[ReadyLine, ...]
    totals: Totals

    @property
    def until(self) -> date | None:
        """Until which day it goes on collecting; None, it does not."""
        first = min(line.day for line in self.lines if line.quoted)
        return rules.collecting_until(self.bill_when, first)

    def collecting(self, today: date) -> bool:
        """Whether it is not ready yet, because more is to come onto it."""
        return self.until is not None and today < self.until


def ready_bills(
    session: Session, *, includes_tax: bool, client_id: int | None = None
) -> tuple[ReadyBill, ...]:
    """Give each client's ready bill, worked out from what is not billed yet; never stored.

    A line of nothing is on it with its words, but makes no bill alone; the part of a trip that was
    not charged is never on it.
    """
    rows = session.execute(
        select(
            Unbilled.client_id,
            Client.name.label("client"),
            Client.bill_when,
            Unbilled.share_id,
            Unbilled.work_id,
            Visit.day,
            func.coalesce(Horse.name, Work.words).label("horse"),
            PriceLine.sort,
            PriceLine.service_id,
            Service.name.label("service"),
            PriceLine.qty,
            PriceLine.quoted.label("whole"),
            PriceShare.quoted,
            PriceShare.net,
            PriceLine.category,
            PriceLine.rate_ppm,
            PriceLine.reason,
        )
        .join(PriceShare, PriceShare.id == Unbilled.share_id)
        .join(PriceLine, PriceLine.id == PriceShare.line_id)
        .join(Work, Work.id == Unbilled.work_id)
        .join(Visit, Visit.id == Work.visit_id)
        .join(Client, Client.id == Unbilled.client_id)
        .outerjoin(Horse, Horse.id == Work.horse_id)
        .outerjoin(Service, Service.id == PriceLine.service_id)
        .where(
            Unbilled.client_id == client_id if client_id else Unbilled.client_id.is_not(None),
            (PriceShare.quoted != 0) | (PriceLine.sort != "travel"),
        )
        .order_by(Unbilled.client_id, Visit.day, Work.id, Unbilled.share_id)
    )
    lines: dict[int, list[ReadyLine]] = {}
    heads: dict[int, tuple[str | None, str]] = {}
    for row in rows:
        values = dict(row._mapping)  # noqa: SLF001 (a row's own mapping)
        payer = values.pop("client_id")
        heads[payer] = (values.pop("client"), values.pop("bill_when"))
        lines.setdefault(payer, []).append(ReadyLine(**values))
    return tuple(
        ReadyBill(
            client_id=payer,
            client=heads[payer][0],
            bill_when=heads[payer][1],
            lines=tuple(own),
            totals=rules.totals(
                [line.as_document_line() for line in own], includes_tax=includes_tax
            ),
        )
        for payer, own in lines.items()
        if any(line.quoted for line in own)
    )
