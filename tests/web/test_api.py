"""The API: described as OpenAPI 3.1 says, off unless asked for, and nothing in it that may not be shown.

The description is checked by openapi-spec-validator, what is answered by jsonschema (JSON Schema 2020-12).
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from intake.config.load import Config
from intake.services import users
from intake.services.home import Home
from intake.services.places import move_piece
from intake.services.tables import TABLES, table
from intake.store import moves
from tests.made import SETTINGS
from tests.services.handover.archive import IDA, LETTER, SECRET, Archive, accepted, archive, confirmed
from tests.web.hand import Client, Made

TABLES_AT = "/api/v1/tables"


@pytest.fixture(scope="module")
def two_owners(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """Consignments C and D; D's owner has not permitted that its pieces be shown beside others'."""
    folder = tmp_path_factory.mktemp("owners")
    made = confirmed(accepted(archive(Home(folder / "home"), folder / "in"), "sheet", "letter"))
    move_piece(made.home, "C", "B1", "0003", "the strong room", IDA)
    yield made
    made.home.database.close()


@pytest.fixture
def program(two_owners: Archive) -> Client:
    """Another program on the same machine."""
    return Client(two_owners.home, SETTINGS, with_api=True)


def rows(client: Client, name: str, asked: str = "") -> list[dict[str, Any]]:
    answer = client.get(f"{TABLES_AT}/{name}?size=1000{asked}")
    assert answer.status_code == 200, answer.text
    return answer.json()["rows"]


def test_it_is_off_unless_asked_for(made: Made, config: Config) -> None:
    client = Client(made.home, config)
    for path in (f"{TABLES_AT}/scans", TABLES_AT, "/api/v1/openapi.json"):
        assert client.get(path).status_code == 404


def test_the_description_is_openapi(program: Client) -> None:
    described = program.get("/api/v1/openapi.json").json()
    OpenAPIV31SpecValidator(described).validate()
    assert {p.removeprefix(f"{TABLES_AT}/") for p in described["paths"]} == {TABLES_AT, *TABLES}
    assert set(described["webhooks"]) == {"family.confirmed", "family.unconfirmed"}


def test_every_table_is_answered_as_described(program: Client) -> None:
    described = program.get("/api/v1/openapi.json").json()
    for name in TABLES:
        answer = program.get(f"{TABLES_AT}/{name}").json()
        schema = {"$ref": f"#/components/schemas/Rows-{name}", "components": described["components"]}
        jsonschema.Draft202012Validator(schema).validate(answer)
    assert [t["name"] for t in program.get(TABLES_AT).json()["tables"]] == list(TABLES)


def test_the_rows_are_those_of_the_exported_tables(own: Made, config: Config) -> None:
    client = Client(own.home, config, with_api=True)
    for name in TABLES:
        columns, found = table(own.home, config, name)
        made = [dict(zip(columns, row, strict=True)) for row in found]
        assert rows(client, name) == json.loads(json.dumps(made)), name


def test_paging_meets_every_row_once_and_says_when_the_ledger_has_changed(own: Made, config: Config) -> None:
    client = Client(own.home, config, with_api=True)
    whole, met, address = rows(client, "scans"), [], f"{TABLES_AT}/scans?size=3&consignment=C"
    marks = set()
    while address:
        answer = client.get(address).json()
        assert answer["in_all"] == len(whole) and len(answer["rows"]) <= 3
        met += answer["rows"]
        marks.add(answer["ledger"])
        address = answer["next"]
    assert met == whole and len(marks) == 1
    move_piece(own.home, "C", "B01", "0003", "shelf 7", IDA)
    assert client.get(f"{TABLES_AT}/scans").json()["ledger"] not in marks
    assert [r["to"] for r in rows(client, "moves")] == ["shelf 7"]


def test_nothing_of_another_owner_and_no_paper_found_in_a_box_is_in_any_table(
    program: Client, two_owners: Archive
) -> None:
    theirs, letter = two_owners.keys["other"].digest, two_owners.keys["letter"].digest
    for name in TABLES:
        said = json.dumps(rows(program, name))
        for word in (SECRET, '"D"', "0009", theirs, LETTER, letter, "0003", "the strong room"):
            assert word not in said, (name, word)
    for name in TABLES:
        said = json.dumps(rows(program, name, "&consignment=D"))
        for word in ('"C"', two_owners.keys["sheet"].digest, "MARL AND SONS", "0002", LETTER):
            assert word not in said, (name, word)
    assert SECRET in json.dumps(rows(program, "marks", "&consignment=D"))
    assert len(rows(program, "matches")) == 2


def test_what_both_owners_permit_is_shown(own_owners: Archive) -> None:
    client = Client(own_owners.home, SETTINGS, with_api=True)
    assert {r["consignment"] for r in rows(client, "scans")} == {"C"}
    with own_owners.home.database.write() as connection:
        moves.permit(connection, "C", True)
        moves.permit(connection, "D", True)
    assert {r["consignment"] for r in rows(client, "scans")} == {"C", "D"}
    assert len(rows(client, "matches")) == 3


@pytest.fixture
def own_owners(tmp_path: Path) -> Iterator[Archive]:
    home = Home(tmp_path / "home")
    yield archive(home, tmp_path / "in")
    home.database.close()


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/scans?page=0", 400), ("/scans?size=1001", 400), ("/scans?size=x", 400), ("/scans?consignment=nobody", 404),
        ("/users", 404), ("/desk_user", 404), ("/..%2f..%2fkinfold.db", 404),
    ],
)  # fmt: skip
def test_refusals_are_json_in_words(program: Client, path: str, status: int) -> None:
    answer = program.get(TABLES_AT + path)
    assert answer.status_code == status and answer.headers["content-type"] == "application/json"
    assert answer.json()["error"]


def test_it_has_the_door_of_the_desk(program: Client) -> None:
    at = f"{TABLES_AT}/scans"
    assert program.get(at, host="desk.example").status_code == 400
    assert program.get(at, origin="http://evil.example").status_code == 403
    assert program.ask("DELETE", at, headers={"origin": "http://127.0.0.1:8471"}).status_code == 405
    head = program.get(at).headers
    assert "access-control-allow-origin" not in head and head["cache-control"] == "no-store"
    assert head["cross-origin-resource-policy"] == "same-origin"


def test_where_there_are_named_users_it_is_for_those_who_sit(own: Made, config: Config) -> None:
    users._tried.clear()
    users.add_user(own.home, IDA, "brown paper and string")
    client = Client(own.home, config, with_api=True)
    assert client.get(f"{TABLES_AT}/scans").status_code == client.get("/api/v1/openapi.json").status_code == 401
    client.post("/sit", {"name": IDA, "secret": "brown paper and string"})
    assert client.get(f"{TABLES_AT}/scans").status_code == 200
    users._tried.clear()
