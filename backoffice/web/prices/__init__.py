"""Prices: the list, what was agreed with clients, kinds of horse, and sales tax."""

from backoffice.web.prices import agreeing, kinds, listing, taking, tax
from backoffice.web.prices.blueprint import pages

__all__ = ["agreeing", "kinds", "listing", "pages", "taking", "tax"]
