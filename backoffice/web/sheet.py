"""The paper day sheet, to be printed and written on in the yard."""

from datetime import date

from flask import Blueprint, request
from werkzeug.wrappers import Response

from backoffice.billing import queries as billing
from backoffice.errors import Refused
from backoffice.planning import document
from backoffice.typeset import Paper
from backoffice.visits import queries
from backoffice.web.caller import caller
from backoffice.web.roles import allow
from backoffice.web.writing import reading

pages = Blueprint("sheet", __name__)


@pages.get("/day/<day:day>/sheet.pdf")
@allow("owner", "field")
def pdf(day: date) -> Response:
    """Print the sheet of each farrier on a day, or of one."""
    with reading() as session:
        sheets = queries.sheets(session, day)
        guarantees = billing.guarantees(session, queries.open_lost_shoes(sheets), day)
    chosen = request.args.get("farrier", "")
    found = [sheet for sheet in sheets if chosen in ("", str(sheet.farrier_id))]
    if not found:
        raise Refused("sheet.nothing", on_day=day)
    paper: Paper = "a4" if caller().practice.paper == "a4" else "us-letter"
    made = document.pdf(day, found, caller().speech, paper, guarantees)
    response = Response(made, mimetype="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="day-sheet-{day}.pdf"'
    return response
