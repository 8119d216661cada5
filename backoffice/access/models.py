"""Rows of people who sign in."""

from datetime import datetime

from sqlalchemy.orm import Mapped, mapped_column

from backoffice.db import Base, Choice, Numbered, Versioned, personal, refers

ROLES = ("owner", "field", "books")


class User(Versioned, Base):
    """Someone who may sign in."""

    __tablename__ = "app_user"
    kind = "record"
    name: Mapped[str | None] = personal()
    role: Mapped[str] = mapped_column(Choice(*ROLES))
    password_hash: Mapped[str | None] = mapped_column(info={"secret": True})
    farrier_id: Mapped[int | None] = refers("farrier.id")
    hidden: Mapped[bool]


class SignIn(Numbered, Base):
    """Someone signed in now; only a digest of the cookie is kept."""

    __tablename__ = "sign_in"
    kind = "plumbing"
    token_digest: Mapped[str] = mapped_column(unique=True)
    user_id: Mapped[int] = refers("app_user.id")
    began_at: Mapped[datetime]
    seen_at: Mapped[datetime]


class StartLink(Numbered, Base):
    """A one-time link that signs its user in; only a digest is kept."""

    __tablename__ = "start_link"
    kind = "plumbing"
    token_digest: Mapped[str] = mapped_column(unique=True)
    user_id: Mapped[int] = refers("app_user.id")
    expires_at: Mapped[datetime]


class Tries(Base):
    """Failed password tries of one name, so that guessing gets slower."""

    __tablename__ = "sign_in_tries"
    kind = "plumbing"
    name: Mapped[str] = mapped_column(primary_key=True)
    count: Mapped[int]
    last_at: Mapped[datetime]
