"""Model values to JSON text and back. Floats are kept whole; they are rounded on export alone."""

import json
from collections.abc import Hashable
from functools import cache
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter

T = TypeVar("T")


@cache
def _adapter(kind: Hashable) -> TypeAdapter[Any]:
    return TypeAdapter(cast(Any, kind))


def to_text(value: Any) -> str:
    """JSON of a model value. Raises ValueError for a float that is no number: it could not be read back."""
    plain = _adapter(cast(Hashable, type(value))).dump_python(value, mode="json")
    text = json.dumps(plain, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode("utf-8", "replace").decode()  # a message may quote a file name with bytes that are no UTF-8


def from_text(kind: type[T], text: str) -> T:
    """The model value of type ``kind`` that ``text`` holds. Raises pydantic.ValidationError when it does not."""
    made: T = _adapter(cast(Hashable, kind)).validate_json(text)
    return made
