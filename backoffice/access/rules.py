"""Who is let in: how long a sign-in lasts, what a password must be, and when to try again."""

import base64
import hashlib
import hmac
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from backoffice.errors import Refused

IDLE = timedelta(hours=12)
ABSOLUTE = timedelta(days=7)
SEEN_EVERY = timedelta(minutes=15)
LINK_LASTS = timedelta(minutes=5)

FREE_TRIES = 5
LONGEST_WAIT = timedelta(seconds=300)
FORGOTTEN_AFTER = timedelta(hours=1)

SHORTEST = 8
LONGEST = 256
COST = 17  # of 2: 128 MiB and about half a second, so that guessing is dear
_BLOCKS, _LANES = 8, 1
_COMMON = (
    "password", "passwort", "letmein", "welcome", "qwerty", "qwertz", "asdfgh", "iloveyou",
    "football", "baseball", "sunshine", "princess", "trustno", "starwars", "computer", "superman",
    "horseshoe", "farrier",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Someone signed in now."""

    sign_in_id: int
    user_id: int
    name: str
    role: str
    seen_at: datetime


def digest(token: str) -> str:
    """Give what the database keeps of a token; the token cannot be had back from it."""
    return hashlib.sha256(token.encode()).hexdigest()


def still_good(began_at: datetime, seen_at: datetime, now: datetime) -> bool:
    """Whether a sign-in is neither idle too long nor too old."""
    return now < seen_at + IDLE and now < began_at + ABSOLUTE


def wait(count: int, last_at: datetime, now: datetime) -> timedelta:
    """Give how long to wait after failed tries: five are free, then 1, 2, 4 … 300 seconds."""
    if count < FREE_TRIES:
        return timedelta()
    pause = min(timedelta(seconds=2 ** min(count - FREE_TRIES, 20)), LONGEST_WAIT)
    return max(last_at + pause - now, timedelta())


def failed_before(count: int, last_at: datetime, now: datetime) -> int:
    """Give how many failed tries still count; an hour of peace forgets them."""
    return 0 if now - last_at >= FORGOTTEN_AFTER else count


def hash_password(password: str, salt: bytes) -> str:
    """Hash a password with scrypt; the result names its own parameters."""
    return "$".join(
        ("scrypt", str(COST), str(_BLOCKS), str(_LANES), _text(salt),
         _text(_scrypt(password, salt, COST, _BLOCKS, _LANES)))
    )  # fmt: skip


def password_fits(password: str, kept: str) -> bool:
    """Whether a password is the one that was hashed."""
    _name, cost, blocks, lanes, salt, key = kept.split("$")
    typed = _scrypt(password, _bytes(salt), int(cost), int(blocks), int(lanes))
    return hmac.compare_digest(typed, _bytes(key))


def good_password(password: str, name: str) -> str:
    """Take a password that is not guessed at once.

    Raises: Refused under 8 and over 256 characters, and for the commonest.
    """
    if len(password) < SHORTEST:
        raise Refused("access.password_short", field="password", least=SHORTEST)
    if len(password) > LONGEST:
        raise Refused("text.too_long", field="password", most=LONGEST)
    plain = password.casefold()
    letters = "".join(character for character in plain if character.isalpha())
    if len(set(plain)) < 5 or letters in (*_COMMON, name.casefold()) or _run(plain):
        raise Refused("access.password_easy", field="password")
    return password


def _run(text: str) -> bool:
    steps = {ord(after) - ord(before) for before, after in pairwise(text)}
    return len(steps) == 1


def _scrypt(password: str, salt: bytes, cost: int, blocks: int, lanes: int) -> bytes:
    memory = 130 * blocks * 2**cost + 2**20
    return hashlib.scrypt(
        password.encode(), salt=salt, n=2**cost, r=blocks, p=lanes, maxmem=memory, dklen=32
    )


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode()


def _bytes(text: str) -> bytes:
    return base64.b64decode(text)
