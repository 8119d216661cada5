"""The books proved."""

from dataclasses import dataclass

from werkzeug.wrappers import Response

from backoffice import schema
from backoffice.web.caller import caller, house
from backoffice.web.office.blueprint import pages
from backoffice.web.roles import allow
from backoffice.web.shell import render

MOST_BROKEN = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofPage:
    """What was found when the books were proved."""

    broken: tuple[str, ...]
    more: int


@pages.get("/office/proof")
@allow("owner", "books")
def proof() -> Response:
    """Prove the books, and say what does not hold."""
    say = caller().speech.say
    found = schema.check(house().database)
    broken = tuple(say(one.code, **one.facts) for one in found[:MOST_BROKEN])
    more = max(len(found) - MOST_BROKEN, 0)
    return render("office/proof.html", ProofPage(broken=broken, more=more))
