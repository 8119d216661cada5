"""What may be done with visits: plan, record, close, put right."""

from backoffice.visits.service.closing import close_works, refresh_horses, set_next_time
from backoffice.visits.service.mending import correct_work, reprice_work, take
from backoffice.visits.service.recording import (
    NewStop,
    plan_stop,
    plans_for,
    refold,
    say,
    take_off,
    take_off_visit,
    unsay,
)

__all__ = [
    "NewStop",
    "close_works",
    "correct_work",
    "plan_stop",
    "plans_for",
    "refold",
    "refresh_horses",
    "reprice_work",
    "say",
    "set_next_time",
    "take",
    "take_off",
    "take_off_visit",
    "unsay",
]
