"""The blueprint of this folder."""

from flask import Blueprint

pages = Blueprint("evening", __name__)
