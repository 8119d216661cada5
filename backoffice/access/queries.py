"""Who may sign in, and who is signed in?"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.access import models, rules
from backoffice.access.models import SignIn, User
from backoffice.access.rules import SignedIn

ROLES = models.ROLES


@dataclass(frozen=True, slots=True, kw_only=True)
class UserLine:
    """Someone who may sign in, in a list."""

    id: int
    name: str
    role: str
    farrier_id: int | None
    has_password: bool
    hidden: bool


def who(session: Session, token: str, now: datetime) -> SignedIn | None:
    """Give who holds this token, unless it is unknown, idle too long or too old."""
    found = session.execute(
        select(SignIn, User)
        .join(User, User.id == SignIn.user_id)
        .where(SignIn.token_digest == rules.digest(token), User.hidden == 0)
    ).first()
    if found is None:
        return None
    sign_in, user = found
    if not rules.still_good(sign_in.began_at, sign_in.seen_at, now):
        return None
    return SignedIn(sign_in.id, user.id, user.name or "", user.role, sign_in.seen_at)


def users(session: Session, *, hidden: bool = False) -> tuple[UserLine, ...]:
    """List who may sign in, the oldest first."""
    rows = select(User).order_by(User.id)
    if not hidden:
        rows = rows.where(User.hidden == 0)
    return tuple(
        UserLine(
            id=row.id,
            name=row.name or "",
            role=row.role,
            farrier_id=row.farrier_id,
            has_password=row.password_hash is not None,
            hidden=row.hidden,
        )
        for row in session.scalars(rows)
    )


def first_owner(session: Session) -> int | None:
    """Give the owner who came first, or None while there is none."""
    found = select(User.id).where(User.role == "owner", User.hidden == 0).order_by(User.id)
    return session.scalars(found.limit(1)).first()


def user_named(session: Session, name: str) -> int | None:
    """Give somebody who may sign in by his name."""
    found = select(User.id).where(User.name == name, User.hidden == 0)
    return session.scalars(found.limit(1)).first()
