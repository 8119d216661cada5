"""What is reckoned with: every setting, its default and the reason."""

from flask import abort, url_for
from werkzeug.wrappers import Response

from backoffice.db import Session
from backoffice.errors import Refused
from backoffice.practice import queries, service
from backoffice.practice.queries import SettingLine
from backoffice.practice.rules import (
    SETTINGS,
    Listed,
)
from backoffice.practice.rules import Setting as Default
from backoffice.web.caller import caller
from backoffice.web.forms import (
    CountField,
    Form,
    MoneyField,
)
from backoffice.web.generic import Row
from backoffice.web.office.blueprint import pages
from backoffice.web.records import ScaledField, form_page, keep, list_page, scaled
from backoffice.web.roles import allow
from backoffice.web.writing import reading

DEFAULTS = {setting.name: setting for setting in SETTINGS}
DECIMALS = {
    "ppm": 4,
    "thousandths": 3,
    "thousandths of a cent": 3,
    "thousandths of a horse": 3,
}


def _words_of(unit: str, value: int) -> str:
    speech = caller().speech
    if unit == "cents":
        return speech.money(value)
    shown = scaled(value, DECIMALS[unit]) if unit in DECIMALS else str(value)
    return speech.say(f"unit.{unit}", value=shown)


@pages.get("/office/settings")
@allow("owner")
def settings() -> Response:
    """List every setting with its default and the reason."""
    with reading() as session:
        lines = queries.setting_lines(session)
    return list_page(
        Listed(rows=lines, page=1, more=False),
        tuple(_setting_row(line) for line in lines),
        title=caller().speech.say("to.office.settings"),
        none="",
        also="",
        add=None,
        searched=False,
    )


def _setting_row(line: SettingLine) -> Row:
    say = caller().speech.say
    default = _words_of(line.unit, line.default)
    own = line.value != line.default
    why = DEFAULTS[line.name].why
    return Row(
        url=url_for("office.setting", name=line.name),
        name=_first_large(say(f"setting.{line.name}")),
        says=say("office.default", default=default, why=why) if own else _first_large(why) + ".",
        end=_words_of(line.unit, line.value),
        end_says=say("office.your_own") if own else "",
    )


def _first_large(text: str) -> str:
    return text[:1].upper() + text[1:]


class MoneySetting(Form):
    """A setting that is an amount."""

    value = MoneyField("Amount", needed=True)


class CountSetting(Form):
    """A setting that is counted."""

    value = CountField("How many", needed=True)


class PartSetting(Form):
    """A setting that is a part of a whole."""

    value = ScaledField("Percent", decimals=4, needed=True)


class TimesSetting(Form):
    """A setting with decimals."""

    value = ScaledField("How much", decimals=3, needed=True)


def _setting_form(unit: str) -> type[MoneySetting | CountSetting | PartSetting | TimesSetting]:
    if unit == "cents":
        return MoneySetting
    if unit not in DECIMALS:
        return CountSetting
    return PartSetting if unit == "ppm" else TimesSetting


def _default(name: str) -> Default:
    return DEFAULTS.get(name) or abort(404)


@pages.get("/office/settings/<name>")
@allow("owner")
def setting(name: str) -> Response:
    """Show one setting to be changed."""
    default = _default(name)
    with reading() as session:
        now = queries.settings(session)[name]
    return _setting_page(default, _setting_form(default.unit)(data={"value": now}))


def _setting_page(default: Default, form: Form, status: int = 200) -> Response:
    say = caller().speech.say
    usual = default.uk if caller().practice.words == "uk" else default.us
    return form_page(
        form,
        title=_first_large(say(f"setting.{default.name}")),
        under=say("office.default", default=_words_of(default.unit, usual), why=default.why),
        back=url_for("office.settings"),
        hints={"value": say(f"unit_hint.{default.unit}")},
        status=status,
    )


@pages.post("/office/settings/<name>")
@allow("owner")
def change_setting(name: str) -> Response:
    """Change one setting."""
    default = _default(name)
    form = _setting_form(default.unit).typed()

    def save(session: Session) -> int:
        try:
            service.change_setting(session, name, form.value.data or 0)
        except Refused as refused:
            facts = {**refused.facts, "least": _words_of(default.unit, default.least)}
            if "typed" in facts:
                facts["typed"] = _words_of(default.unit, form.value.data or 0)
            raise Refused(refused.code, field="value", **facts) from None
        return 0

    return keep(
        form,
        save,
        lambda _id: url_for("office.settings"),
        lambda status: _setting_page(default, form, status),
    )
