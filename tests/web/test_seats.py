"""Named users: nobody sees or rules anything before sitting down, and names come from there and nowhere else."""

import sys
from collections.abc import Iterator

import pytest

from intake.config.load import Config
from intake.errors import UsageError
from intake.services import noting, review, users, views
from intake.services.hazards import box_hazards
from intake.services.held import box_of, boxes_with_proposals
from intake.services.home import Home
from intake.services.review import RulingRefused
from intake.store import desk
from intake.store import users as kept
from intake.web.app import make_app
from pipelines.command import main
from tests.made import in_ledger
from tests.web.hand import BASE, HOST, PORT, Client, Made
from tests.web.test_rulings import code_of, form

SECRET = "brown paper and string"


@pytest.fixture
def made(own: Made) -> Iterator[Made]:
    users._tried.clear()
    users.add_user(own.home, "Ida Marl", SECRET)
    users.add_user(own.home, "Ore Vann", SECRET[::-1])
    yield own
    users._tried.clear()


def sit(client: Client, name: str, secret: str) -> int:
    return client.post("/sit", {"name": name, "secret": secret}).status_code


@pytest.mark.parametrize("path", ["/", "/families", "/picture/x", "/ledger.csv", "/no-such-page", "/keys"])
def test_nothing_is_shown_before_one_sits(client: Client, path: str) -> None:
    answer = client.get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/sit")
    assert client.get("/sit").status_code == client.get("/static/desk.css").status_code == 200


def test_forms_of_nobody_write_nothing(client: Client, made: Made) -> None:
    for path in ("/rulings", "/readings", "/singles", "/undo", "/who", "/hazards", "/catalogue"):
        assert client.post(path, {"who": "Ida Marl"}).headers["location"] == "/sit"
    assert in_ledger(made.home) == []


def test_sitting_down_keeps_a_locked_cookie_and_no_secret(client: Client, made: Made) -> None:
    answer = client.post("/sit", {"name": "Ida Marl", "secret": SECRET})
    cookie = answer.headers["set-cookie"].lower()
    assert answer.status_code == 303 and "httponly" in cookie and "samesite=strict" in cookie
    with made.home.database.read() as connection:
        hashed, _ = kept.users(connection)["Ida Marl"]
    assert hashed.startswith("$argon2id$") and SECRET not in hashed
    token = answer.cookies["kinfold_seat"].encode()
    assert token not in (made.home.folder / "kinfold.db").read_bytes()
    client.post("/rise", {})
    assert client.get("/").headers["location"] == "/sit"


def test_the_name_is_that_of_the_seat_whatever_a_form_says(client: Client, made: Made) -> None:
    sit(client, "Ida Marl", SECRET)
    client.cookies.set("kinfold_who", "Ore%20Vann")
    client.post("/rulings", form(client, code_of(made, made.art), verb="confirm", who="Ore Vann"))
    (row,) = in_ledger(made.home)
    assert row.decision.who == "Ida Marl"


@pytest.mark.parametrize(
    ("name", "secret"), [("Ida Marl", "wrong"), ("Nobody", SECRET), ("", ""), ("Ida Marl", "x" * 9000)]
)
def test_a_wrong_secret_is_refused_and_many_are_slowed(client: Client, name: str, secret: str) -> None:
    assert [sit(client, name, secret) for _ in range(8)] == [403] * 8
    answer = client.post("/sit", {"name": "Ida Marl", "secret": SECRET})
    assert answer.status_code == 403 and "Too many tries" in answer.text


def test_a_foreign_page_is_refused_before_the_seat_is_asked(client: Client) -> None:
    assert client.get("/", origin="http://evil.example").status_code == 403
    assert client.get("/", host="evil.example").status_code == 400
    assert client.ask("POST", "/sit", data={"name": "Ida Marl", "secret": SECRET}).status_code == 403  # no Origin


def test_names_that_may_be_taken_for_another_are_refused(made: Made) -> None:
    for name in ("ida marl", "Marl Ida", "Idá Marl"):
        with pytest.raises(UsageError, match="too like Ida Marl"):
            users.add_user(made.home, name, SECRET)
    with pytest.raises(UsageError, match="12 to 256"):
        users.add_user(made.home, "Ada Quill", "short")
    assert users.add_user(made.home, "Ida Marl", "another secret of hers") is False


def test_another_secret_ends_the_seats_under_the_old_one(client: Client, made: Made) -> None:
    sit(client, "Ida Marl", SECRET)
    assert client.get("/").status_code == 200
    users.add_user(made.home, "Ida Marl", "another secret of hers")
    assert client.get("/").headers["location"] == "/sit"


def test_made_up_names_do_not_clear_a_hold(own: Made, config: Config) -> None:
    """Proposed by a name that nobody sat under: with named users it cannot be confirmed."""
    home = own.home

    def proposed(who: str) -> int:
        with home.database.read() as connection:
            (held,) = [b for b in box_hazards(connection, desk.shown_stamps(connection)) if b.held]
            from intake.services.held import token

            view = box_of(connection, config, token(*held.name))
        assert view is not None
        return noting.propose_clearing(home, config, who, view.token, view.token, "laboratory", "report 17", view.seen)

    def seen() -> str:
        with home.database.read() as connection:
            return next(p.seen for b in boxes_with_proposals(connection, config) for p in b.proposals)

    first = proposed("A Made Up Name")
    users.add_user(home, "Ida Marl", SECRET)
    users.add_user(home, "Ore Vann", SECRET)
    with pytest.raises(RulingRefused, match="two people who sat down"):
        noting.confirm_clearing(home, config, "Ida Marl", first, seen())
    review.undo(home, config, "A Made Up Name", first)
    second = proposed("Ore Vann")
    assert noting.confirm_clearing(home, config, "Ida Marl", second, seen()) > second


# ---- the command line -----------------------------------------------------------------------------------------------


def test_a_wide_desk_needs_users_and_names(own: Made, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--home", str(own.home.folder), "desk", "--host", "0.0.0.0"]
    assert main(words) == 2 and "kinfold user add NAME" in capsys.readouterr().err
    users.add_user(own.home, "Ida Marl", SECRET)
    assert main(words) == 2 and "by which names" in capsys.readouterr().err


def test_users_are_named_on_the_command_line(
    own: Made, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import io

    words = ["--home", str(own.home.folder), "user"]
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{SECRET}\n"))
    assert main([*words, "add", "Ida Marl"]) == 0 and main([*words, "list"]) == 0
    assert capsys.readouterr().out.splitlines() == ["Ida Marl may sit down at the desk.", "Ida Marl"]


def test_a_named_host_is_answered_and_no_other(home: Home, config: Config) -> None:
    client = Client(home, config)
    client.app = make_app(home, config, "0.0.0.0", PORT, ("desk.house",))
    assert client.get("/", host=f"desk.house:{PORT}").status_code == 200
    for other in (f"0.0.0.0:{PORT}", f"desk.houses:{PORT}", "desk.house"):
        assert client.get("/", host=other).status_code == 400
    assert BASE.endswith(str(PORT)) and HOST == "127.0.0.1" and views.queue_counts(home) == (0, 0)
