"""Horses: how to handle each, what it wears, when it is due, who pays, and where it went."""

from backoffice.web.horses import editing, looking, losing, telling
from backoffice.web.horses.blueprint import pages

__all__ = ["editing", "looking", "losing", "pages", "telling"]
