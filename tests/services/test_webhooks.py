"""A word of a confirmed family: written with the ruling, sent until taken, signed as Standard Webhooks says.

Signatures are verified by the reference library of that specification (standardwebhooks), and made as in its example.
"""

import base64
import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
import standardwebhooks

from intake.errors import UsageError
from intake.services import webhooks
from intake.services.home import Home
from intake.services.review import RulingRefused, decide, undo
from intake.store import decisions, outbox
from tests.made import SETTINGS
from tests.services.handover.archive import IDA, Archive, archive, confirmed

KEY = base64.b64encode(b"brown paper and string, twice").decode()
Got = tuple[dict[str, str], bytes]


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Archive]:
    """An archive in which nobody has ruled, at a desk that tells another program."""
    home = Home(tmp_path / "home")
    found = archive(home, tmp_path / "in")
    monkeypatch.setenv(webhooks.ADDRESS, "http://127.0.0.1:9/unanswered-7f3a")
    monkeypatch.setenv(webhooks.SECRET, f"whsec_{KEY}")
    yield found
    home.database.close()


@contextmanager
def listening(*statuses: int) -> Iterator[tuple[str, list[Got]]]:
    """A program that answers with these, the last one again and again; its address, and what it was sent."""
    got: list[Got] = []
    answers = list(statuses)

    class Answer(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            got.append(
                ({k.lower(): v for k, v in self.headers.items()}, self.rfile.read(int(self.headers["content-length"])))
            )
            self.send_response(answers.pop(0) if len(answers) > 1 else answers[0])
            self.send_header("location", "http://127.0.0.1:9/elsewhere")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/told", got
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def due_now(home: Home) -> None:
    """Let what was put off be due."""
    with home.database.write() as connection:
        connection.exec_driver_sql("update outbox set due = '2026-01-01T00:00:00+00:00'")


def test_a_word_is_sent_once_signed_and_holds_no_name(made: Archive) -> None:
    confirmed(made)
    assert webhooks.words_waiting(made.home) == 1
    with listening(204) as (address, got):
        to = webhooks.Receiver(address, base64.b64decode(KEY))
        assert webhooks.send_one(made.home, to) == ""
        due_now(made.home)
        assert webhooks.send_one(made.home, to) is None
    ((head, body),) = got
    said = standardwebhooks.Webhook(f"whsec_{KEY}").verify(body, head)
    assert said["type"] == "family.confirmed"
    assert said["data"] == {"ruling": 1, "families": [made.family()], "pictures": 4}
    assert IDA not in body.decode() and webhooks.words_waiting(made.home) == 0


def test_the_signature_of_the_published_example() -> None:
    """Standard Webhooks 1.0, section "Signature scheme": the library's own signer, and the example of its tests."""
    secret = "MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
    given = ("msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, '{"test": 2432232314}')
    made = webhooks.signature(base64.b64decode(secret), *given)
    assert made == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_a_word_that_is_not_taken_is_kept_and_comes_again_under_its_name(made: Archive) -> None:
    confirmed(made)
    to = webhooks.Receiver("http://127.0.0.1:9/unanswered-7f3a", b"")
    said = webhooks.send_one(made.home, to)
    assert said == "ConnectionRefusedError" and webhooks.words_waiting(made.home) == 1
    assert webhooks.send_one(made.home, to) is None, "it waits before it tries again"
    with listening(503, 302, 200) as (address, got):
        to = webhooks.Receiver(address, b"")
        for answer in ("HTTP 503", "HTTP 302", ""):
            due_now(made.home)
            assert webhooks.send_one(made.home, to) == answer
    assert len({head["webhook-id"] for head, _ in got}) == 1 and len({body for _, body in got}) == 1
    assert webhooks.words_waiting(made.home) == 0 and "webhook-signature" not in got[0][0]


def test_where_the_sender_dies_the_word_comes_again_under_its_name(made: Archive) -> None:
    """Between the answer and its being written down: nobody can know, so the receiver is given what to know it by."""
    confirmed(made)
    with made.home.database.write() as connection:
        taken_along = outbox.claim(connection, "2026-11-02T20:00:00+00:00", "2026-11-02T20:01:00+00:00")
        assert taken_along is None, "it is not due before the ruling was made"
        first = outbox.claim(connection, "9998-01-01T00:00:00+00:00", "9999-01-01T00:00:00+00:00")
    with listening(200) as (address, got):
        to = webhooks.Receiver(address, b"")
        assert webhooks.send_one(made.home, to) is None, "another one has it in hand"
        due_now(made.home)
        assert webhooks.send_one(made.home, to) == ""
    assert first is not None and [head["webhook-id"] for head, _ in got] == [first.name]


def test_words_come_in_their_order_and_two_senders_send_none_twice(made: Archive) -> None:
    confirmed(made)
    undo(made.home, SETTINGS, IDA, 1)
    undo(made.home, SETTINGS, IDA, 2)
    with listening(200) as (address, got):
        to = webhooks.Receiver(address, b"")

        def send() -> None:
            for _ in range(20):
                webhooks.send_one(made.home, to)

        senders = [threading.Thread(target=send) for _ in range(2)]
        for sender in senders:
            sender.start()
        for sender in senders:
            sender.join()
    told = [json.loads(body) for _, body in got]
    assert [t["type"] for t in told] == ["family.confirmed", "family.unconfirmed", "family.confirmed"]
    assert [t["data"]["ruling"] for t in told] == [1, 2, 3]


def test_ruling_and_word_stand_or_fall_together(made: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RulingRefused("broken off")

    monkeypatch.setattr(outbox, "add", broken)
    with pytest.raises(RulingRefused):
        confirmed(made)
    with made.home.database.read() as connection:
        assert decisions.all_decisions(connection) == [] and outbox.waiting(connection) == 0


def test_only_a_confirmed_family_is_told_and_nothing_where_nobody_is_told(
    made: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    decide(made.home, SETTINGS, IDA, "join", [made.keys["painting"], made.keys["other"]], {})
    assert webhooks.words_waiting(made.home) == 0
    monkeypatch.delenv(webhooks.ADDRESS)
    confirmed(made)
    assert webhooks.words_waiting(made.home) == 0 and webhooks.receiver() is None


@pytest.mark.parametrize(
    "address",
    [
        "http://desk.example/told", "ftp://127.0.0.1/", "file:///etc/passwd", "https://", "https://ida:pw@desk.example/",
        "http://127.0.0.1.example/", "http://[::2]/", "https://desk.example:99999/", "https://desk.example/a b",
        "https://desk.example/\r\nx: y", "nonsense",
    ],
)  # fmt: skip
def test_other_addresses_are_refused_and_not_repeated(monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    monkeypatch.setenv(webhooks.ADDRESS, address)
    with pytest.raises(UsageError, match=webhooks.ADDRESS) as refused:
        webhooks.receiver()
    assert address not in str(refused.value) and refused.value.__cause__ is None


@pytest.mark.parametrize(
    "address", ["https://desk.example/told", "http://127.0.0.1:8/x", "http://[::1]/", "http://localhost/"]
)
def test_https_or_this_machine(monkeypatch: pytest.MonkeyPatch, address: str) -> None:
    monkeypatch.setenv(webhooks.ADDRESS, address)
    monkeypatch.setenv(webhooks.SECRET, f"whsec_{KEY}")
    assert webhooks.receiver() == webhooks.Receiver(address, base64.b64decode(KEY))
    monkeypatch.setenv(webhooks.SECRET, "whsec_$$$")
    with pytest.raises(UsageError) as refused:
        webhooks.receiver()
    assert "$$$" not in str(refused.value)


def test_what_is_said_holds_neither_address_nor_secret(made: Archive, tmp_path: Path) -> None:
    confirmed(made)
    heard: list[str] = []
    done = threading.Event()

    def say(words: str) -> None:
        heard.append(words)
        done.set()

    webhooks.keep_sending(made.home, webhooks.Receiver("http://127.0.0.1:9/unanswered-7f3a", KEY.encode()), say, done)
    assert heard == ["A word could not be handed over (ConnectionRefusedError). It is kept, and tried again."]
    made.home.database.close()
    for path in (tmp_path / "home").rglob("*"):
        if path.is_file():
            held = path.read_bytes()
            assert b"unanswered-7f3a" not in held and KEY.encode() not in held, path
