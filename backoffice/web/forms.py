"""What may be typed, and how is it read? Every refusal is one of our own sentences.

A form checks shape: is this an amount, a date, one of these. Whether the business allows it is
for the service to say; ``refuse`` puts that answer beside its field.
"""

import hashlib
import re
import secrets
import unicodedata
from collections.abc import Iterable
from datetime import date
from typing import Any, Self

import wtforms
from flask import abort, request
from werkzeug.datastructures import FileStorage
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined] # newer than its stubs
from wtforms.validators import ValidationError
from wtforms.widgets import DateInput, FileInput, HiddenInput, NumberInput, TextArea, TextInput

from backoffice.days import parse_day
from backoffice.errors import Refused
from backoffice.money import parse_money, plain
from backoffice.practice.rules import LINE, MOST, NOTE
from backoffice.web.caller import caller

_KEY = re.compile(r"[0-9a-f]{32}")
_OURS = ("csrf", "form_key")
_WORD = re.compile(r"\{([\w.]+)\}")
_AS_BOXES = 5  # so few are shown as boxes to tap, and none of them is pressed beforehand


def _no(code: str, **facts: object) -> ValueError:
    return ValueError(caller().speech.say(code, **facts))


class Form(wtforms.Form):
    """A form. ``Form()`` is empty, ``Form(obj=details)`` shows a record, ``Form.typed()`` was sent.

    A label may hold words that differ by practice: ``"Name of the {yard}"``.
    """

    @classmethod
    def typed(cls) -> Self:
        """Read what was sent."""
        return cls(formdata=request.form)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self:
            field.label.text = worded(field.label.text)


def worded(label: str) -> str:
    """Put the practice's own words into a label, ``"Name of the {yard}"``."""
    said = _WORD.sub(lambda found: caller().speech.say(found[1]), label)
    return said[:1].upper() + said[1:] if label.startswith("{") else said


class Typed(wtforms.Field):
    """A field of one text, kept as typed when it cannot be read; empty is None."""

    widget: Any = TextInput()

    def __init__(self, label: str, *, needed: bool = False, **more: Any) -> None:
        super().__init__(label, **more)
        self.needed = needed

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Read what was sent, or say why it cannot be read."""
        text = self.tidy(valuelist[0] if valuelist else "")
        self.data = None
        if text:
            try:
                self.data = self.read(text)
            except Refused as refused:
                raise _no(refused.code, **refused.facts) from None
        elif self.needed:
            raise _no("text.needed")

    def tidy(self, text: str) -> str:
        """Take off what is around the text."""
        return text.strip()

    def read(self, text: str) -> Any:
        """Make the value of a text that is not empty."""
        raise NotImplementedError

    def write(self, value: Any) -> str:
        """Make the text of a value."""
        return str(value)

    def _value(self) -> str:
        if self.raw_data:
            return str(self.raw_data[0])
        return "" if self.data is None else self.write(self.data)


class TextField(Typed):
    """One line of text."""

    data: str | None
    kept = ""

    def __init__(self, label: str, *, most: int = LINE, **more: Any) -> None:
        super().__init__(label, **more)
        self.most = most

    def read(self, text: str) -> str:
        """Refuse characters nobody types and cannot be kept, and texts without end."""
        if any(unicodedata.category(c) in ("Cc", "Cs") and c not in self.kept for c in text):
            raise Refused("text.control")
        if len(text) > self.most:
            raise Refused("text.too_long", most=self.most)
        return text


class LinesField(TextField):
    """A text of several lines."""

    widget: Any = TextArea()
    kept = "\n\t"

    def __init__(self, label: str, *, most: int = NOTE, **more: Any) -> None:
        super().__init__(label, most=most, **more)

    def tidy(self, text: str) -> str:
        """Write line ends one way."""
        return text.replace("\r\n", "\n").strip()


class MoneyField(Typed):
    """An amount in the practice's currency, as whole cents."""

    data: int | None

    def __init__(self, label: str, *, negative: bool = False, **more: Any) -> None:
        super().__init__(label, **more)
        self.negative = negative

    def read(self, text: str) -> int:
        """Read an amount as people type it."""
        cents = parse_money(text, caller().practice.currency)
        if cents < 0 and not self.negative:
            raise Refused("money.negative")
        return cents

    def write(self, value: int) -> str:
        """Write it as a plain decimal."""
        return plain(value, caller().practice.currency)


class CountField(Typed):
    """A whole number within bounds."""

    data: int | None
    widget: Any = NumberInput()

    def __init__(self, label: str, *, least: int = 0, most: int = MOST, **more: Any) -> None:
        super().__init__(label, **more)
        self.least, self.most = least, most

    def read(self, text: str) -> int:
        """Read a whole number."""
        typed = text.replace("\u2212", "-").replace(",", "")
        if not re.fullmatch(r"-?[0-9]{1,15}", typed):
            raise Refused("count.unreadable", typed=text)
        count = int(typed)
        if count < 0 <= self.least:
            raise Refused("count.negative")
        if count < self.least:
            raise Refused("count.too_small", least=self.least)
        if count > self.most:
            raise Refused("count.too_large", typed=text)
        return count


