"""What the API says of itself: OpenAPI 3.1 (https://spec.openapis.org/oas/v3.1.0)."""

from typing import Any

from intake.services.tables import TABLES
from intake.services.webhooks import EVENTS

Node = dict[str, Any]
BASE = "/api/v1"
MOST_ROWS = 1000
ROWS = 100
_CELL: Node = {"type": ["string", "number", "boolean", "null"]}
_NUMBER: Node = {"type": "integer", "minimum": 0}


def description() -> Node:
    """The whole document."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Kinfold",
            "version": "1",
            "summary": "The tables of a home, to be read.",
            "description": "Suggestions, and what people ruled: never a value, an attribution or a word of "
            "authenticity. Pieces of owners who have not permitted it, and papers found in boxes, are in no table. "
            "Columns are only ever added, at the end.",
        },
        "servers": [{"url": "/"}],
        "security": [{}, {"seat": []}],
        "paths": {
            f"{BASE}/tables": {"get": _operation("tables", "Which tables there are", [], "Tables")},
            **{f"{BASE}/tables/{name}": {"get": _table(name)} for name in TABLES},
        },
        "webhooks": {event: {"post": _told(event, words)} for event, words in EVENTS.items()},
        "components": {
            "securitySchemes": {
                "seat": {
                    "type": "apiKey", "in": "cookie", "name": "kinfold_seat",
                    "description": "Where the desk has named users: the cookie that POST /sit gives.",
                }
            },
            "parameters": {"consignment": _CONSIGNMENT, "page": _PAGE, "size": _SIZE},
            "responses": {"Refused": _answer("Refused, in words", "Refusal")},
            "schemas": {
                "Tables": _object(tables=_list(_object(name={"type": "string"}, address={"type": "string"},
                                                       columns=_list({"type": "string"})))),
                "Refusal": _object(error={"type": "string"}),
                "Told": _object(type={"type": "string", "enum": list(EVENTS)},
                                timestamp={"type": "string", "format": "date-time"},
                                data=_object(ruling=_NUMBER, families=_list({"type": "string"}), pictures=_NUMBER)),
                **{f"Rows-{name}": _rows(name, columns) for name, (columns, _) in TABLES.items()},
            },
        },
    }  # fmt: skip


_CONSIGNMENT: Node = {
    "name": "consignment", "in": "query", "schema": {"type": "string", "maxLength": 120},
    "description": "Whose pieces are shown, with those that both owners permit beside them. If unsaid: the one that "
    "the desk is laid for.",
}  # fmt: skip
_PAGE: Node = {"name": "page", "in": "query", "schema": {"type": "integer", "minimum": 1, "default": 1}}
_SIZE: Node = {
    "name": "size", "in": "query", "schema": {"type": "integer", "minimum": 1, "maximum": MOST_ROWS, "default": ROWS},
}  # fmt: skip


def _table(name: str) -> Node:
    parameters = [{"$ref": f"#/components/parameters/{p}"} for p in ("consignment", "page", "size")]
    return _operation(name, f"Rows of the table {name}", parameters, f"Rows-{name}")


def _operation(name: str, words: str, parameters: list[Node], schema: str) -> Node:
    refused = {"$ref": "#/components/responses/Refused"}
    return {
        "operationId": name, "summary": words, "parameters": parameters,
        "responses": {"200": _answer(words, schema), "400": refused, "401": refused, "404": refused},
    }  # fmt: skip


def _answer(words: str, schema: str) -> Node:
    return {"description": words, "content": {"application/json": {"schema": _schema(schema)}}}


def _told(event: str, words: str) -> Node:
    return {
        "operationId": event,
        "summary": words,
        "description": "Signed as Standard Webhooks says where a secret is set. The same webhook-id is the same event.",
        "requestBody": {"content": {"application/json": {"schema": _schema("Told")}}},
        "responses": {"2XX": {"description": "Taken; it is not sent again"}},
    }


def _rows(name: str, columns: tuple[str, ...]) -> Node:
    row = _object(**dict.fromkeys(columns, _CELL))
    return _object(
        table={"const": name}, page={"type": "integer", "minimum": 1}, size=_NUMBER, in_all=_NUMBER,
        next={"type": ["string", "null"], "description": "The address of the next page"},
        ledger={"type": "string", "description": "Another one than on the page before: the table has changed between"},
        rows=_list(row),
    )  # fmt: skip


def _schema(name: str) -> Node:
    return {"$ref": f"#/components/schemas/{name}"}


def _list(of: Node) -> Node:
    return {"type": "array", "items": of}


def _object(**of: Node) -> Node:
    return {"type": "object", "properties": of, "required": list(of)}
