"""What may be done with visits: plan, record, close, put right."""

from backoffice.visits.service.adding import extra_horse, plan_finish
from backoffice.visits.service.closing import close_works
from backoffice.visits.service.history import PastJob, record_history
from backoffice.visits.service.horses import refresh_horses, set_next_time
from backoffice.visits.service.late import (
    apply_late,
    drop_late,
    leave_unfinished,
    put_right,
    which_horse,
)
from backoffice.visits.service.mending import changed_bills, reprice_work, take
from backoffice.visits.service.next_dates import set_next_times
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
    "PastJob",
    "apply_late",
    "changed_bills",
    "close_works",
    "drop_late",
    "extra_horse",
    "leave_unfinished",
    "plan_finish",
    "plan_stop",
    "plans_for",
    "put_right",
    "record_history",
    "refold",
    "refresh_horses",
    "reprice_work",
    "say",
    "set_next_time",
    "set_next_times",
    "take",
    "take_off",
    "take_off_visit",
    "unsay",
    "which_horse",
]
