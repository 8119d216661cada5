"""What a request passes before its view, in this order, each layer shut unless it opens.

Size, Host and verb come first, in guard.py; then size again by view, session, role, origin,
token, and the key of forms that make money, stock or documents.
"""

import hmac
import logging

from flask import Response, abort, current_app, g, redirect, request, url_for
from sqlalchemy.exc import DBAPIError
from werkzeug.wrappers import Response as AnyResponse

from backoffice.access import rules as access_rules
from backoffice.access import service as access
from backoffice.db import OutcomeUnknown
from backoffice.web import caller, clock, forms, roles
from backoffice.web.guard import LARGEST_UPLOAD

SIGNED_OUT = "web.signed_out"
STALE_TOKEN = "web.stale_token"  # noqa: S105 - the name of a sentence
log = logging.getLogger(__name__)


def size() -> None:
    """Stop a form larger than its view takes."""
    if request.endpoint is None:
        return
    limits = current_app.config
    most = limits["MAX_CONTENT_LENGTH"]
    if roles.takes_large(request.endpoint):
        most = LARGEST_UPLOAD
    if request.mimetype == "application/x-www-form-urlencoded":
        most = limits["MAX_FORM_MEMORY_SIZE"]
    request.max_content_length = most
    if (request.content_length or 0) > most:
        abort(413)
    # Reading the fields here stops those that are too many or too long before anything else.
    fields = request.form if request.method == "POST" else {}
    if len(fields) > limits["MAX_FORM_PARTS"]:
        abort(413)


def session() -> None:
    """Find out who is asking."""
    if request.endpoint == "static":
        return
    found = caller.find_caller(request.cookies.get(caller.house().cookie))
    g.caller = found
    if found.signed_in and caller.long_unseen(found.signed_in, access_rules.SEEN_EVERY):
        _note_seen(found.signed_in)


def _note_seen(signed_in: access_rules.SignedIn) -> None:
    try:
        with caller.house().database.writing(by=signed_in.user_id, at=clock.now()) as unit:
            access.seen(unit.session, signed_in.sign_in_id, clock.now())
    except (DBAPIError, OutcomeUnknown):
        log.warning("when somebody was last seen could not be written down")


def role() -> AnyResponse | None:
    """Send people who are not signed in to the sign-in page, and stop those without the role."""
    if request.endpoint is None:
        return None
    allowed = roles.allowed(request.endpoint)
    if roles.ANYONE in allowed:
        return None
    if caller.caller().signed_in is None:
        if request.method == "POST":
            abort(403, SIGNED_OUT)
        return redirect(url_for("access.sign_in"), 303)
    if caller.caller().role not in allowed:
        abort(403)
    return None


def from_our_own_page() -> bool:
    """Whether the browser says that this was sent from one of our pages.

    A browser always says one of the two; a request that says neither is not let through.
    """
    origin = request.headers.get("Origin")
    fetched = request.headers.get("Sec-Fetch-Site")
    if origin is None:
        return fetched == "same-origin"
    return origin == f"{request.scheme}://{request.host}" and fetched in (None, "same-origin")


def origin() -> None:
    """Stop what another page or program sends."""
    if request.endpoint and request.method == "POST" and not from_our_own_page():
        abort(403, "web.other_page")


def token() -> None:
    """Stop a form that was not made for this browser."""
    if not request.endpoint or request.method != "POST":
        return
    sent = request.headers.get("X-CSRF-Token") or request.form.get("csrf", "")
    if not hmac.compare_digest(sent.encode(), caller.csrf().encode()):
        abort(403, STALE_TOKEN)


def key() -> None:
    """Stop a form that makes something but has no key to be saved only once."""
    if request.endpoint and request.method == "POST" and roles.needs_key(request.endpoint):
        forms.sent_key()


def leave(response: Response) -> Response:
    """Set or take away our two cookies, and let a browser keep the files of this version."""
    house = caller.house()
    for name, value in ((house.cookie, g.get("cookie")), (f"{house.cookie}_said", g.get("said"))):
        if value:
            response.set_cookie(
                name, value, httponly=True, samesite="Strict", secure=request.is_secure
            )
        elif value is not None:
            response.delete_cookie(name, httponly=True, samesite="Strict")
    return response


LAYERS = (size, session, role, origin, token, key)
