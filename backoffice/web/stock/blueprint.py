"""Where the pages of stock hang."""

from flask import Blueprint

pages = Blueprint("stock", __name__)
