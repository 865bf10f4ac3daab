"""The words of the command line: every command, what may follow it, and an example of each."""

import argparse
import os
from collections.abc import Callable
from pathlib import Path

from pipelines import verbs

EXIT_CODES = """\
exit codes:
  0  done (findings are no failure)     4  something is not installed
  1  cannot go on                       5  another run is at work in this home
  2  the command or a named file is wrong   6  the home folder cannot be used
  3  config/ does not load              7  stopped as asked; run again to continue
"""


def parser() -> argparse.ArgumentParser:
    """What reads the command line; the verb to run is its ``run``."""
    top = argparse.ArgumentParser(
        prog="kinfold",
        description="Takes in the scans of a consigned film-poster archive; suggests which pieces are of one design.",
        epilog="example:\n  kinfold demo\n\n" + EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    home = os.environ.get("KINFOLD_HOME") or str(verbs.ROOT / "kinfold-home")
    top.add_argument("--home", type=Path, default=Path(home), help="database, derivatives, logs (or KINFOLD_HOME)")
    top.add_argument("--config", type=Path, default=verbs.ROOT / "config", help="the folder of settings")
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
        "receive", verbs.receive, "take in a folder of scans; it is only read, and only what is new is added",
        "receive /scans/2026-014 --consignment 2026-014 --box-list boxes.csv",
    )  # fmt: skip
    receive.add_argument(
        "folder", type=Path, help="its first-level folders are the boxes; or a bag, into an empty home"
    )
    receive.add_argument("--consignment", metavar="CODE", help="needed unless the folder is a bag")
    receive.add_argument("--box-list", type=Path, metavar="FILE.csv", help="box, piece, description, sides, held, why")

    run = command("run", verbs.run, "look at everything new, match, group; a stopped run continues", "run --workers 2")
    run.add_argument("--consignment", metavar="CODE", help="only this one's scans")
    run.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: config/run.toml)")
    run.add_argument("--explain", action="store_true", help="say what would be made, what anew and why; do nothing")

    progress = command("progress", verbs.progress, "how far each box is", "progress --consignment 2026-014")
    progress.add_argument("--consignment", metavar="CODE")
    progress.add_argument("--json", action="store_true", help="for other programs")

    desk = command("desk", verbs.desk, "open the desk in the browser", "desk --port 8471")
    desk.add_argument("--host", default="127.0.0.1", help="an address of this machine; beyond loopback it needs users")
    desk.add_argument("--name", action="append", default=[], metavar="HOST", help="a name that browsers call it by")
    desk.add_argument("--port", type=_port, default=8471)
    desk.add_argument("--api", action="store_true", help="let other programs read the tables, at /api/v1/tables")

    words = "name who may sit down at the desk; their secret is asked for"
    user = command("user", verbs.user, words, "user add IDA")
    user.add_argument("verb", choices=("add", "list"))
    user.add_argument("name", nargs="?", metavar="NAME")

    words = "find what in all consignments matches a picture"
    find = command("find", verbs.find, words, "find phone-photo.jpg --top 5")
    find.add_argument("image", type=Path)
    find.add_argument("--top", type=_count, default=10, metavar="N")
    find.add_argument("--json", action="store_true", help="for other programs")

    words = "write a table to a file, or what is handed over to a folder"
    export = command("export", verbs.export, words, "export families --to families.csv")
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
    learning = command("learn", verbs.learn, words, 'learn --adopt L-0001 --who "Ida Marl"')
    learning.add_argument(
        "--adopt", metavar="VERSION", help="let this version hold from now on; the ledger takes it back"
    )
    learning.add_argument("--who", default="", help="who adopts it")

    take = command("import", verbs.import_, "take in what another home exported: points, as JSON",
        'import points points.json --who "Ida Marl"')  # fmt: skip
    take.add_argument("table", choices=("points",))
    take.add_argument("file", type=Path)
    take.add_argument("--who", required=True, help="in whose name the ledger shall bear it")

    example = 'move --consignment 2026-014 --box B02 --piece 0017 --to "photo studio" --who "Ida Marl"'
    move = command("move", verbs.move, "write down where a piece went, by whom and why", example)
    for name in ("consignment", "box", "piece", "to", "who"):
        move.add_argument(f"--{name}", required=True)
    move.add_argument("--why", default="")
    example = 'withdraw --consignment 2026-014 --who "Ida Marl" --why "letter of the owner, 3 Nov"'
    withdraw = command("withdraw", verbs.withdraw, "take a consignment back: all goes, the account stays", example)
    for name in ("consignment", "who", "why"):
        withdraw.add_argument(f"--{name}", required=True)

    check = command("check-home", verbs.check_home, "is every file there that a row names, and the other way round",
        "check-home --originals")  # fmt: skip
    check.add_argument("--originals", action="store_true", help="read every received file, and compare its digest")
    check.add_argument("--mend", action="store_true", help="let the next run make anew what is missing or damaged")
    backup = command("backup", verbs.backup, "keep the home in one file", "backup --to /disk/kinfold.tar")
    backup.add_argument("--to", type=Path, required=True, metavar="FILE", help="a new file, on another disk")
    restore = command(
        "restore",
        verbs.restore,
        "make the home from a backup; name a new one with --home before the command",
        "restore kinfold.tar",
    )
    restore.add_argument("file", type=Path)
    move = command("move-home", verbs.move_home, "move the database to a PostgreSQL server, and compare row by row",
        "move-home --to postgresql://kinfold@server/kinfold")  # fmt: skip
    move.add_argument("--to", required=True, metavar="ADDRESS", help="of an empty database")
    deploy = command("deploy", verbs.deploy, "prepare a Prefect server for nights on several machines",
        "deploy --server http://server:4200/api --when '*/5 20-23,0-5 * * *'")  # fmt: skip
    deploy.add_argument("--server", required=True, metavar="ADDRESS", help="of the Prefect server's API")
    deploy.add_argument(
        "--when", default="*/5 * * * *", metavar="CRON", help="when boxes are handed out (default: every 5 minutes)"
    )
    worker = command("worker", verbs.worker, "work on one box after another, as the Prefect server hands them out",
        "worker --server http://server:4200/api")  # fmt: skip
    worker.add_argument("--server", required=True, metavar="ADDRESS", help="of the Prefect server's API")
    worker.add_argument("--hand-out", action="store_true", help="hand out the boxes; one machine does this beside")

    words = "what is installed, and what to type if something is missing"
    command("check-setup", verbs.check_setup, words, "check-setup")
    demo = command("demo", verbs.demo, "receive the sample batch and run the whole way", "demo")
    demo.add_argument("--workers", type=_count, metavar="N")
    command("test", verbs.test, "set up what tests need and run them all", "test")
    return top


def _count(text: str) -> int:
    return _number(text, 256)


def _port(text: str) -> int:
    return _number(text, 65535)


def _number(text: str, most: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 9 and 1 <= int(text) <= most):
        raise argparse.ArgumentTypeError(f"a number from 1 to {most}")
    return int(text)
