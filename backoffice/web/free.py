"""Which lost shoes of a day go back on free, in words."""

from collections.abc import Iterable, Mapping
from datetime import date

from backoffice.billing import queries as billing
from backoffice.db import Session
from backoffice.web.caller import caller


def frees(session: Session, day: date, lost: Iterable[int]) -> Mapping[int, str]:
    """Say under which guarantee works with a lost shoe cost nothing; the others are left out."""
    say = caller().speech.say
    stands = billing.guarantees(session, tuple(lost), day)
    return {
        work_id: say("price.free_now", day=guarantee.day, of=guarantee.of)
        for work_id, guarantee in stands.items()
        if guarantee.holds
    }
