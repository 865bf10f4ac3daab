"""A word to another program when a family is confirmed: only where KINFOLD_WEBHOOK names an address; else nothing.

The word is written with the ruling, in one transaction, and sent afterwards by the desk: a ruling never waits for the
network. It is sent until it is taken, always under the same ``webhook-id``, by which a receiver knows it again: where
the network breaks off between sending and hearing of it, it comes twice under that name. It holds no names and no
marks. Form and signature: Standard Webhooks 1.0 (https://www.standardwebhooks.com). Address and secret are read from
the environment alone, and stand in no message, log or table.
"""

import base64
import hashlib
import hmac
import http.client
import json
import os
import threading
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from typing import NamedTuple
from urllib.parse import urlsplit

from intake.errors import HomeError, UsageError
from intake.model import PartKey
from intake.services.home import Home, now
from intake.store import families, outbox
from intake.store.database import Connection

ADDRESS, SECRET = "KINFOLD_WEBHOOK", "KINFOLD_WEBHOOK_SECRET"
EVENTS = {
    "family.confirmed": "A person confirmed a family",
    "family.unconfirmed": "A person took the confirming of a family back",
}
_PATIENCE_S = 10
_CLAIM_S = 60
_FIRST_S, _MOST_S = 10, 3600
_LOOK_S = 5.0
_PREFIX = "whsec_"


class Receiver(NamedTuple):
    """Where to, and what signs it (empty: nothing does)."""

    address: str
    secret: bytes


def receiver() -> Receiver | None:
    """Who is told, by the environment; None where nobody is.

    Raises UsageError, which does not repeat it, where the address is neither https nor on this machine, or the secret
    is none.
    """
    address = os.environ.get(ADDRESS, "")
    if not address:
        return None
    try:
        parts = urlsplit(address)
        is_good = bool(parts.hostname) and (
            parts.scheme == "https" or (parts.scheme == "http" and _is_here(parts.hostname or ""))
        )
        is_good = (
            is_good and parts.port != 0 and parts.username is None and address.isprintable() and " " not in address
        )
    except ValueError:
        is_good = False
    if not is_good:
        raise UsageError(
            f"{ADDRESS}: give an https address, or http on this machine, without a name and password in it."
        )
    return Receiver(address, _key(os.environ.get(SECRET, "")))


def tell(connection: Connection, event: str, ruling: int, parts: Sequence[PartKey]) -> None:
    """Write the word of a ruling into the outbox, within the ruling's own transaction; nothing where nobody is told."""
    if not os.environ.get(ADDRESS):
        return
    at, of = now(), sorted(set(families.codes_of(connection, parts).values()))
    data = {"ruling": ruling, "families": of, "pictures": len(parts)}
    body = json.dumps({"type": event, "timestamp": at, "data": data}, separators=(",", ":"))
    outbox.add(connection, f"msg_{os.urandom(16).hex()}", at, body)


def signature(secret: bytes, name: str, timestamp: int, body: str) -> str:
    """As Standard Webhooks says: HMAC-SHA256 of name, time and body."""
    signed = hmac.digest(secret, f"{name}.{timestamp}.{body}".encode(), hashlib.sha256)
    return "v1," + base64.b64encode(signed).decode()


def words_waiting(home: Home) -> int:
    """How many words were not taken yet."""
    with home.database.read() as connection:
        return outbox.waiting(connection)


def send_one(home: Home, to: Receiver) -> str | None:
    """Send the oldest word that is due. None: there was none; empty: it was taken; else why it was not."""
    at = datetime.now(UTC)
    with home.database.write() as connection:
        one = outbox.claim(connection, _text(at), _text(at + timedelta(seconds=_CLAIM_S)))
    if one is None:
        return None
    said = _post(to, one, int(at.timestamp()))
    with home.database.write() as connection:
        if not said:
            outbox.taken(connection, one.id, now())
        else:
            wait = min(_MOST_S, _FIRST_S * 2 ** min(one.tries, 20))
            outbox.put_off(connection, one.id, _text(datetime.now(UTC) + timedelta(seconds=wait)), said)
    return said


def keep_sending(home: Home, to: Receiver, say: Callable[[str], None], until: threading.Event) -> None:
    """Send what waits, and what comes, until told to stop. What goes wrong is said once, and ends nothing."""
    last = ""
    while not until.is_set():
        try:
            said = send_one(home, to)
        except HomeError as error:
            said = type(error).__name__
        if said and said != last:
            say(f"A word could not be handed over ({said}). It is kept, and tried again.")
        last = said if said is not None else last
        if said is None or said:
            until.wait(_LOOK_S)


class _NoFurther(urllib.request.HTTPRedirectHandler):
    """An answer that leads elsewhere is not followed: elsewhere may be anywhere."""

    def redirect_request(self, *_: object, **__: object) -> None:
        return None


def _post(to: Receiver, one: outbox.Waiting, timestamp: int) -> str:
    """Empty where it was taken; else why not, in words that hold nothing of the address."""
    head = {
        "Content-Type": "application/json", "User-Agent": "Kinfold", "webhook-id": one.name,
        "webhook-timestamp": str(timestamp),
    }  # fmt: skip
    if to.secret:
        head["webhook-signature"] = signature(to.secret, one.name, timestamp, one.body)
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}), _NoFurther())
    asked = urllib.request.Request(to.address, one.body.encode(), head, method="POST")
    try:
        with opener.open(asked, timeout=_PATIENCE_S):
            return ""
    except urllib.error.HTTPError as error:
        error.close()
        return f"HTTP {error.code}"
    except (OSError, http.client.HTTPException, ValueError) as error:
        reason = getattr(error, "reason", error)
        return type(reason if isinstance(reason, Exception) else error).__name__


def _is_here(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def _key(secret: str) -> bytes:
    """The bytes of a secret: after ``whsec_`` they are base64, else the text is the secret."""
    if not secret.startswith(_PREFIX):
        return secret.encode()
    try:
        return base64.b64decode(secret.removeprefix(_PREFIX), validate=True)
    except ValueError:
        raise UsageError(f"{SECRET}: after {_PREFIX} base64 is needed.") from None


def _text(at: datetime) -> str:
    return at.isoformat(timespec="seconds")
