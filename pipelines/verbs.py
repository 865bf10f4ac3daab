"""What each command does: its words into service calls. Heavy things are imported when a command needs them."""

import argparse
import dataclasses
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from intake.errors import UsageError
from pipelines.say import inert

if TYPE_CHECKING:
    from intake.services.home import Home
    from intake.services.receive import Receipt

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_batch"


def receive(options: argparse.Namespace) -> None:
    """`kinfold receive`."""
    from intake.services.handover.unbag import is_bag, receive_bag
    from pipelines.say import say_receipt

    if options.consignment is None and is_bag(options.folder):
        if options.box_list:
            raise UsageError("--box-list: a bag brings its own.")
        got = receive_bag(_open_home(options), options.folder)
        print(
            f"{inert(str(options.folder))}: {got.files} files, each as it was bagged; {got.rows} rows taken on record."
        )
        return
    if options.consignment is None:
        raise UsageError(
            "--consignment: give the code of the consignment. A bag alone, which names its own, needs none."
        )
    say_receipt(_take_in(_open_home(options), options.config, options.folder, options.consignment, options.box_list))


def _take_in(home: "Home", config: Path, folder: Path, code: str, box_list: Path | None) -> "Receipt":
    from intake.config.load import load_config
    from intake.services.receive import receive

    return receive(home, folder, code, load_config(config).receive, box_list)


def run(options: argparse.Namespace) -> None:
    """`kinfold run`."""
    from pipelines.run import explain_night, run_night

    if options.explain:
        explain_night(_open_home(options), options.config, options.consignment)
    else:
        run_night(_open_home(options), options.config, options.consignment, options.workers)


def progress(options: argparse.Namespace) -> None:
    """`kinfold progress`."""
    from intake.services.progress import progress
    from pipelines.say import say_progress

    made = progress(_open_home(options), options.consignment)
    if options.json:
        print(json.dumps(dataclasses.asdict(made), indent=1, ensure_ascii=False))
    else:
        say_progress(made)


def desk(options: argparse.Namespace) -> None:
    """`kinfold desk`."""
    from ipaddress import ip_address

    try:
        loopback = options.host == "localhost" or ip_address(options.host).is_loopback
    except ValueError:
        loopback = False
    import uvicorn

    from intake.config.load import load_config
    from intake.services.review import regroup_all
    from intake.services.users import user_names
    from intake.services.views import has_facts
    from intake.services.webhooks import receiver
    from intake.web.app import make_app
    from pipelines.sending import sending

    home, config = _open_home(options), load_config(options.config)
    if not loopback and not user_names(home):
        raise UsageError(
            f"--host {options.host}: beyond this machine the desk opens for named users alone, and there are none. "
            "Name them first: kinfold user add NAME"
        )
    if options.host in ("0.0.0.0", "::") and not options.name:
        raise UsageError(f"--host {options.host}: say by which names browsers reach it, such as --name desk.house.")
    if not has_facts(home):  # families of an earlier version
        regroup_all(home, config)
    told = receiver()
    app = make_app(home, config, options.host, options.port, options.name, options.api)
    shown = f"[{options.host}]" if ":" in options.host else options.host
    print(f"The desk is open at http://{shown}:{options.port}/ - leave it with Ctrl-C.", flush=True)
    if options.api:
        print(f"Other programs read it at http://{shown}:{options.port}/api/v1/openapi.json", flush=True)
    with sending(home, told):
        uvicorn.run(app, host=options.host, port=options.port, log_level="warning", access_log=False)


def user(options: argparse.Namespace) -> None:
    """`kinfold user`."""
    import getpass

    from intake.services.users import SHORTEST_SECRET, add_user, user_names

    home = _open_home(options)
    if options.verb == "list":
        print("\n".join(map(inert, user_names(home))) or "There are no named users.")
        return
    if not options.name:
        raise UsageError("user add: give the name, as the ledger shall bear it.")
    if sys.stdin.isatty():
        secret = getpass.getpass(f"Secret of {inert(options.name)} ({SHORTEST_SECRET} characters or more): ")
        if getpass.getpass("The same again: ") != secret:
            raise UsageError("The two are not the same. Nothing was written.")
    else:
        secret = sys.stdin.readline(1_000).rstrip("\n")
    is_new = add_user(home, options.name, secret)
    print(f"{inert(options.name)} {'may sit down at the desk' if is_new else 'has another secret'}.")


def find(options: argparse.Namespace) -> None:
    """`kinfold find`."""
    from intake.config.load import load_config
    from intake.services.find import find
    from pipelines.say import say_found

    found = find(_open_home(options), load_config(options.config), options.image, options.top)
    if options.json:
        print(json.dumps(dataclasses.asdict(found), indent=1, ensure_ascii=False))
    else:
        say_found(found)


def export(options: argparse.Namespace) -> None:
    """`kinfold export`."""
    from intake.config.load import load_config
    from intake.services.export import ALTO, export
    from intake.services.tables import TABLES

    if options.table not in (*TABLES, ALTO):
        from intake.services.handover.packages import PACKAGES, Asked, hand_over  # heavy: pictures

        if options.table not in PACKAGES:
            known = f"the tables {', '.join(TABLES)}; and {', '.join((ALTO, *PACKAGES))}"
            raise UsageError(f"{options.table}: no such table, nor anything else that is exported. There are {known}.")
        asked = Asked(
            options.consignment or "", options.family or "", options.with_documents, options.paper, options.mets
        )
        print(hand_over(_open_home(options), load_config(options.config), options.table, options.to, asked))
        return
    documents = options.with_documents and options.table != ALTO
    if options.consignment or options.family or documents or options.mets:
        raise UsageError(
            f"{options.table}: a table is of all; --consignment, --family, --with-documents and --mets are not for it."
        )
    home, config = _open_home(options), load_config(options.config)
    count = export(home, config, options.table, options.to, options.with_documents)
    what = "file" if options.table == ALTO else "row"
    print(f"{options.to}: {count:,} {what if count == 1 else what + 's'}")


