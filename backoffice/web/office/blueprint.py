"""The blueprint of this folder."""

from flask import Blueprint

pages = Blueprint("office", __name__)
