"""A consignment is taken back: its pictures, index entries and records go, and only the account of them stays.

Decisions are never removed: those that named its parts stand in the ledger without them, and nothing shows them.
The owner's own files are not ours and are left where they are, but for copies that came out of a bag.
"""

import shutil
from pathlib import Path

from intake.config.load import Config
from intake.errors import UsageError
from intake.services.handover.sound import file_name
from intake.services.home import Home, now
from intake.services.relate import regroup, to_compare
from intake.services.review import named
from intake.services.searching import open_index
from intake.store import runs, scans, withdrawals
from intake.store.withdrawals import Withdrawal

_LONGEST = 300


def withdraw(home: Home, config: Config, code: str, who: str, why: str) -> Withdrawal:
    """Remove consignment ``code``; returns the account. Asked again of one that went already, removes what was left.

    Raises UsageError where there is no such consignment and there never was, BusyError while a run is at work.
    """
    who, why = named(who), " ".join(why.split())[:_LONGEST]
    if not why:
        raise UsageError("--why: say on whose word the consignment is taken back.")
    with home.held():
        with home.database.read() as connection:
            known = {c.code: Path(c.folder) for c in scans.consignments(connection)}
            before = [w for w in withdrawals.all_withdrawals(connection) if w.consignment == code]
            stamps = runs.current_stamps(connection)
        if code not in known and not before:
            raise UsageError(f"{code}: no such consignment is on record.")
        if code in known:
            with home.database.write() as connection:
                gone = withdrawals.own_digests(connection, code)
                counts = withdrawals.remove(connection, code, gone)
                made = Withdrawal(code, now(), who, why, {"removed": counts, "files": sorted(gone)})
                withdrawals.add_withdrawal(connection, made)
        else:
            made = before[-1]
            with home.database.read() as connection:
                gone = {d for w in before for d in w.account["files"]} - {s.digest for s in scans.all_scans(connection)}
        if stamps is not None:
            if open_index(home, stamps, config.match.candidates) is not None:
                to_compare(home, stamps, config)  # the index is of what is left, from here on
            regroup(home, config, stamps)
        _remove_files(home, gone)
        own = home.folder / "received" / file_name(code)
        shutil.rmtree(own, ignore_errors=True)
    return made


def _remove_files(home: Home, gone: set[str]) -> None:
    """Every picture, pyramid and fingerprint of these files, under every stamp that they were ever made under."""
    folders = [home.folder / "derivatives", *(home.folder / "features").glob("*")]
    for folder in folders:
        for shelf in sorted({d[:2] for d in gone}):
            for path in (folder / shelf).glob("*"):
                if path.name[:64] in gone:
                    path.unlink(missing_ok=True)
    for path in (home.folder / "pyramids").glob("*.tif"):
        if path.name[:64] in gone:
            path.unlink(missing_ok=True)
