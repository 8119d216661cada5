"""The evening: the paper day sheet typed in by line number, and the day closed."""

from backoffice.web.evening import closing, entering
from backoffice.web.evening.blueprint import pages

__all__ = ["closing", "entering", "pages"]
