"""What is said when something cannot be done: always in plain words, never with a trace."""

import logging
import secrets
from dataclasses import dataclass

from flask import Flask, Response, current_app, redirect, request, url_for
from sqlalchemy.exc import DBAPIError
from werkzeug.exceptions import HTTPException, MethodNotAllowed
from werkzeug.wrappers import Response as AnyResponse

from backoffice.db import OtherBody, OutcomeUnknown, Replay
from backoffice.errors import Refused
from backoffice.web.caller import caller
from backoffice.web.forms import new_key, typed_fields
from backoffice.web.generic import Link
from backoffice.web.layers import SIGNED_OUT, STALE_TOKEN, from_our_own_page
from backoffice.web.shell import render
from backoffice.words import US

log = logging.getLogger(__name__)
FULL = {"SQLITE_FULL", "53100"}
BUSY = {"55P03", "57014", "40001", "40P01", "53300", "57P01", "57P03"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What was typed, ready to be sent once more."""

    action: str
    fields: tuple[tuple[str, str], ...]
    submit: str
    had_file: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """A page that says what went wrong and what can be done."""

    title: str
    sentence: str
    link: Link | None = None
    again: Again | None = None


def prepare(app: Flask) -> None:
    """Word every failure."""
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(Replay, _replay)
    app.register_error_handler(OtherBody, _other_body)
    app.register_error_handler(OutcomeUnknown, _unknown)
    app.register_error_handler(DBAPIError, _database)
    app.register_error_handler(Exception, _unforeseen)


def _say(code: str, **facts: object) -> str:
    return caller().speech.say(code, **facts)


def trouble(
    status: int, sentence: str, *, link: Link | None = None, again: Again | None = None
) -> Response:
    """Make the page of one failure."""
    title = _say("web.title_not_saved" if request.method == "POST" else "web.title_cannot")
    page = Trouble(title=title, sentence=sentence, link=link, again=again)
    return render("errors/trouble.html", page, status=status)


def _typed(submit: str, key: str) -> Again:
    fields = typed_fields()
    if key:
        fields.append(("form_key", key))
    return Again(
        action=request.full_path.rstrip("?"),
        fields=tuple(fields),
        submit=_say(submit),
        had_file=any(file.filename for file in request.files.values()),
    )


def _http(error: HTTPException) -> Response | HTTPException:
    status = error.code or 500
    if status >= 500:
        return _unforeseen(error)
    if error.description in (SIGNED_OUT, STALE_TOKEN) and from_our_own_page():
        link = Link(url=url_for("access.sign_in"), text=_say("web.sign_in"))
        again = _typed("web.send_again", request.form.get("form_key", ""))
        signed_out = error.description == SIGNED_OUT
        return trouble(
            status, _say(error.description), again=again, link=link if signed_out else None
        )
    code = error.description if error.description in US else f"web.{status}"
    response = trouble(status, _say(code if code in US else "web.400"))
    if isinstance(error, MethodNotAllowed) and error.valid_methods:
        response.headers["Allow"] = ", ".join(sorted(error.valid_methods))
    return response


def _refused(refused: Refused) -> Response:
    status = 404 if refused.code == "record.missing" else 409
    link = None
    if "bill" in refused.facts:
        url = url_for("bills.show", document_id=refused.facts["bill"], _anchor="fix")
        link = Link(url=url, text=_say("bills.open", number=refused.facts["number"]))
    return trouble(status, _say(refused.code, **refused.facts), link=link)


def _replay(replay: Replay) -> AnyResponse:
    return redirect(replay.location, 303)


def _other_body(other: OtherBody) -> Response:
    link = Link(url=other.location, text=_say("web.open_it")) if other.location else None
    again = _typed("web.save_as_new", new_key())
    return trouble(409, _say("web.saved_before"), link=link, again=again)


def _unknown(unknown: OutcomeUnknown) -> Response:
    log.error("a commit failed in a way that may have saved", exc_info=unknown)
    full = isinstance(unknown.__cause__, DBAPIError) and _plight(unknown.__cause__) == "full"
    again = _typed("web.send_again", request.form.get("form_key", ""))
    status, code = (507, "web.full_perhaps") if full else (503, "web.perhaps_saved")
    return _retry_later(trouble(status, _say(code), again=again))


def _database(error: DBAPIError) -> Response:
    plight = _plight(error)
    if not plight:
        return _unforeseen(error)
    log.error("the database could not answer: %s", plight, exc_info=error)
    posted = request.method == "POST"
    again = _typed("web.send_again", request.form.get("form_key", "")) if posted else None
    status = 507 if plight == "full" else 503
    return _retry_later(trouble(status, _say(f"web.{plight}"), again=again))


def _plight(error: DBAPIError) -> str:
    name = getattr(error.orig, "sqlite_errorname", "") or getattr(error.orig, "sqlstate", "") or ""
    if name in FULL or name.startswith("SQLITE_IOERR"):
        return "full"
    waits = name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))
    return "busy" if waits or name in BUSY or error.connection_invalidated else ""


def _retry_later(response: Response) -> Response:
    response.headers["Retry-After"] = "2"
    return response


def _unforeseen(error: Exception) -> Response:
    number = secrets.token_hex(4)
    log.error("failure %s", number, exc_info=error)
    html = current_app.jinja_env.get_template("errors/failed.html").render(number=number)
    return Response(html, 500, mimetype="text/html")
