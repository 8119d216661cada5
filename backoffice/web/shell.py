"""How is a page put together? The page's own values, and what stands around every page."""

import base64
import binascii
import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from flask import Flask, Response, current_app, g, request, url_for

from backoffice.web.caller import caller, csrf, house
from backoffice.web.roles import allowed

# The place each blueprint belongs to, where it is not a place itself; all others are the office.
PLACES = {"today", "plan", "horses", "money", "shelf"}
PLACE_OF = {
    "visits": "today",
    "load": "today",
    "next_date": "today",
    "evening": "today",
    "bills": "money",
    "payments": "money",
    "spending": "money",
    "what_pays": "money",
    "stock": "shelf",
    "tools": "shelf",
}
LONGEST_FLASH = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """What stands around every page."""

    practice_name: str
    signed_in: bool
    user_name: str
    role: str
    section: str
    demo_today: str
    csrf: str
    flash: str


def render(template: str, page: object, *, status: int = 200) -> Response:
    """Make a page of its finished values; no session is open any more."""
    html = current_app.jinja_env.get_template(template).render(page=page, shell=_shell())
    return Response(html, status, mimetype="text/html")


def flash(code: str, **facts: object) -> None:
    """Say one sentence at the top of the next page."""
    said = caller().speech.say(code, **facts)[:LONGEST_FLASH]
    text = base64.urlsafe_b64encode(said.encode()).decode()
    g.said = f"{text}.{house().seal('said', text)}"


def static(name: str) -> str:
    """Give the address of a static file in exactly this version."""
    return url_for(
        "static", filename=name, v=version_of(Path(current_app.static_folder or ""), name)
    )


@cache
def version_of(folder: Path, name: str) -> str:
    """Tell the versions of a static file apart by what is in it."""
    return hashlib.sha256((folder / name).read_bytes()).hexdigest()[:16]


def keep_static(response: Response) -> Response:
    """Let a browser keep a static file asked for by its version; any other it asks for again."""
    if request.endpoint == "static" and request.args.get("v"):
        response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
    return response


def prepare(app: Flask) -> None:
    """Give templates what they may call, and nothing else."""
    for name in ("config", "request", "session", "g", "get_flashed_messages"):
        app.jinja_env.globals.pop(name)
    app.jinja_env.globals.update(
        say=lambda code, **facts: caller().speech.say(code, **facts),
        money=lambda cents: caller().speech.money(cents),
        day=lambda day: caller().speech.day(day),
        long_day=lambda day: caller().speech.long_day(day),
        foot=lambda foot: caller().speech.foot(foot),
        static=static,
        may=lambda endpoint: caller().role in allowed(endpoint),
    )


def _shell() -> Shell:
    here = caller()
    if house().cookie not in request.cookies and "cookie" not in g:
        g.cookie = here.token  # what the forms of this page are bound to
    demo_today = here.practice.demo_today
    return Shell(
        practice_name=here.practice.name or here.speech.say("web.no_name"),
        signed_in=here.signed_in is not None,
        user_name=here.signed_in.name if here.signed_in else "",
        role=here.role,
        section=_section(),
        demo_today=here.speech.long_day(demo_today) if demo_today else "",
        csrf=csrf(),
        flash=_said(),
    )


def _section() -> str:
    blueprint = request.blueprint or ""
    return blueprint if blueprint in PLACES else PLACE_OF.get(blueprint, "office")


def _said() -> str:
    sent = request.cookies.get(f"{house().cookie}_said")
    if sent is None:
        return ""
    g.setdefault("said", "")
    text, _, seal = sent.partition(".")
    if not house().sealed("said", text, seal):
        return ""
    try:
        return base64.urlsafe_b64decode(text).decode()
    except (binascii.Error, UnicodeDecodeError):
        return ""
