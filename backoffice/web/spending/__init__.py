"""Money out: a supplier's bill or delivery, entered once; part of it stock, the rest expense."""

from backoffice.web.spending import entering, listing, showing
from backoffice.web.spending.blueprint import pages

__all__ = ["entering", "listing", "pages", "showing"]
