"""Closing works: prices, stock, wear and results, in a fixed number of statements a day."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import update
from sqlalchemy.orm import Session

from backoffice.visits import queries
from backoffice.visits.models import (
    Work,
)
from backoffice.visits.service import whole_day
from backoffice.visits.service.charging import write_prices
from backoffice.visits.service.gathering import gather, minutes_of
from backoffice.visits.service.horses import forget_next_time, refresh_horses
from backoffice.visits.service.results import write_results, write_results_again
from backoffice.visits.service.using import draw_and_wear


def close_works(
    session: Session,
    work_ids: Sequence[int],
    *,
    entry_id: int,
    day: date,
    owing: frozenset[int] = frozenset(),
) -> None:
    """Close works of one day: price, stock, wear, and the result frozen."""
    if not work_ids:
        return
    driven = whole_day.take_in(session, queries.visits_with(session, work_ids), entry_id=entry_id)
    known = gather(session, work_ids, day, owing)
    seen = queries.last_seqs(session, known.visits)
    session.execute(
        update(Work),
        [
            {
                "id": work.id,
                "closing_entry_id": entry_id,
                "closed_seq": seen.get((work.visit_id, work.subject), 0),
                "minutes": minutes_of(known, work),
                "pricing_no": 1,
            }
            for work in known.works
        ],
    )
    costs = draw_and_wear(session, known, entry_id)
    write_prices(session, known, entry_id, dict.fromkeys(work_ids, 1))
    write_results(session, known, costs)
    forget_next_time(session, [w.horse_id for w in known.works if w.outcome == "done"], day)
    refresh_horses(session, list(known.horses))
    if driven:
        before = set(queries.closed_works(session, driven)) - set(work_ids)
        write_results_again(session, sorted(before), day)
