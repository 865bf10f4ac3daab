"""Campaigns: derived from the families, and replaced whole with them."""

from collections.abc import Iterable

from sqlalchemy import Connection, delete, insert, select

from intake.kin import Campaign, Tie
from intake.store.codec import from_text, to_text
from intake.store.schema import campaign, campaign_family


def drop_campaigns(connection: Connection) -> None:
    """Take all away, so that the families that they name may be replaced."""
    for table in (campaign_family, campaign):
        connection.execute(delete(table))


def put_campaigns(connection: Connection, campaigns: Iterable[Campaign]) -> None:
    """Add campaigns; their families are there already."""
    for c in campaigns:
        connection.execute(insert(campaign).values(code=c.code, ties=to_text(c.ties)))
        connection.execute(insert(campaign_family), [{"family": f, "campaign": c.code} for f in c.families])


def campaigns_by_family(connection: Connection) -> dict[str, str]:
    """Family's code -> its campaign's, for those that have one."""
    rows = connection.execute(select(campaign_family.c.family, campaign_family.c.campaign))
    return {row.family: row.campaign for row in rows}


def campaign_by_code(connection: Connection, code: str) -> Campaign:
    """This campaign, which is there."""
    t = campaign_family.c
    codes = [f for (f,) in connection.execute(select(t.family).where(t.campaign == code).order_by(t.family))]
    ties = connection.execute(select(campaign.c.ties).where(campaign.c.code == code)).scalar_one()
    return Campaign(code, tuple(codes), from_text(tuple[Tie, ...], ties))


def drop_campaign(connection: Connection, code: str) -> None:
    """Take one away."""
    connection.execute(delete(campaign_family).where(campaign_family.c.campaign == code))
    connection.execute(delete(campaign).where(campaign.c.code == code))


def campaign_of(connection: Connection, family: str) -> Campaign | None:
    """The campaign that this family is of, if any."""
    t = campaign_family.c
    code = connection.execute(select(t.campaign).where(t.family == family)).scalar_one_or_none()
    return None if code is None else campaign_by_code(connection, code)
