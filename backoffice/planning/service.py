"""Putting a horse that lost a shoe on today's round; the next date of a yard."""

from collections.abc import Collection
from datetime import date

from sqlalchemy.orm import Session

from backoffice.clients import queries as clients
from backoffice.errors import Refused
from backoffice.planning import queries, rules
from backoffice.pricing import queries as pricing
from backoffice.visits import queries as visits
from backoffice.visits import service as visiting


def put_lost_shoe(session: Session, horse_id: int, farrier_id: int, *, today: date) -> int:
    """Put a horse that lost a shoe on a farrier's day at its yard; give the stop.

    Raises: Refused without a service for it, if nobody knows where the horse stands, or if the
    horse is on that day already.
    """
    yard_id = clients.horse_card(session, horse_id, today).details.yard_id
    service_id = rules.lost_shoe_service(pricing.services(session))
    if service_id is None:
        raise Refused("planning.no_lost_shoe_service")
    if yard_id is None:
        raise Refused("planning.where_does_it_stand")
    if any(work.day == today for work in visits.open_works(session, horse_id)):
        raise Refused("planning.on_the_day_already")
    stop = visiting.NewStop(
        farrier_id=farrier_id,
        yard_id=yard_id,
        day=today,
        horses=(horse_id,),
        services={horse_id: service_id},
    )
    return visiting.plan_stop(session, stop, today=today)


def set_next_date(session: Session, visit_id: int, horses: Collection[int], day: date) -> None:
    """Set the next day of horses of a stop.

    Raises: Refused without a horse, for one that was not booked there, or unless the day is later.
    """
    stop = queries.leaving(session, visit_id)
    if not horses:
        raise Refused("planning.nobody_ticked")
    if set(horses) - {horse.horse_id for horse in stop.horses}:
        raise Refused("record.missing")
    if day <= stop.day:
        raise Refused("planning.not_after", field="day")
    visiting.set_next_times(session, horses, day)
