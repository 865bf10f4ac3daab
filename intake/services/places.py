"""Where a piece is: every move is written down, with who and why; nothing of the log is changed or removed."""

from intake.errors import UsageError
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named
from intake.store import moves, scans

_LONGEST = 120


def move_piece(home: Home, code: str, box: str, piece: str, to: str, who: str, why: str = "") -> moves.Move:
    """Write down that a piece went to place ``to``; returns the move.

    Raises UsageError where there is no such piece, listed or received, or it is there already.
    """
    try:
        who = named(who)
    except RulingRefused as error:
        raise UsageError(f"--who: {error}") from error
    to, why = (" ".join(x.split()) for x in (to, why))
    if not to or max(len(to), len(why)) > _LONGEST or not (to + why).isprintable():
        raise UsageError(f"--to: name the place in 1 to {_LONGEST} printable characters, and the reason in no more.")
    with home.database.write() as connection:
        here = {s.piece for s in scans.scans_in(connection, code, box)}
        here |= {x.piece for x in scans.listed_pieces(connection, code) if x.box == box}
        if piece not in here:
            raise UsageError(f"{code}, box {box}: there is no piece {piece} in it, neither listed nor received.")
        before = moves.place_of(connection, code, box, piece)
        if before == to:
            raise UsageError(f"{box} / {piece} is at {to} already.")
        moves.add_move(connection, code, box, piece, (before, to), now(), who, why)
        return moves.all_moves(connection, code)[-1]
