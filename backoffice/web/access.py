"""Signing in and out, and one's own password."""

from dataclasses import dataclass

import wtforms
from flask import Blueprint, g, redirect, request, url_for
from werkzeug.wrappers import Response

from backoffice.access import queries, service
from backoffice.access.rules import LONGEST
from backoffice.errors import Refused
from backoffice.web import clock
from backoffice.web.caller import caller
from backoffice.web.forms import Form, TextField, refuse
from backoffice.web.generic import FormPage
from backoffice.web.roles import ANYONE, allow
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, writing

pages = Blueprint("access", __name__)
HOME = "/"


class LinkForm(Form):
    """The code of a one-time link."""

    token = TextField("Code", needed=True, render_kw={"autocomplete": "one-time-code"})


class NameForm(Form):
    """A name and its password."""

    name = TextField("Name", needed=True, render_kw={"autocomplete": "username"})
    password = wtforms.PasswordField(
        "Password", render_kw={"autocomplete": "current-password", "maxlength": LONGEST}
    )


class PasswordForm(Form):
    """A new password, and the one it replaces."""

    now = wtforms.PasswordField(
        "The password you have now", render_kw={"autocomplete": "current-password"}
    )
    password = wtforms.PasswordField("New password", render_kw={"autocomplete": "new-password"})


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInPage:
    """The two ways in."""

    link: LinkForm
    named: NameForm


@pages.get("/sign-in")
@allow(ANYONE)
def sign_in() -> Response:
    """Show the two ways in."""
    return render("access/sign_in.html", SignInPage(link=LinkForm(), named=NameForm()))


@pages.post("/sign-in/link")
@allow(ANYONE)
def use_link() -> Response:
    """Let in who holds a one-time link."""
    form = LinkForm.typed()
    page = SignInPage(link=form, named=NameForm())
    if not form.validate():
        return render("access/sign_in.html", page, status=422)
    try:
        with writing() as unit:
            user_id = service.use_start_link(unit.session, form.token.data or "", clock.now())
            service.sign_out(unit.session, caller().token)
            token = service.sign_in(unit.session, user_id, clock.now())
    except Refused as refused:
        refuse(form, refused)
        return render("access/sign_in.html", page, status=403)
    return _with_cookie(token)


@pages.post("/sign-in")
@allow(ANYONE)
def enter() -> Response:
    """Let in who knows a name and its password."""
    form = NameForm.typed()
    page = SignInPage(link=LinkForm(), named=form)
    if not form.validate():
        return render("access/sign_in.html", page, status=422)
    try:
        user_id = _check(form.name.data or "", form.password.data or "")
    except Refused as refused:
        refuse(form, refused)
        return render("access/sign_in.html", page, status=403)
    with writing() as unit:
        service.sign_out(unit.session, caller().token)
        token = service.sign_in(unit.session, user_id, clock.now())
    return _with_cookie(token)


@pages.post("/sign-out")
@allow(ANYONE)
def sign_out() -> Response:
    """End this sign-in."""
    with writing() as unit:
        service.sign_out(unit.session, caller().token)
    g.cookie = ""
    return redirect(url_for("access.sign_in"), 303)


@pages.get("/password")
@allow("owner", "field", "books")
def password() -> Response:
    """Show the form for a password of one's own."""
    return render("generic/form_page.html", _password_page(_password_form(PasswordForm())))


@pages.post("/password")
@allow("owner", "field", "books")
def change_password() -> Response:
    """Change one's own password; every other sign-in of the same person ends."""
    form = _password_form(PasswordForm.typed())
    me = caller()
    try:
        user_id = me.user_id or 0
        if "now" in form:
            _check(me.signed_in.name if me.signed_in else "", form["now"].data or "", field="now")
        with writing() as unit:
            service.set_password(unit.session, user_id, form.password.data or "")
            token = service.sign_in(unit.session, user_id, clock.now())
    except Refused as refused:
        refuse(form, refused)
        return render("generic/form_page.html", _password_page(form), status=409)
    flash("web.password_saved")
    return _with_cookie(token)


def _check(name: str, password: str, field: str = "") -> int:
    with writing() as unit:
        claim = service.claim(unit.session, name, request.remote_addr or "", clock.now())
    user_id = service.fits(claim, password)
    if user_id is None:
        raise Refused("access.no_match", field=field)
    with writing() as unit:
        service.forget_tries(unit.session, claim)
    return user_id


def _with_cookie(token: str) -> Response:
    g.cookie = token
    return redirect(HOME, 303)


def _password_form(form: PasswordForm) -> PasswordForm:
    with reading() as session:
        mine = next(one for one in queries.users(session) if one.id == caller().user_id)
    if not mine.has_password:
        del form.now
    return form


def _password_page(form: PasswordForm) -> FormPage:
    say = caller().speech.say
    return FormPage(
        title=say("web.password"), form=form, back=HOME, submit=say("web.save_password")
    )
