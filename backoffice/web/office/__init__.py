"""The office: the business itself, its people and trucks, its settings, and the books proved."""

from backoffice.web.office import business, people, proof, settings
from backoffice.web.office.blueprint import pages

__all__ = ["business", "pages", "people", "proof", "settings"]
