"""Who may sit down at the desk, and who sits there. Neither secrets nor tokens are kept, only what proves them."""

from sqlalchemy import Connection, delete, insert, select, update

from intake.store.schema import desk_session, desk_user


def put_user(connection: Connection, name: str, secret: str, at: str) -> None:
    """Add a user, or give one another secret: whoever sits there under the old one has to sit down anew."""
    known = connection.execute(select(desk_user.c.name).where(desk_user.c.name == name)).first()
    if known is None:
        connection.execute(insert(desk_user).values(name=name, secret=secret, added_at=at))
    else:
        connection.execute(update(desk_user).where(desk_user.c.name == name).values(secret=secret))
        connection.execute(delete(desk_session).where(desk_session.c.name == name))


def users(connection: Connection) -> dict[str, tuple[str, str]]:
    """Name -> (hash of the secret, since when)."""
    rows = connection.execute(select(desk_user.c.name, desk_user.c.secret, desk_user.c.added_at))
    return {name: (secret, at) for name, secret, at in rows}


def put_session(connection: Connection, token: str, name: str, until: str, now: str) -> None:
    """Let somebody sit; whoever's time has run out is taken away."""
    connection.execute(delete(desk_session).where(desk_session.c.until < now))
    connection.execute(insert(desk_session).values(token=token, name=name, until=until))


def session_name(connection: Connection, token: str, now: str) -> str:
    """Who sits there under this token; empty when nobody does (any more)."""
    t = desk_session.c
    found = connection.execute(select(t.name).where(t.token == token, t.until >= now)).scalar_one_or_none()
    return str(found or "")


def drop_session(connection: Connection, token: str) -> None:
    """They have left."""
    connection.execute(delete(desk_session).where(desk_session.c.token == token))
