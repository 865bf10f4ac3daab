"""Whose pieces the desk is laid for, and the answer where a piece may not be shown beside them."""

from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import unquote

from starlette.exceptions import HTTPException
from starlette.requests import Request

from intake.services.looks import Withheld
from intake.services.pictures import NoPicture
from intake.services.whose import Whose, whose

LAID_FOR = "kinfold_laid_for"


def laid(request: Request) -> Whose:
    """What may be shown to this browser, asked once a request."""
    if not hasattr(request.state, "whose"):
        wanted = unquote(request.cookies.get(LAID_FOR, ""))[:120]
        request.state.whose = whose(request.app.state.desk.home, wanted)
    return request.state.whose


@contextmanager
def in_words(missing: str = "There is no picture of this.") -> Iterator[None]:
    """Turns "there is none" into 404, and "not permitted" into 403 that says who may see it."""
    try:
        yield
    except NoPicture as error:
        raise HTTPException(404, missing) from error
    except Withheld as error:
        raise HTTPException(403, withheld_words(str(error))) from error


def withheld_words(code: str) -> str:
    """What is said in the place of a piece that may not be shown."""
    return (
        f"This is a piece of consignment {code[:60]}. Both owners have not permitted that their pieces be shown "
        "together; who works on that consignment may see it, with the desk laid for it."
    )
