"""The three short lists: to finish, to find out, to rebook; each line with its one answer."""

from dataclasses import dataclass
from datetime import timedelta

from flask import url_for

from backoffice.billing import queries as billing
from backoffice.billing.queries import PaymentWaiting
from backoffice.clients.rules import horse_label, yard_label
from backoffice.db import Session
from backoffice.practice import queries as practice
from backoffice.visits import queries
from backoffice.visits.queries import NamesSaid, ToFindOut, ToFinish, ToRebook
from backoffice.web import said
from backoffice.web.caller import caller
from backoffice.web.forms import new_key

ANSWERS = {"payer": "visits.who_pays", "price": "visits.price", "shoes": "visits.feet"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LateAnswer:
    """What came late and is taken in or dropped with one press."""

    visit_id: int
    subject: str
    form_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A line of a list: of what it speaks, and its answer, a page to open or two buttons.

    ``endpoint`` is the page of the answer; who may not open it is not shown the way there.
    """

    name: str
    says: str
    end: str
    end_says: str
    url: str
    endpoint: str
    answer: str
    answer_url: str
    late: LateAnswer | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lists:
    """The three lists."""

    finish: tuple[Waiting, ...]
    find_out: tuple[Waiting, ...]
    rebook: tuple[Waiting, ...]


NOTHING = Lists(finish=(), find_out=(), rebook=())


def lists(session: Session) -> Lists:
    """Read the three lists."""
    today = caller().today
    return Lists(
        finish=to_finish(session),
        find_out=to_find_out(session),
        rebook=tuple(_rebook(horse) for horse in queries.to_rebook(session, today)),
    )


def to_finish(session: Session) -> tuple[Waiting, ...]:
    """Read the horses done in part."""
    within = timedelta(days=practice.settings(session)["finish_days"])
    return tuple(_finish(work, within) for work in queries.to_finish(session))


def to_find_out(session: Session) -> tuple[Waiting, ...]:
    """Read what is not known yet, what came late, and money nobody knows yet who gave."""
    found = queries.to_find_out(session)
    names = queries.names_said(session, [fact for one in found for fact in one.said])
    paid = billing.payments_waiting(session)
    return (*(_find_out(one, names) for one in found), *(_paid(one) for one in paid))


def _finish(work: ToFinish, within: timedelta) -> Waiting:
    speech = caller().speech
    say = speech.say
    by = work.day + within
    url = url_for("visits.work", work_id=work.work_id)
    left = say("to_finish." + _left(work.feet), feet=", ".join(map(speech.foot, work.feet)))
    if work.planned is not None:
        planned = url_for("today.day", day=work.planned)
        says = say("to_finish.planned", left=left, planned_day=work.planned)
        endpoint, answer, answer_url = "today.day", say("to_finish.open"), planned
    else:
        says, endpoint, answer = left, "visits.finish", say("to_finish.answer")
        answer_url = url_for(endpoint, work_id=work.work_id)
    return Waiting(
        name=horse_label(speech, work.name, work.words),
        says=says,
        end=speech.day(by),
        end_says=say("to_finish.late" if by < caller().today else "to_finish.by"),
        url=url,
        endpoint=endpoint,
        answer=answer,
        answer_url=answer_url,
    )


def _left(feet: tuple[str, ...]) -> str:
    ends = {("LF", "RF"): "fronts", ("LH", "RH"): "hinds"}
    return next((end for both, end in ends.items() if both == feet), "feet")


def _find_out(found: ToFindOut, names: NamesSaid) -> Waiting:
    speech = caller().speech
    yard = yard_label(speech, found.yard_name)
    late = None
    endpoint, answer, answer_url = "visits.late", "", ""
    url = url_for("today.day", day=found.day)
    if found.work_id is not None:
        url = url_for("visits.work", work_id=found.work_id)
    if found.sort == "late":
        says = speech.say("find_out.late", said=said.told(found.said, names))
        late = LateAnswer(visit_id=found.visit_id, subject=found.subject, form_key=new_key())
    else:
        says = speech.say(f"find_out.{found.sort}")
        endpoint = ANSWERS[found.sort]
        answer = speech.say(f"find_out.answer.{found.sort}")
        answer_url = url_for(endpoint, work_id=found.work_id)
    return Waiting(
        name=horse_label(speech, found.name, found.words) if found.work_id else yard,
        says=says,
        end=speech.day(found.day),
        end_says=yard if found.work_id else "",
        url=url,
        endpoint=endpoint,
        answer=answer,
        answer_url=answer_url,
        late=late,
    )


def _paid(waiting: PaymentWaiting) -> Waiting:
    speech = caller().speech
    yard = yard_label(speech, waiting.yard)
    of_work = waiting.work_id is not None
    amount = waiting.given.amount
    who = url_for("payments.who", fact_id=waiting.fact_id)
    return Waiting(
        name=horse_label(speech, waiting.horse, waiting.words) if of_work else yard,
        says=speech.say("find_out.paid", amount_cents=amount)
        if amount is not None
        else speech.say("find_out.paid_what"),
        end=speech.day(waiting.day),
        end_says=yard if of_work else "",
        url=url_for("visits.work", work_id=waiting.work_id)
        if of_work
        else url_for("today.day", day=waiting.day),
        endpoint="payments.who",
        answer=speech.say("find_out.answer.paid"),
        answer_url=who,
    )


def _rebook(horse: ToRebook) -> Waiting:
    speech = caller().speech
    url = url_for("visits.work", work_id=horse.work_id)
    endpoint = "plan.show" if horse.yard_id is not None else "horses.show"
    return Waiting(
        name=horse_label(speech, horse.name, horse.words),
        says=speech.say("to_rebook.missed"),
        end=speech.day(horse.day),
        end_says=yard_label(speech, horse.yard_name),
        url=url,
        endpoint=endpoint,
        answer=speech.say("to_rebook.answer" if horse.yard_id is not None else "to_rebook.yard"),
        answer_url=url_for(endpoint, yard=horse.yard_id, horse=horse.horse_id)
        if horse.yard_id is not None
        else url_for(endpoint, horse_id=horse.horse_id),
    )
