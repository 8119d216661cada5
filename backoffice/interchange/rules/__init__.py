"""What does an old workbook say? Pure: from sheets of plain values to what can be brought in."""

from backoffice.interchange.rules.brought import Brought, Grid, Options
from backoffice.interchange.rules.reading import understand

__all__ = ["Brought", "Grid", "Options", "understand"]
