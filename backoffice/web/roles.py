"""Who may open what? Declared beside each view; what declares nothing is the owner's alone."""

from collections.abc import Callable
from typing import Any, TypeVar

from flask import current_app

from backoffice.access.queries import ROLES

View = TypeVar("View", bound=Callable[..., Any])

ANYONE = "anyone"
_ALLOWED: dict[Callable[..., Any], frozenset[str]] = {}
_ONCE: set[Callable[..., Any]] = set()
_LARGE: set[Callable[..., Any]] = set()


def allow(*roles: str) -> Callable[[View], View]:
    """Open a view to these roles; ``anyone`` opens it to people not signed in."""
    if unknown := set(roles) - {*ROLES, ANYONE}:
        raise ValueError(f"no such role: {unknown}")

    def mark(view: View) -> View:
        _ALLOWED[view] = frozenset(roles)
        return view

    return mark


def once(view: View) -> View:
    """Say that a view makes money, stock or documents, so its form carries a key."""
    _ONCE.add(view)
    return view


def takes_file(view: View) -> View:
    """Let a view take up to 12 MiB, for a photo or a workbook."""
    _LARGE.add(view)
    return view


def allowed(endpoint: str) -> frozenset[str]:
    """Give the roles that may open an endpoint."""
    if endpoint == "static":
        return frozenset({ANYONE})
    return _ALLOWED.get(current_app.view_functions[endpoint], frozenset({"owner"}))


def needs_key(endpoint: str) -> bool:
    """Whether forms sent to an endpoint carry a key."""
    return current_app.view_functions[endpoint] in _ONCE


def takes_large(endpoint: str) -> bool:
    """Whether an endpoint takes a file."""
    return current_app.view_functions[endpoint] in _LARGE
