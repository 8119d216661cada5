"""One horse at a visit: what was done, who pays, what it cost and left, and putting it right."""

from backoffice.web.visits import answering, feet, looking, paying, price, tapping
from backoffice.web.visits.blueprint import pages

__all__ = ["answering", "feet", "looking", "pages", "paying", "price", "tapping"]
