"""Receipts and photos, given back: a picture to look at, anything else to take away."""

from flask import Blueprint, request
from werkzeug.wrappers import Response

from backoffice.errors import Refused
from backoffice.files import queries
from backoffice.web.caller import house
from backoffice.web.roles import allow
from backoffice.web.writing import reading

pages = Blueprint("files", __name__)

# What somebody sent never runs, asks for nothing, and is kept by this one browser at most.
ALONE = {
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "private, max-age=86400, immutable",
}
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "application/pdf": "pdf"}


@pages.get("/files/<int:file_id>")
@allow("owner", "books")
def show(file_id: int) -> Response:
    """Give a kept file."""
    with reading() as session:
        file = queries.kept(session, house().folder, file_id)
    if not file.path.is_file():
        raise Refused("file.gone")
    how = "inline" if file.is_picture else "attachment"
    name = f"receipt-{file.id}.{ENDINGS[file.media_type]}"
    response = Response(file.path.read_bytes(), mimetype=file.media_type)
    response.headers.update(ALONE)
    response.headers["Content-Disposition"] = f'{how}; filename="{name}"'
    response.set_etag(file.sha256)
    return response.make_conditional(request)
