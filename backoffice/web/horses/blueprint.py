"""The blueprint of this folder."""

from flask import Blueprint

pages = Blueprint("horses", __name__)
