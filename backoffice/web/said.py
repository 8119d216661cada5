"""What was said, in words: each kind of fact as people read it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from backoffice.units import FootWork
from backoffice.visits.queries import FactLine, NamesSaid
from backoffice.visits.rules import FactSort
from backoffice.web import clock
from backoffice.web.caller import caller


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidLine:
    """One thing that was said, and by whom and when."""

    text: str
    by: str


def lines(facts: Sequence[FactLine], names: NamesSaid) -> tuple[SaidLine, ...]:
    """Word facts one by one."""
    return tuple(SaidLine(text=sentence(fact, names), by=_by(fact)) for fact in facts)


def told(facts: Sequence[FactLine], names: NamesSaid) -> str:
    """Word facts in one sentence."""
    text = "; ".join(worded(fact, names) for fact in facts)
    return f"{text[:1].upper()}{text[1:]}."


def sentence(fact: FactLine, names: NamesSaid) -> str:
    """Word one fact as a sentence."""
    return told([fact], names)


def worded(fact: FactLine, names: NamesSaid) -> str:
    """Word one fact as part of a sentence."""
    say = caller().speech.say
    if fact.sort == FactSort.WITHDRAWN:
        what = f"said.kind.{fact.taken}" if fact.taken else "said.nothing"
        return say("said.taken_back", what=say(what))
    return in_words(FactSort(fact.sort), fact.data, names)


def in_words(sort: FactSort, data: Mapping[str, Any], names: NamesSaid) -> str:
    """Word what a kind of fact says with this data, as part of a sentence."""
    words = _WORDS.get(sort)
    return words(data, names) if words and data else _bare(sort)


def _by(fact: FactLine) -> str:
    """Say who said something and when: by the clock, which a demo's day does not stop."""
    here = caller()
    zone = ZoneInfo(here.practice.zone)
    at, now = fact.at.astimezone(zone), clock.now().astimezone(zone)
    hour = f"{at:%H:%M}"
    if at.date() == now.date():
        when = here.speech.say("said.at", at=hour)
    else:
        when = here.speech.say("said.on", on_day=at.date(), at=hour)
    return here.speech.say("said.by", name=fact.by, when=when) if fact.by else when


def _bare(sort: FactSort) -> str:
    """Word what carries nothing with it; any other was emptied on request."""
    bare = sort in (FactSort.AS_PLANNED, FactSort.ABSENT)
    return caller().speech.say(f"said.{sort}" if bare else "said.nothing")


def _booked(data: Mapping[str, Any], names: NamesSaid) -> str:
    service = names.services.get(data.get("service") or 0)
    say = caller().speech.say
    return say("said.booked_for", service=service) if service else say("said.booked")


def _feet(data: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    alike: dict[str, list[str]] = {}
    for foot, said in data.get("feet", {}).items():
        alike.setdefault(_done(said, names), []).append(caller().speech.foot(foot))
    parts = [say("said.feet", feet=_and(feet), done=done) for done, feet in alike.items()]
    if service := names.services.get(data.get("service") or 0):
        parts.append(say("said.feet_service", service=service))
    return ", ".join(parts)


def _done(said: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    done = FootWork(said["done"])
    text = say(f"done.{done}")
    if done.shod:
        size = names.items.get(said.get("shoe") or 0) or say("feet.size_unknown")
        nails = say("feet.nails", nails=said["nails"]) if said.get("nails") else ""
        text = say(f"feet.{done}", size=size, nails=nails)
    return text + (say(f"said.lost_{said['lost']}") if said.get("lost") else "")


def _told(data: Mapping[str, Any], _names: NamesSaid) -> str:
    say = caller().speech.say
    parts = []
    price, travel = data.get("say"), data.get("travel")
    if price is not None:
        parts.append(say("said.told_say", say_cents=price) if price else say("said.told_free"))
    if travel is not None:
        parts.append(say("said.told_travel", travel_cents=travel))
    return ", ".join(parts) or say("said.told_rules")


def _minutes(data: Mapping[str, Any], _names: NamesSaid) -> str:
    return caller().speech.say("said.minutes", minutes=data["minutes"])


def _note(data: Mapping[str, Any], _names: NamesSaid) -> str:
    say, text = caller().speech.say, data.get("text")
    return say("said.note", text=text) if text else say("said.no_note")


def _payers(data: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    paying = [names.clients.get(client) or say("said.unknown") for client, _ in data["parts"]]
    if not paying:
        return say("said.payers_as_always")
    return say("said.payers", names=_and(paying), count=len(paying))


def _paid(data: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    facts = {
        "amount_cents": data["amount"],
        "method": say(f"method.{data.get('method') or 'cash'}"),
    }
    name = names.clients.get(data.get("client") or 0)
    text = say("said.paid_by", name=name, **facts) if name else say("said.paid", **facts)
    if data.get("tip"):
        text += say("said.paid_tip", tip_cents=data["tip"])
    if data.get("receipt"):
        text += say("said.paid_receipt", receipt=data["receipt"])
    return text


def _ground(data: Mapping[str, Any], _names: NamesSaid) -> str:
    say = caller().speech.say
    return say("said.ground", ground=say(f"ground.{data['ground']}"))


def _along(data: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    name = names.farriers.get(data.get("farrier") or 0)
    return say("said.along", name=name) if name else say("said.along_nobody")


def _tool(data: Mapping[str, Any], names: NamesSaid) -> str:
    say = caller().speech.say
    name = names.tools.get(data.get("tool") or 0)
    if name is None or data["what"] == "none":
        return say("said.tool_none")
    return say("said.tool", tool=name, what=say(f"tool_event.{data['what']}"))


def _odometer(data: Mapping[str, Any], _names: NamesSaid) -> str:
    return caller().speech.say("said.odometer", out=data["out"], back=data["in"])


def _and(parts: Sequence[str]) -> str:
    if len(parts) < 2:
        return parts[0] if parts else ""
    return caller().speech.say("said.and", first=", ".join(parts[:-1]), last=parts[-1])


_WORDS = {
    FactSort.BOOKED: _booked,
    FactSort.FEET: _feet,
    FactSort.TOLD: _told,
    FactSort.MINUTES: _minutes,
    FactSort.NOTE: _note,
    FactSort.PAYERS: _payers,
    FactSort.PAID: _paid,
    FactSort.GROUND: _ground,
    FactSort.ALONG: _along,
    FactSort.TOOL: _tool,
    FactSort.ODOMETER: _odometer,
}
