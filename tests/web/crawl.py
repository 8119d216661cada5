"""Walking every page and filling every form, as a patient stranger would."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

from flask import Flask
from werkzeug.routing import Rule

# What stands for the variable parts of addresses, in a practice built from the demo.
SAMPLES: dict[str, tuple[object, ...]] = {
    "day": ("2026-03-17", "2026-02-03"),
    "visit_id": (13, 3),
    "work_id": (1, 9, 13),
    "document_id": (1, 3),
    "client_id": (3, 4),
    "horse_id": (5, 13),
    "yard_id": (1,),
    "type_id": (1,),
    "service_id": (1,),
    "supplier_id": (1,),
    "item_id": (1, 8),
    "tool_id": (1, 7),
    "bill_id": (1, 2),
    "place_id": (1,),
    "farrier_id": (1,),
    "flag_id": (1, 2),
    "name": ("guarantee_days",),
    "word": ("labour",),
    "agreed_id": (1,),
    "first": (1001,),
    "last": (1003,),
    "by": ("clients", "kinds"),
    "group_id": (0, 1, 3),
}


def addresses(app: Flask, verb: str = "GET") -> Iterator[tuple[Rule, str]]:
    """Give every address that answers to a verb, its variable parts filled in."""
    for rule in app.url_map.iter_rules():
        if verb not in (rule.methods or ()) or rule.endpoint in ("static", "files.show"):
            continue
        names = sorted(rule.arguments)
        first = [SAMPLES.get(name, (1,)) for name in names]
        for turn in range(max((len(values) for values in first), default=1)):
            path = rule.rule
            for name, values in zip(names, first, strict=True):
                value = str(values[min(turn, len(values) - 1)])
                path = path.replace(f"<int:{name}>", value).replace(f"<day:{name}>", value)
                path = path.replace(f"<{name}>", value)
            yield rule, path


@dataclass
class Form:
    """A form found on a page: where it goes and what it asks."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    typed: set[str] = field(default_factory=set)


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.forms: list[Form] = []
        self.select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        name = said.get("name") or ""
        if tag == "form":
            action = said.get("action") or self.page
            self.forms.append(Form(action=action, method=(said.get("method") or "get").lower()))
        elif not self.forms or (not name and tag != "option"):
            return
        elif tag == "input" and said.get("type") in ("hidden", "checkbox", "radio"):
            self.forms[-1].fields.setdefault(name, said.get("value") or "y")
        elif tag in ("input", "textarea"):
            self.forms[-1].fields[name] = said.get("value") or ""
            self.forms[-1].typed.add(name)
        elif tag == "select":
            self.select = name
            self.forms[-1].fields[name] = ""
        elif tag == "option" and self.select and said.get("value"):
            form = self.forms[-1]
            form.fields[self.select] = form.fields[self.select] or str(said["value"])


def forms_of(page: str, html: str) -> list[Form]:
    """Give the forms of a page."""
    reader = _Reader(page)
    reader.feed(html)
    return reader.forms
