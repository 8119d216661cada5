"""Letting people in and out: users, passwords, one-time links and sign-ins."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from threading import Lock

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from backoffice.access import queries, rules
from backoffice.access.models import ROLES, SignIn, StartLink, Tries, User
from backoffice.db import insert_or_nothing
from backoffice.errors import Refused
from backoffice.practice.rules import choice, needed

_ONE_AT_A_TIME = Lock()  # a hash takes 128 MiB


@dataclass(frozen=True, slots=True)
class Claim:
    """A name and what its password must fit; an unknown name looks the same."""

    name: str
    source: str
    user_id: int | None
    password_hash: str | None


def first_owner(session: Session, name: str) -> int:
    """Let the first person in, as the owner.

    Raises: Refused if there is somebody already.
    """
    if queries.users(session, hidden=True):
        raise Refused("access.somebody_already")
    return add_user(session, name, "owner")


def add_user(session: Session, name: str, role: str, farrier_id: int | None = None) -> int:
    """Let somebody sign in, by a one-time link until there is a password.

    Raises: Refused if somebody goes by that name already.
    """
    name = needed(name, "name")
    choice(role, ROLES, "role")
    if _named(session, name) is not None:
        raise Refused("name.taken", field="name", name=name)
    user = User(name=name, role=role, password_hash=None, farrier_id=farrier_id, hidden=False)
    session.add(user)
    session.flush()
    return user.id


def shut_out(session: Session, user_id: int) -> None:
    """Let somebody in no longer, at once and everywhere.

    Raises: Refused for the last owner.
    """
    user = _user(session, user_id)
    owners = [line.id for line in queries.users(session) if line.role == "owner"]
    if owners == [user_id]:
        raise Refused("access.last_owner")
    user.hidden = True
    session.execute(delete(StartLink).where(StartLink.user_id == user_id))
    sign_out_everywhere(session, user_id)


def make_start_link(session: Session, user_id: int, now: datetime) -> str:
    """Give a token that signs its user in once, within five minutes."""
    _user(session, user_id)
    session.execute(delete(StartLink).where(StartLink.expires_at <= now))
    token = secrets.token_urlsafe(32)
    session.add(
        StartLink(
            token_digest=rules.digest(token), user_id=user_id, expires_at=now + rules.LINK_LASTS
        )
    )
    session.flush()
    return token


def use_start_link(session: Session, token: str, now: datetime) -> int:
    """Take a one-time token and give its user; a second time it is worth nothing.

    Raises: Refused if it is unknown, used or too old.
    """
    user_id: int | None = session.scalar(
        delete(StartLink)
        .where(StartLink.token_digest == rules.digest(token.strip()), StartLink.expires_at > now)
        .returning(StartLink.user_id)
    )
    if user_id is None or _user(session, user_id).hidden:
        raise Refused("access.link_used", field="token")
    return user_id


def claim(session: Session, name: str, source: str, now: datetime) -> Claim:
    """Count a try to sign in before its password is looked at, and give what it must fit.

    Raises: Refused while this name or this source has to wait.
    """
    for key in _keys(name, source):
        _count_try(session, key, now)
    user = _named(session, name)
    if user is None:
        return Claim(name, source, None, None)
    return Claim(name, source, user.id, user.password_hash)


def fits(claim: Claim, password: str) -> int | None:
    """Give the user whose password this is; no transaction is open meanwhile.

    An unknown name takes as long as a wrong password.
    """
    with _ONE_AT_A_TIME:
        if claim.password_hash is None:
            rules.hash_password(password, b"nobody has this")
            return None
        return claim.user_id if rules.password_fits(password, claim.password_hash) else None


def forget_tries(session: Session, claim: Claim) -> None:
    """Let a name and a source start afresh after the right password."""
    session.execute(delete(Tries).where(Tries.name.in_(_keys(claim.name, claim.source))))


def sign_in(session: Session, user_id: int, now: datetime) -> str:
    """Sign somebody in and give a new token for the cookie; only its digest is kept."""
    session.execute(delete(SignIn).where(SignIn.began_at <= now - rules.ABSOLUTE))
    token = secrets.token_urlsafe(32)
    session.add(
        SignIn(token_digest=rules.digest(token), user_id=user_id, began_at=now, seen_at=now)
    )
    session.flush()
    return token


def sign_out(session: Session, token: str) -> None:
    """End one sign-in."""
    session.execute(delete(SignIn).where(SignIn.token_digest == rules.digest(token)))


def sign_out_everywhere(session: Session, user_id: int) -> None:
    """End every sign-in of one person."""
    session.execute(delete(SignIn).where(SignIn.user_id == user_id))


def set_password(session: Session, user_id: int, password: str) -> None:
    """Give somebody a password; whoever is signed in as them is signed out.

    Raises: Refused for a password that is guessed at once.
    """
    user = _user(session, user_id)
    rules.good_password(password, user.name or "")
    with _ONE_AT_A_TIME:
        user.password_hash = rules.hash_password(password, secrets.token_bytes(16))
    session.flush()
    sign_out_everywhere(session, user_id)


def seen(session: Session, sign_in_id: int, now: datetime) -> None:
    """Note that somebody is still here."""
    session.execute(update(SignIn).where(SignIn.id == sign_in_id).values(seen_at=now))


def _user(session: Session, user_id: int) -> User:
    user = session.get(User, user_id)
    if user is None:
        raise Refused("record.missing")
    return user


def _keys(name: str, source: str) -> tuple[str, str]:
    return f"name {rules.digest(name.strip().casefold())}", f"from {source}"


def _named(session: Session, name: str) -> User | None:
    rows = session.scalars(select(User).where(User.hidden == 0).order_by(User.id))
    told = name.strip().casefold()
    return next((row for row in rows if (row.name or "").casefold() == told), None)


def _count_try(session: Session, key: str, now: datetime) -> None:
    insert_or_nothing(session, Tries, name=key, count=0, last_at=now)
    tries = session.scalars(select(Tries).where(Tries.name == key).with_for_update()).one()
    count = rules.failed_before(tries.count, tries.last_at, now)
    pause = rules.wait(count, tries.last_at, now)
    if pause:
        raise Refused("access.wait", seconds=max(1, round(pause.total_seconds())))
    tries.count, tries.last_at = count + 1, now
    session.execute(
        delete(Tries)
        .where(Tries.last_at <= now - rules.FORGOTTEN_AFTER)
        .execution_options(synchronize_session=False)
    )