def learn(options: argparse.Namespace) -> None:
    """`kinfold learn`."""
    from intake.config.load import load_config
    from intake.services.learning import adopt, prepare
    from pipelines.say import say_learning

    home, config = _known_home(options), load_config(options.config)
    if options.adopt:
        number = adopt(home, config, options.who, options.adopt)
        print(
            f"{options.adopt} holds from now on: ruling {number}, which the ledger takes back. Families were made anew."
        )
        return
    say_learning(home.folder, prepare(home, config))


def import_(options: argparse.Namespace) -> None:
    """`kinfold import`."""
    from intake.services.points import import_points

    made = import_points(_known_home(options), options.file, options.who)
    waits = f"; {made.waiting} of its scans are not here yet: their points wait for them" if made.waiting else ""
    print(f"{options.file}: {made.added} points added, {made.known} known already{waits}.")


def check_home(options: argparse.Namespace) -> int:
    """`kinfold check-home`."""
    from intake.services.checking import check_home, mend
    from pipelines.say import say_checkup

    home = _known_home(options)
    if not options.mend:
        found = check_home(home, options.originals)
        say_checkup(found)
        return 0 if found.is_whole else 6
    with home.held():
        found = check_home(home, options.originals)
        say_checkup(found)
        print(f"{mend(home, found):,} scans will be looked at anew. Type: kinfold run")
        return 0


def backup(options: argparse.Namespace) -> None:
    """`kinfold backup`."""
    from intake.services.backup import backup

    kept = backup(_known_home(options), options.to)
    print(f"{options.to}: {kept.files:,} files, {kept.size_bytes / 1e6:,.1f} MB. The originals are not in it.")


def restore(options: argparse.Namespace) -> None:
    """`kinfold restore`."""
    from intake.services.backup import restore

    kept = restore(options.file, options.home)
    print(f"{options.home}: {kept.files:,} files, {kept.size_bytes / 1e6:,.1f} MB, each compared with its digest.")


def move_home(options: argparse.Namespace) -> None:
    """`kinfold move-home`."""
    from intake.services.moving import move_home

    home = _known_home(options)
    with home.held():
        moved = move_home(home, options.to)
    print(f"{moved.to}: {moved.rows:,} rows, the same row by row. {home.folder} uses it from now on.")
    print(f"The file {home.folder / 'kinfold.db'} is as it was; keep it until you are sure.")


def deploy(options: argparse.Namespace) -> None:
    """`kinfold deploy`."""
    from pipelines.machines import deploy

    deploy(_open_home(options), options.config, options.server, options.when)


def worker(options: argparse.Namespace) -> None:
    """`kinfold worker`."""
    from pipelines.machines import work

    work(_open_home(options), options.config, options.server, options.hand_out)


def move(options: argparse.Namespace) -> None:
    """`kinfold move`."""
    from intake.services.places import move_piece

    o = options
    made = move_piece(_open_home(o), o.consignment, o.box, o.piece, o.to, o.who, o.why)
    print(inert(f"{made.box} / {made.piece}: from {made.from_place} to {made.to_place}, {made.at}"))


def withdraw(options: argparse.Namespace) -> None:
    """`kinfold withdraw`."""
    from intake.config.load import load_config
    from intake.services.withdrawing import withdraw

    home, config = _open_home(options), load_config(options.config)
    made = withdraw(home, config, options.consignment, options.who, options.why)
    print(inert(f"{made.consignment} was withdrawn by {made.who}, {made.at}: {made.why}"))
    for what, count in made.account["removed"].items():
        print(f"  {count:>8} {what}")
    print(f"  {len(made.account['files']):>8} files, by their SHA-256 in: kinfold export withdrawals --to FILE")


def check_setup(options: argparse.Namespace) -> int:
    """`kinfold check-setup`."""
    from intake.setup import inspect_setup

    items = inspect_setup(options.config)
    for item in items:
        state = f"{item.version}  {item.path}" if item.found else f"missing. Type: {item.how_to_get}"
        print(f"{item.name:<26} {state}")
    return 0 if all(item.found for item in items) else 4


def demo(options: argparse.Namespace) -> None:
    """`kinfold demo`."""
    from pipelines.run import run_night
    from pipelines.say import say_receipt

    home = _open_home(options)
    say_receipt(_take_in(home, options.config, SAMPLE / "scans", "2026-014", SAMPLE / "box-list.csv"))
    run_night(home, options.config, None, options.workers)
    print("\nOpen the desk with:  ./kinfold desk")


def test(_options: argparse.Namespace) -> None:
    """`kinfold test`."""
    raise UsageError("tests are set up and run by the launcher: type ./kinfold test")


def _open_home(options: argparse.Namespace) -> "Home":
    from intake.services.home import Home

    return Home(options.home)


def _known_home(options: argparse.Namespace) -> "Home":
    """A home that is there: nothing can be said of one that is only made now."""
    if not (options.home / "scratch").is_dir():
        raise UsageError(f"{options.home}: there is no home. Name it with --home.")
    return _open_home(options)
