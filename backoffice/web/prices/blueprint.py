"""The blueprint of this folder."""

from flask import Blueprint

pages = Blueprint("prices", __name__)
