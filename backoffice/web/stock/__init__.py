"""One thing kept in stock: what is where, what it cost, counting it and carrying it over."""

from backoffice.web.stock import counting, items
from backoffice.web.stock.blueprint import pages
from backoffice.web.stock.words import in_words

__all__ = ["counting", "in_words", "items", "pages"]
