"""Bringing a practice in, and taking everything out again."""

from backoffice.interchange.rules.report import Report
from backoffice.interchange.service.bringing_in import bring_in
from backoffice.interchange.service.taking_out import take_out

__all__ = ["Report", "bring_in", "take_out"]
