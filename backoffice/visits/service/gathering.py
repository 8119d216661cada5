"""What closing, correcting and pricing anew decide on, read in a fixed number of statements."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.practice import queries as practice
from backoffice.practice.rules import Settings
from backoffice.pricing import queries as pricing
from backoffice.pricing import rules as prices
from backoffice.units import Foot
from backoffice.visits import queries, rules
from backoffice.visits.rules import FootState

Payers = tuple[tuple[int | None, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """Everything closing decides on, read in a fixed number of statements."""

    works: tuple[queries.WorkRow, ...]
    visits: Mapping[int, queries.VisitRow]
    feet: Mapping[int, Mapping[Foot, FootState]]
    horses: Mapping[int, queries.HorseFacts]
    payers: Mapping[int, Payers]
    once: Mapping[int, Payers]
    before: Mapping[int, Sequence[rules.PastFoot]]
    owing: frozenset[int]
    book: prices.PriceBook
    settings: Settings
    includes_tax: bool

    def horse_of(self, work: queries.WorkRow) -> queries.HorseFacts:
        """Give what is known of the horse of a work."""
        return self.horses.get(work.horse_id or 0, queries.UNKNOWN_HORSE)

    def payers_of(self, work: queries.WorkRow) -> Payers:
        """Give who pays for a work, in named order; nobody known is one unknown payer."""
        always = self.payers.get(work.horse_id or 0, ((None, 1),))
        return self.once.get(work.id, always)

    def paying(self, work: queries.WorkRow) -> tuple[int, ...]:
        """Give the clients who pay for a work, as far as they are known."""
        return tuple(client for client, _ in self.payers_of(work) if client is not None)

    def guarantee_of(self, work: queries.WorkRow) -> prices.Guarantee | None:
        """Say how the guarantee stands; None unless the work is putting back what was lost."""
        service = self.book.services.get(work.service_id or 0)
        lost = [foot for foot, state in self.feet[work.id].items() if state.lost]
        if not lost or service is None or prices.feet_worked(service):
            return None
        day, past = self.visits[work.visit_id].day, self.before.get(work.horse_id or 0, ())
        nailed = rules.nailed_on(past, lost)
        due = due_of(self.horse_of(work), rules.horse_now(past))
        return prices.Guarantee(
            day=(day - nailed).days if nailed else None,
            of=self.settings["guarantee_days"],
            on_schedule=due is None or day <= due,
            owing=any(client in self.owing for client in self.paying(work)),
        )


def gather(
    session: Session, work_ids: Sequence[int], day: date, owing: frozenset[int] = frozenset()
) -> Gathered:
    """Read what closing, correcting and pricing anew decide on, for works of one day.

    ``owing`` are the clients with a bill so old that nothing is done free for them.
    """
    works = queries.works_by_id(session, work_ids)
    horses = [work.horse_id for work in works if work.horse_id is not None]
    feet = queries.feet_of(session, work_ids)
    lost = [w.horse_id for w in works if w.horse_id and any(f.lost for f in feet[w.id].values())]
    past = queries.past_of(session, lost) if lost else {}
    return Gathered(
        works=works,
        visits=queries.visits_of(session, {work.visit_id for work in works}),
        feet=feet,
        horses=queries.horse_facts(session, horses),
        payers=clients.payers_on(session, horses, day),
        once=queries.payers_once(session, work_ids),
        before={horse: [foot for foot in past[horse] if foot.day < day] for horse in past},
        owing=owing,
        book=pricing.price_book(session, day),
        settings=practice.settings(session),
        includes_tax=practice.practice(session).prices_include_tax,
    )


def minutes_of(known: Gathered, work: queries.WorkRow) -> int:
    """Give the minutes a work took: as told, else the standard of its service and kind."""
    if work.minutes_told:
        return work.minutes
    service = known.book.services.get(work.service_id or 0)
    if service is None or work.outcome == "absent":
        return 0
    whole = prices.feet_worked(service)
    done = sum(state.done.worked for state in known.feet[work.id].values())
    part = 0 < done < whole
    along = known.visits[work.visit_id].helper_id is not None
    return rules.minutes_of(
        service.minutes,
        known.horse_of(work).time_factor,
        done=done if part else 1,
        of=whole if part else 1,
        saved_ppm=known.settings["apprentice_ppm"] if along else 0,
    )


def due_of(horse: queries.HorseFacts, now: rules.HorseNow) -> date | None:
    """Give when a horse is due: its own cycle, else that of its kind, shod or trimmed.

    A horse with feet that were left is due at once.
    """
    if now.unfinished:
        return now.last_day
    usual = horse.shod_days if now.shod else horse.trim_days
    return rules.due_after(now.last_day, horse.own_cycle or usual) if now.last_day else None
