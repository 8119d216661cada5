"""Records as pages keep them: typed, saved or shown again, listed and looked up by name."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, TypeVar

from flask import request, url_for
from werkzeug.wrappers import Response
from wtforms.widgets import NumberInput

from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.practice.rules import LINE, MOST, Listed
from backoffice.web import roles
from backoffice.web.caller import caller
from backoffice.web.forms import CreatesForm, Form, TickField, Typed, VersionField, refuse
from backoffice.web.generic import FormPage, Link, ListPage, Row
from backoffice.web.shell import flash, render
from backoffice.web.writing import reading, see_other, writing

T = TypeVar("T")
Reads = Callable[[Session], Any]


class RecordForm(CreatesForm):
    """A record: a new one is saved once by its key, an edited one in the version it was read."""

    version = VersionField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.theirs: dict[str, str] = {}

    def values(self, kind: type) -> dict[str, Any]:
        """Give what was typed, by the names of a record's details."""
        return {f.name: self[f.name].data for f in fields(kind) if f.name in self}

    def details(self, kind: type[T]) -> T:
        """Make a record's details of what was typed."""
        return kind(**self.values(kind))

    def show_theirs(self, now: Any) -> None:
        """Word what somebody else saved meanwhile; saved again, this goes over it."""
        self.version.data, self.version.raw_data = now.version, None
        other = type(self)(obj=now)
        for field in self:
            name = field.short_name
            if name in other and hasattr(now, name) and field.data != other[name].data:
                shown = _shown(field, other[name])
                self.theirs[name] = caller().speech.say("records.theirs", text=shown)


def _shown(field: Any, theirs: Any) -> str:
    if isinstance(field, TickField):
        return caller().speech.say("records.yes" if theirs.data else "records.no")
    if choices := getattr(field, "choices", None):
        value = "" if theirs.data is None else str(theirs.data)
        return next((str(choice.label) for choice in choices if choice.value == value), value)
    return str(theirs._value()) or caller().speech.say("records.empty")  # noqa: SLF001 - as it draws


class ScaledField(Typed):
    """A number with decimals, kept as a whole number of its smallest part."""

    data: int | None
    widget: Any = NumberInput()

    def __init__(self, label: str, *, decimals: int, **more: Any) -> None:
        super().__init__(label, **more)
        self.decimals = decimals

    def read(self, text: str) -> int:
        """Read a number without rounding it."""
        found = re.fullmatch(r"([0-9]{0,9})(?:\.([0-9]*))?\s*%?", text)
        if found is None or not (found[1] or found[2]):
            raise Refused("records.number_unreadable", typed=text)
        after = found[2] or ""
        if len(after) > self.decimals:
            raise Refused("money.too_many_decimals", typed=text, decimals=self.decimals)
        return int((found[1] or "0") + after.ljust(self.decimals, "0"))

    def write(self, value: int) -> str:
        """Write it without zeros that say nothing."""
        return scaled(value, self.decimals)


def scaled(value: int, decimals: int) -> str:
    """Write a whole number of small parts as a number with decimals, ``1500`` as ``1.5``."""
    digits = str(value).rjust(decimals + 1, "0")
    return f"{digits[:-decimals]}.{digits[-decimals:]}".rstrip("0").rstrip(".")


def keep(
    form: Form,
    save: Callable[[Session], int],
    leads: Callable[[int], str],
    again: Callable[[int], Response],
    now: Reads | None = None,
) -> Response:
    """Save what was typed and go where that leads, or show it again with what is wrong with it.

    ``again`` draws the page at a status, ``now`` reads a record somebody else may have changed.
    """
    if not form.validate():
        return again(422)
    key = form.key() if isinstance(form, CreatesForm) and _is_once() else ()
    try:
        with writing(*key) as unit:
            unit.see_other(leads(save(unit.session)))
    except Refused as refused:
        if refused.code == "record.missing":
            raise
        refuse(form, refused)
        if now and refused.code == "changed.meanwhile" and isinstance(form, RecordForm):
            with reading() as session:
                details = now(session)
            form.show_theirs(details)
        return again(409)
    flash("records.saved")
    return see_other(unit)


def _is_once() -> bool:
    return roles.needs_key(request.endpoint or "")


def form_page(
    form: Form,
    *,
    title: str,
    back: str,
    under: str = "",
    submit: str = "",
    caution: str = "",
    hints: Mapping[str, str] | None = None,
    status: int = 200,
) -> Response:
    """Draw a form on the generic page."""
    theirs = {}
    if isinstance(form, RecordForm):
        theirs = form.theirs
        if form.version.data is None and "hidden" in form:
            del form["hidden"]  # what is new is not put away
    page = FormPage(
        title=title,
        form=form,
        under=under,
        submit=submit or caller().speech.say("records.save"),
        word=caller().speech.say("records.word"),
        back=back,
        caution=caution,
        hints={**(hints or {}), **theirs},
    )
    return render("generic/form_page.html", page, status=status)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsPage(ListPage[Row]):
    """A list of records, and where those put away are shown as well."""

    also: Link | None = None


def looked_up() -> str:
    """Give what is looked up, without what cannot be in a name."""
    return "".join(c for c in request.args.get("find", "") if c.isprintable())[:LINE]


def with_hidden() -> bool:
    """Whether those put away are shown as well."""
    return request.args.get("all") == "1"


def page_no() -> int:
    """Give which page of a list is asked for."""
    text = request.args.get("page", "")
    return min(int(text), MOST) if text.isdecimal() and len(text) < 9 else 1


def list_page(
    listed: Listed[Any],
    rows: tuple[Row, ...],
    *,
    title: str,
    none: str,
    also: str,
    add: Link | None,
    searched: bool = True,
) -> Response:
    """Draw one page of a list, with its looking up and its turning of leaves."""
    say = caller().speech.say
    find = looked_up()

    def leaf(page: int | None, *, hidden: bool) -> str:
        every = "1" if hidden else None
        return url_for(request.endpoint or "", find=find or None, all=every, page=page)

    hidden = with_hidden()
    page = RecordsPage(
        title=title,
        rows=rows,
        none=say("records.none_found") if find else none,
        add=add,
        find=find if searched else None,
        before=leaf(listed.page - 1, hidden=hidden) if listed.page > 1 else "",
        after=leaf(listed.page + 1, hidden=hidden) if listed.more else "",
        also=None if hidden or not also else Link(url=leaf(None, hidden=True), text=also),
    )
    return render("generic/records.html", page)