class VersionField(CountField):
    """Which version of a record is being edited; hidden."""

    widget = HiddenInput()

    def __init__(self, label: str = "version", **more: Any) -> None:
        super().__init__(label, most=10**15, **more)


class DayField(Typed):
    """A date."""

    data: date | None
    widget = DateInput()

    def read(self, text: str) -> date:
        """Read YYYY-MM-DD, as browsers send it."""
        return parse_day(text)


class _Offers(wtforms.SelectField):
    def __init__(self, label: str, *, needed: bool = False, **more: Any) -> None:
        super().__init__(label, validate_choice=False, **more)
        self.needed = needed
        self.offered: set[Any] = set()

    def _offer(self, pairs: Iterable[tuple[Any, str]], nothing: str) -> None:
        pairs = list(pairs)
        self.offered = {value for value, _label in pairs}
        nothing = nothing or caller().speech.say("web.choose" if self.needed else "unknown")
        empty = not self.needed or len(pairs) > _AS_BOXES
        first = [SelectChoice("", nothing)] if empty else []
        self.choices = [*first, *(SelectChoice(str(value), label) for value, label in pairs)]

    def process_formdata(self, valuelist: list[Any]) -> None:
        text = valuelist[0] if valuelist else ""
        self.data = None
        if text:
            self.data = self.coerce(text)
        elif self.needed:
            raise _no("choice.unknown")

    def pre_validate(self, form: wtforms.form.BaseForm) -> None:  # noqa: ARG002 - WTForms' own
        if self.data is not None and self.data not in self.offered:
            raise ValidationError(caller().speech.say("choice.unknown"))


def _id(text: Any) -> int | None:
    if isinstance(text, int) or not text:
        return text or None
    if not re.fullmatch(r"[0-9]{1,15}", text):
        raise _no("choice.unknown")
    return int(text)


class SelectId(_Offers):
    """One of some records, by number; nothing chosen is not known yet.

    The view offers them: ``form.client_id.offer(client_choices(session))``.
    """

    data: int | None

    def __init__(self, label: str, *, unknown: str = "", **more: Any) -> None:
        super().__init__(label, coerce=_id, **more)
        self.unknown = unknown

    def offer(self, pairs: Iterable[tuple[int, str]]) -> None:
        """Say which there are."""
        self._offer(pairs, self.unknown)


class ChoiceField(_Offers):
    """One of a few words, each with its label: ``ChoiceField("Kind", [("shop", "Shop")])``."""

    data: str | None

    def __init__(self, label: str, words: Iterable[tuple[str, str]] = (), **more: Any) -> None:
        super().__init__(label, coerce=lambda text: text and str(text), **more)
        self.offer(words)

    def offer(self, pairs: Iterable[tuple[str, str]]) -> None:
        """Say which there are, where that is known only later."""
        self._offer(((word, worded(label)) for word, label in pairs), "")


class TickField(wtforms.BooleanField):
    """A box to tick."""

    data: bool


class FileField(wtforms.Field):
    """A file, or None."""

    data: FileStorage | None
    widget = FileInput()

    def __init__(self, label: str, *, needed: bool = False, **more: Any) -> None:
        super().__init__(label, **more)
        self.needed = needed

    def process_formdata(self, valuelist: list[Any]) -> None:  # noqa: ARG002 - not in the texts
        """Take the file that was sent."""
        sent = request.files.get(self.name)
        self.data = sent if sent and sent.filename else None
        if self.needed and self.data is None:
            raise _no("web.file_needed")


class CreatesForm(Form):
    """A form that makes money, stock or documents: sent twice, it is saved once."""

    form_key = wtforms.HiddenField("key", default=lambda: new_key())

    def key(self) -> tuple[str, str]:
        """Give the key and what was typed under it, for ``writing(*form.key())``."""
        return sent_key(), fingerprint()


def new_key() -> str:
    """Make a key for a form."""
    return secrets.token_hex(16)


def sent_key() -> str:
    """Give the key the form was sent with; without one nothing is saved."""
    sent = request.form.get("form_key", "")
    if not _KEY.fullmatch(sent):
        abort(400, "web.no_key")
    return sent


def fingerprint() -> str:
    """Tell apart what forms say: the page they were sent to, every field, every file."""
    said = hashlib.sha256(request.path.encode())
    for name, value in sorted(typed_fields()):
        said.update(f"\0{len(name)} {name}\0{len(value)} {value}".encode())
    for name, file in sorted(request.files.items(multi=True), key=lambda named: named[0]):
        said.update(f"\0{name}\0".encode() + hashlib.sha256(file.stream.read()).digest())
        file.stream.seek(0)
    return said.hexdigest()


def typed_fields() -> list[tuple[str, str]]:
    """Give what was typed, without our own two fields."""
    fields = request.form.items(multi=True)
    return [(name, value) for name, value in fields if name not in _OURS]


def refuse(form: Form, refused: Refused) -> None:
    """Put what a service refused beside the field it is about, or at the top of the form."""
    sentence = caller().speech.say(refused.code, **refused.facts)
    if refused.field in form:
        field = form[refused.field]
        field.errors = [*field.errors, sentence]
    else:
        form.form_errors.append(sentence)
