"""Named users of the desk. Once there is one, every name in the ledger comes from who sat down, never from a form.

Secrets are hashed by Argon2id (RFC 9106) with the library's own settings; a browser holds a random token of 256 bits,
of which only the SHA-256 is kept.
"""

import hashlib
import secrets
import threading
import time
from collections import deque
from datetime import UTC, datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from intake.errors import UsageError
from intake.services.clearing import is_same_person
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named
from intake.store import users

SHORTEST_SECRET = 12
_LONGEST_SECRET = 256
_LASTS = timedelta(hours=14)  # a working day, with its evening
_TRIES, _WINDOW_S = 8, 60.0

_hasher = PasswordHasher()
_NOBODY = _hasher.hash(secrets.token_hex(16))  # an unknown name costs as much time as a known one
_one_at_a_time = threading.Lock()  # each hashing takes tens of megabytes
_tried: deque[float] = deque(maxlen=_TRIES)


def add_user(home: Home, name: str, secret: str) -> bool:
    """Add a user, or give one another secret; True when the name is new.

    Raises UsageError when the name is none or one that another user may be taken for, or the secret is too short.
    """
    try:
        name = named(name)
    except RulingRefused as error:
        raise UsageError(str(error)) from None
    if not SHORTEST_SECRET <= len(secret) <= _LONGEST_SECRET:
        raise UsageError(f"A secret has {SHORTEST_SECRET} to {_LONGEST_SECRET} characters.")
    hashed = _hasher.hash(secret)
    with home.database.write() as connection:
        known = users.users(connection)
        taken = next((other for other in known if other != name and is_same_person(other, name)), None)
        if taken or not any(c.isalnum() for c in name):
            raise UsageError(f"{name}: too like {taken}." if taken else f"{name}: a name has letters.")
        users.put_user(connection, name, hashed, now())
    return name not in known


def user_names(home: Home) -> list[str]:
    """Everybody who may sit down at the desk."""
    with home.database.read() as connection:
        return sorted(users.users(connection))


def sit_down(home: Home, name: str, secret: str) -> str:
    """A fresh token for this person. Raises RulingRefused when the two do not go together, or after many tries."""
    with _one_at_a_time:
        if len(_tried) == _TRIES and time.monotonic() - _tried[0] < _WINDOW_S:
            raise RulingRefused("Too many tries. Wait a minute, then try again.")
        with home.database.read() as connection:
            hashed, _ = users.users(connection).get(name, (_NOBODY, ""))
        try:
            _hasher.verify(hashed, secret[:_LONGEST_SECRET])
        except (VerificationError, InvalidHashError):
            _tried.append(time.monotonic())
            raise RulingRefused("Name and secret do not go together.") from None
    token = secrets.token_urlsafe(32)
    until = (datetime.now(UTC) + _LASTS).isoformat(timespec="seconds")
    with home.database.write() as connection:
        users.put_session(connection, _kept(token), name, until, now())
    return token


def who_sits(home: Home, token: str) -> tuple[bool, str]:
    """(are there named users, who sits there under this token); no name where nobody does."""
    with home.database.read() as connection:
        if not users.users(connection):
            return False, ""
        return True, users.session_name(connection, _kept(token), now()) if token else ""


def get_up(home: Home, token: str) -> None:
    """They have left."""
    with home.database.write() as connection:
        users.drop_session(connection, _kept(token))


def _kept(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
