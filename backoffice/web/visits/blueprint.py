"""The blueprint of this folder."""

from flask import Blueprint

pages = Blueprint("visits", __name__)
