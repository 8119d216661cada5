"""The pages of the back office: one module here is one blueprint and one folder of templates."""

from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

from flask import Blueprint, Flask
from jinja2 import StrictUndefined

from backoffice import folders
from backoffice.db import Database
from backoffice.web import errors, layers, shell
from backoffice.web.addresses import DayConverter, NumberConverter
from backoffice.web.caller import House
from backoffice.web.guard import Guard
from backoffice.web.secret import secret_of


def create_app(
    database: Database,
    *,
    data_folder: Path,
    hosts: Sequence[str] = ("127.0.0.1", "localhost"),
    port: int,
    testing: bool = False,
) -> Flask:
    """Make the program that answers at these hosts and this port."""
    app = Flask(__name__, template_folder=str(folders.templates()))
    app.config.update(
        DEBUG=False,
        TESTING=testing,
        TRUSTED_HOSTS=list(hosts),
        MAX_CONTENT_LENGTH=2 * 2**20,
        MAX_FORM_MEMORY_SIZE=256 * 2**10,
        MAX_FORM_PARTS=500,
        TEMPLATES_AUTO_RELOAD=False,
        PROVIDE_AUTOMATIC_OPTIONS=False,
    )
    app.jinja_options = {"autoescape": True, "undefined": StrictUndefined}
    secret = secret_of(data_folder)
    instance = House(database, secret, "", data_folder).seal("instance", "")[:8]
    app.extensions["backoffice"] = House(database, secret, f"farrier_{instance}", data_folder)
    app.url_map.converters.update(day=DayConverter, int=NumberConverter)
    for layer in layers.LAYERS:
        app.before_request(layer)
    app.after_request(shell.keep_static)
    app.after_request(layers.leave)
    shell.prepare(app)
    errors.prepare(app)
    for blueprint in blueprints():
        app.register_blueprint(blueprint)
    names = [f"{host}:{port}" for host in hosts]
    app.wsgi_app = Guard(app.wsgi_app, names)  # type: ignore[method-assign] # Flask's own way
    return app


def blueprints() -> Iterator[Blueprint]:
    """Give the blueprint of every module here that has one, under the name ``pages``."""
    for found in iter_modules(__path__):
        pages = getattr(import_module(f"{__name__}.{found.name}"), "pages", None)
        if isinstance(pages, Blueprint):
            yield pages
