"""Days and numbers in addresses: ``/day/2026-03-17``, ``/bills/7``."""

from datetime import date

from werkzeug.routing import BaseConverter, IntegerConverter, ValidationError

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


class NumberConverter(IntegerConverter):
    """The number of a record; what no database can count to is not found."""

    regex = r"\d{1,15}"
