"""The `kinfold` command line: words into service calls, errors into exit codes.

Heavy things are imported when a command needs them.
"""

import argparse
import dataclasses
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from intake.errors import KinfoldError, UsageError
from pipelines.say import inert

if TYPE_CHECKING:
    from intake.services.home import Home
    from intake.services.receive import Receipt

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_batch"
EXIT_CODES = """\
exit codes:
  0  done (findings are no failure)     4  something is not installed
  1  cannot go on                       5  another run is at work in this home
  2  the command or a named file is wrong   6  the home folder cannot be used
  3  config/ does not load              7  stopped as asked; run again to continue
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code."""
    options = _parser().parse_args(arguments)
    try:
        code = int(options.run(options) or 0)
        sys.stdout.flush()  # here, so that a reader who left early is met here too
        return code
    except KinfoldError as error:
        print("kinfold: " + "\n".join(map(inert, str(error).split("\n"))), file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("kinfold: interrupted; what was finished is kept.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="kinfold",
        description="Takes in the scans of a consigned film-poster archive; suggests which pieces are of one design.",
        epilog="example:\n  kinfold demo\n\n" + EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    home = os.environ.get("KINFOLD_HOME") or str(ROOT / "kinfold-home")
    top.add_argument("--home", type=Path, default=Path(home), help="database, derivatives, logs (or KINFOLD_HOME)")
    top.add_argument("--config", type=Path, default=ROOT / "config", help="the folder of settings")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def command(
        name: str, run: Callable[[argparse.Namespace], int | None], words: str, example: str
    ) -> argparse.ArgumentParser:
        made = commands.add_parser(
            name,
            help=words,
            description=words[0].upper() + words[1:] + ".",
            epilog=f"example:\n  kinfold {example}\n\n{EXIT_CODES}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        made.set_defaults(run=run)
        return made

    receive = command(
        "receive", _receive, "take in a folder of scans; it is only read, and only what is new is added",
        "receive /scans/2026-014 --consignment 2026-014 --box-list boxes.csv",
    )  # fmt: skip
    receive.add_argument(
        "folder", type=Path, help="its first-level folders are the boxes; or a bag, into an empty home"
    )
    receive.add_argument("--consignment", metavar="CODE", help="needed unless the folder is a bag")
    receive.add_argument("--box-list", type=Path, metavar="FILE.csv", help="box, piece, description, sides, held, why")

    run = command("run", _run, "look at everything new, match, group; a stopped run continues", "run --workers 2")
    run.add_argument("--consignment", metavar="CODE", help="only this one's scans")
    run.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: config/run.toml)")
    run.add_argument("--explain", action="store_true", help="say what would be made, what anew and why; do nothing")

    progress = command("progress", _progress, "how far each box is", "progress --consignment 2026-014")
    progress.add_argument("--consignment", metavar="CODE")
    progress.add_argument("--json", action="store_true", help="for other programs")

    desk = command("desk", _desk, "open the desk in the browser", "desk --port 8471")
    desk.add_argument("--host", default="127.0.0.1", help="an address of this machine; beyond loopback it needs users")
    desk.add_argument("--name", action="append", default=[], metavar="HOST", help="a name that browsers call it by")
    desk.add_argument("--port", type=_port, default=8471)
    desk.add_argument("--api", action="store_true", help="let other programs read the tables, at /api/v1/tables")

    words = "name who may sit down at the desk; their secret is asked for"
    user = command("user", _user, words, "user add IDA")
    user.add_argument("verb", choices=("add", "list"))
    user.add_argument("name", nargs="?", metavar="NAME")

    find = command("find", _find, "find what in all consignments matches a picture", "find phone-photo.jpg --top 5")
    find.add_argument("image", type=Path)
    find.add_argument("--top", type=_count, default=10, metavar="N")
    find.add_argument("--json", action="store_true", help="for other programs")

    words = "write a table to a file, or what is handed over to a folder"
    export = command("export", _export, words, "export families --to families.csv")
    export.add_argument(
        "table",
        help="scans, marks, dates, printers, matches, differences, families, findings, boxes, condition, points, moves "
        "or withdrawals; or alto, records, bag, papers, iiif, copies, drafts",
    )
    export.add_argument(
        "--to", type=Path, required=True, metavar="FILE", help=".csv, .json or .xlsx; for all but tables a folder"
    )
    export.add_argument("--consignment", metavar="CODE", help="of all but tables and alto: this one's alone")
    export.add_argument("--family", metavar="CODE", help="of all but tables and alto: this family's alone")
    export.add_argument("--with-documents", action="store_true", help="papers found in boxes too: letters, addresses")
    export.add_argument("--paper", choices=("a4", "us-letter"), default="a4", help="papers: the size of the sheets")
    export.add_argument("--mets", action="store_true", help="bag: which file is of which piece, as METS 1.12 too")

    words = "what people's rulings teach the match probability; nothing changes until it is adopted"
    learning = command("learn", _learn, words, 'learn --adopt L-0001 --who "Ida Marl"')
    learning.add_argument(
        "--adopt", metavar="VERSION", help="let this version hold from now on; the ledger takes it back"
    )
    learning.add_argument("--who", default="", help="who adopts it")

    take = command("import", _import, "take in what another home exported: points, as JSON",
        'import points points.json --who "Ida Marl"')  # fmt: skip
    take.add_argument("table", choices=("points",))
    take.add_argument("file", type=Path)
    take.add_argument("--who", required=True, help="in whose name the ledger shall bear it")

    example = 'move --consignment 2026-014 --box B02 --piece 0017 --to "photo studio" --who "Ida Marl"'
    move = command("move", _move, "write down where a piece went, by whom and why", example)
    for name in ("consignment", "box", "piece", "to", "who"):
        move.add_argument(f"--{name}", required=True)
    move.add_argument("--why", default="")
    example = 'withdraw --consignment 2026-014 --who "Ida Marl" --why "letter of the owner, 3 Nov"'
    withdraw = command("withdraw", _withdraw, "take a consignment back: all goes, the account stays", example)
    for name in ("consignment", "who", "why"):
        withdraw.add_argument(f"--{name}", required=True)

    check = command("check-home", _check_home, "is every file there that a row names, and the other way round",
        "check-home --originals")  # fmt: skip
    check.add_argument("--originals", action="store_true", help="read every received file, and compare its digest")
    check.add_argument("--mend", action="store_true", help="let the next run make anew what is missing or damaged")
    backup = command("backup", _backup, "keep the home in one file", "backup --to /disk/kinfold.tar")
    backup.add_argument("--to", type=Path, required=True, metavar="FILE", help="a new file, on another disk")
    restore = command(
        "restore",
        _restore,
        "make the home from a backup; name a new one with --home before the command",
        "restore kinfold.tar",
    )
    restore.add_argument("file", type=Path)
    move = command("move-home", _move_home, "move the database to a PostgreSQL server, and compare row by row",
        "move-home --to postgresql://kinfold@server/kinfold")  # fmt: skip
    move.add_argument("--to", required=True, metavar="ADDRESS", help="of an empty database")
    deploy = command("deploy", _deploy, "prepare a Prefect server for nights on several machines",
        "deploy --server http://server:4200/api --when '*/5 20-23,0-5 * * *'")  # fmt: skip
    deploy.add_argument("--server", required=True, metavar="ADDRESS", help="of the Prefect server's API")
    deploy.add_argument(
        "--when", default="*/5 * * * *", metavar="CRON", help="when boxes are handed out (default: every 5 minutes)"
    )
    worker = command("worker", _worker, "work on one box after another, as the Prefect server hands them out",
        "worker --server http://server:4200/api")  # fmt: skip
    worker.add_argument("--server", required=True, metavar="ADDRESS", help="of the Prefect server's API")
    worker.add_argument("--hand-out", action="store_true", help="hand out the boxes; one machine does this beside")

    command("check-setup", _check_setup, "what is installed, and what to type if something is missing", "check-setup")
    demo = command("demo", _demo, "receive the sample batch and run the whole way", "demo")
    demo.add_argument("--workers", type=_count, metavar="N")
    command("test", _test, "set up what tests need and run them all", "test")
    return top


def _receive(options: argparse.Namespace) -> None:
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


def _run(options: argparse.Namespace) -> None:
    from pipelines.run import explain_night, run_night

    if options.explain:
        explain_night(_open_home(options), options.config, options.consignment)
    else:
        run_night(_open_home(options), options.config, options.consignment, options.workers)


def _progress(options: argparse.Namespace) -> None:
    from intake.services.progress import progress
    from pipelines.say import say_progress

    made = progress(_open_home(options), options.consignment)
    if options.json:
        print(json.dumps(dataclasses.asdict(made), indent=1, ensure_ascii=False))
    else:
        say_progress(made)


def _desk(options: argparse.Namespace) -> None:
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


def _user(options: argparse.Namespace) -> None:
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


def _find(options: argparse.Namespace) -> None:
    from intake.config.load import load_config
    from intake.services.find import find
    from pipelines.say import say_found

    found = find(_open_home(options), load_config(options.config), options.image, options.top)
    if options.json:
        print(json.dumps(dataclasses.asdict(found), indent=1, ensure_ascii=False))
    else:
        say_found(found)


def _export(options: argparse.Namespace) -> None:
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


def _learn(options: argparse.Namespace) -> None:
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


def _import(options: argparse.Namespace) -> None:
    from intake.services.points import import_points

    made = import_points(_known_home(options), options.file, options.who)
    waits = f"; {made.waiting} of its scans are not here yet: their points wait for them" if made.waiting else ""
    print(f"{options.file}: {made.added} points added, {made.known} known already{waits}.")


def _check_home(options: argparse.Namespace) -> int:
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


def _backup(options: argparse.Namespace) -> None:
    from intake.services.backup import backup

    kept = backup(_known_home(options), options.to)
    print(f"{options.to}: {kept.files:,} files, {kept.size_bytes / 1e6:,.1f} MB. The originals are not in it.")


def _restore(options: argparse.Namespace) -> None:
    from intake.services.backup import restore

    kept = restore(options.file, options.home)
    print(f"{options.home}: {kept.files:,} files, {kept.size_bytes / 1e6:,.1f} MB, each compared with its digest.")


def _move_home(options: argparse.Namespace) -> None:
    from intake.services.moving import move_home

    home = _known_home(options)
    with home.held():
        moved = move_home(home, options.to)
    print(f"{moved.to}: {moved.rows:,} rows, the same row by row. {home.folder} uses it from now on.")
    print(f"The file {home.folder / 'kinfold.db'} is as it was; keep it until you are sure.")


def _deploy(options: argparse.Namespace) -> None:
    from pipelines.machines import deploy

    deploy(_open_home(options), options.config, options.server, options.when)


def _worker(options: argparse.Namespace) -> None:
    from pipelines.machines import work

    work(_open_home(options), options.config, options.server, options.hand_out)


def _move(options: argparse.Namespace) -> None:
    from intake.services.places import move_piece

    o = options
    made = move_piece(_open_home(o), o.consignment, o.box, o.piece, o.to, o.who, o.why)
    print(inert(f"{made.box} / {made.piece}: from {made.from_place} to {made.to_place}, {made.at}"))


def _withdraw(options: argparse.Namespace) -> None:
    from intake.config.load import load_config
    from intake.services.withdrawing import withdraw

    home, config = _open_home(options), load_config(options.config)
    made = withdraw(home, config, options.consignment, options.who, options.why)
    print(inert(f"{made.consignment} was withdrawn by {made.who}, {made.at}: {made.why}"))
    for what, count in made.account["removed"].items():
        print(f"  {count:>8} {what}")
    print(f"  {len(made.account['files']):>8} files, by their SHA-256 in: kinfold export withdrawals --to FILE")


def _check_setup(options: argparse.Namespace) -> int:
    from intake.setup import inspect_setup

    items = inspect_setup(options.config)
    for item in items:
        state = f"{item.version}  {item.path}" if item.found else f"missing. Type: {item.how_to_get}"
        print(f"{item.name:<26} {state}")
    return 0 if all(item.found for item in items) else 4


def _demo(options: argparse.Namespace) -> None:
    from pipelines.run import run_night
    from pipelines.say import say_receipt

    home = _open_home(options)
    say_receipt(_take_in(home, options.config, SAMPLE / "scans", "2026-014", SAMPLE / "box-list.csv"))
    run_night(home, options.config, None, options.workers)
    print("\nOpen the desk with:  ./kinfold desk")


def _test(_options: argparse.Namespace) -> None:
    raise UsageError("tests are set up and run by the launcher: type ./kinfold test")


def _open_home(options: argparse.Namespace) -> "Home":
    from intake.services.home import Home

    return Home(options.home)


def _known_home(options: argparse.Namespace) -> "Home":
    """A home that is there: nothing can be said of one that is only made now."""
    if not (options.home / "scratch").is_dir():
        raise UsageError(f"{options.home}: there is no home. Name it with --home.")
    return _open_home(options)


def _count(text: str) -> int:
    return _number(text, 256)


def _port(text: str) -> int:
    return _number(text, 65535)


def _number(text: str, most: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 9 and 1 <= int(text) <= most):
        raise argparse.ArgumentTypeError(f"a number from 1 to {most}")
    return int(text)


if __name__ == "__main__":
    sys.exit(main())
