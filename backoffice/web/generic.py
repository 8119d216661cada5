"""The two pages most records need: a form, and a list."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from backoffice.web.forms import FileField, Form

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Where a word leads."""

    url: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """A page with one form: ``render("generic/form_page.html", FormPage(...))``.

    It is sent to ``action``, or to the address it is shown at. ``hints`` stand beside fields, by
    name; ``caution`` stands above the form, ``word`` in its margin.
    """

    title: str
    form: Form
    submit: str = "Save"
    word: str = ""
    under: str = ""
    back: str = ""
    action: str = ""
    caution: str = ""
    hints: Mapping[str, str] = field(default_factory=dict)

    @property
    def sends_file(self) -> bool:
        """Whether one of its fields is a file."""
        return any(isinstance(one, FileField) for one in self.form)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of a list: what it opens, its name, a word under it, a figure at its end."""

    url: str
    name: str
    says: str = ""
    end: str = ""
    end_says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListPage(Generic[T]):
    """A page with one list: ``render("generic/list_page.html", ListPage(...))``.

    ``T`` is ``Row``, or whatever the template reads that extends it and draws ``block row``.
    ``find`` is what was looked up, or None where nothing can be; ``none`` is said of no rows.
    """

    title: str
    rows: tuple[T, ...]
    none: str
    under: str = ""
    add: Link | None = None
    find: str | None = None
    before: str = ""
    after: str = ""
