"""Days in addresses: ``/day/2026-03-17``."""

from datetime import date

from werkzeug.routing import BaseConverter, ValidationError

from backoffice.days import parse_day
from backoffice.errors import Refused


class DayConverter(BaseConverter):
    """A calendar day in an address; what is none is not found."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        """Read a day."""
        try:
            return parse_day(value)
        except Refused:
            raise ValidationError from None

    def to_url(self, value: date) -> str:
        """Write a day."""
        return value.isoformat()
