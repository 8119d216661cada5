"""Is this request meant for us at all? Looked at before Flask sees it, and again on its way out."""

from collections.abc import Iterable, Sequence
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

LARGEST_UPLOAD = 12 * 2**20
VERBS = frozenset({"GET", "HEAD", "POST"})
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' blob: data:; font-src 'self'; connect-src 'self'; manifest-src 'self'; "
    "form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), camera=(), payment=(), usb=()",
    "Cache-Control": "no-store",
}


class Guard:
    """The outermost layer: size, Host, verb, and the headers of every answer."""

    def __init__(self, app: "WSGIApplication", hosts: Sequence[str]) -> None:
        self.app = app
        self.hosts = frozenset(hosts)

    def __call__(
        self, environ: "WSGIEnvironment", start_response: "StartResponse"
    ) -> Iterable[bytes]:
        """Answer with nothing at all what is not meant for us."""

        def start(status: str, headers: list[tuple[str, str]], *error: Any) -> Any:
            return start_response(status, complete(headers), *error)

        refusal = too_large(environ) or misdirected(environ, self.hosts) or unknown_verb(environ)
        if refusal is None:
            return self.app(environ, start)
        start(f"{refusal.value} {refusal.phrase}", [("Content-Length", "0")])
        return []


def too_large(environ: "WSGIEnvironment") -> HTTPStatus | None:
    """Refuse what is larger than any page takes."""
    length = environ.get("CONTENT_LENGTH") or "0"
    if length.isdecimal() and int(length) <= LARGEST_UPLOAD:
        return None
    return HTTPStatus.REQUEST_ENTITY_TOO_LARGE


def misdirected(environ: "WSGIEnvironment", hosts: frozenset[str]) -> HTTPStatus | None:
    """Refuse any Host but our own, and a request line that names a host."""
    target = environ.get("REQUEST_URI", "/")
    if environ.get("HTTP_HOST") in hosts and target.startswith("/"):
        return None
    return HTTPStatus.MISDIRECTED_REQUEST


def unknown_verb(environ: "WSGIEnvironment") -> HTTPStatus | None:
    """Refuse TRACE and every other verb no page answers to."""
    return None if environ["REQUEST_METHOD"] in VERBS else HTTPStatus.METHOD_NOT_ALLOWED


def complete(headers: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Add the headers an answer lacks, and do not say what serves it."""
    given = {name.lower() for name, _value in headers}
    kept = [header for header in headers if header[0].lower() != "server"]
    return kept + [header for header in HEADERS.items() if header[0].lower() not in given]
