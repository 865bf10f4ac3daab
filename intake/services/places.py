"""Where a piece is: every move is written down, with who and why; nothing of the log is changed or removed."""

from intake.errors import UsageError
from intake.services.dates import PieceName
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named
from intake.store import moves, scans
from intake.store.database import Connection

_LONGEST = 120


class MoveRefused(UsageError):
    """A move that cannot be written down; ``str(error)`` says why, and what to do."""


def move_piece(home: Home, code: str, box: str, piece: str, to: str, who: str, why: str = "") -> moves.Move:
    """Write down that a piece went to place ``to``; returns the move.

    Raises MoveRefused where there is no such piece, listed or received, or it is there already.
    """
    try:
        who = named(who)
    except RulingRefused as error:
        raise MoveRefused(f"--who: {error}") from error
    with home.database.write() as connection:
        here = {s.piece for s in scans.scans_in(connection, code, box)}
        here |= {x.piece for x in scans.listed_pieces(connection, code) if x.box == box}
        if piece not in here:
            raise MoveRefused(f"{code}, box {box}: there is no piece {piece} in it, neither listed nor received.")
        return write_move(connection, (code, box, piece), to, who, why)


def write_move(connection: Connection, name: PieceName, to: str, who: str, why: str = "") -> moves.Move:
    """Write down that a known piece moved. Raises MoveRefused when ``to`` is no place, or where it is already."""
    to, why = (" ".join(x.split()) for x in (to, why))
    if not to or max(len(to), len(why)) > _LONGEST or not (to + why).isprintable():
        raise MoveRefused(f"Say where it is now, in 1 to {_LONGEST} printable characters: a box, a shelf, a person.")
    before = moves.place_of(connection, *name)
    if before == to:
        raise MoveRefused(f"{name[1]} / {name[2]} is at {to} already.")
    moves.add_move(connection, *name, (before, to), now(), who, why)
    return moves.moves_of(connection, *name)[0]
