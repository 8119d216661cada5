"""The addresses of money out."""

from flask import Blueprint

pages = Blueprint("spending", __name__)
