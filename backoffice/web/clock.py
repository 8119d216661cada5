"""What time is it? The one place of the web that looks."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from backoffice.practice.rules import PracticeDetails, today_of


def now() -> datetime:
    """Give the moment, for sign-ins, keys and what is written down."""
    return datetime.now(UTC)


def today(practice: PracticeDetails) -> date:
    """Give the day the practice lives in: where it is, or the day its demo stands still."""
    return today_of(practice, now().astimezone(ZoneInfo(practice.zone)).date())
