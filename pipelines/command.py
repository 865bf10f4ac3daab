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
    receive.add_argument("folder", type=Path, help="its first-level folders are the boxes")
    receive.add_argument("--consignment", required=True, metavar="CODE")
    receive.add_argument("--box-list", type=Path, metavar="FILE.csv", help="box, piece, description, sides, held, why")

    run = command("run", _run, "look at everything new, match, group; a stopped run continues", "run --workers 2")
    run.add_argument("--consignment", metavar="CODE", help="only this one's scans")
    run.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: config/run.toml)")

    progress = command("progress", _progress, "how far each box is", "progress --consignment 2026-014")
    progress.add_argument("--consignment", metavar="CODE")
    progress.add_argument("--json", action="store_true", help="for other programs")

    desk = command("desk", _desk, "open the desk in the browser", "desk --port 8471")
    desk.add_argument("--host", default="127.0.0.1", help="a loopback address")
    desk.add_argument("--port", type=_port, default=8471)

    find = command("find", _find, "find what in all consignments matches a picture", "find phone-photo.jpg --top 5")
    find.add_argument("image", type=Path)
    find.add_argument("--top", type=_count, default=10, metavar="N")
    find.add_argument("--json", action="store_true", help="for other programs")

    export = command("export", _export, "write a table to a file", "export families --to families.csv")
    export.add_argument(
        "table", help="scans, marks, dates, printers, matches, differences, families, findings or boxes; or alto"
    )
    export.add_argument(
        "--to", type=Path, required=True, metavar="FILE", help=".csv, .json or .xlsx; for alto a folder"
    )

    command("check-setup", _check_setup, "what is installed, and what to type if something is missing", "check-setup")
    demo = command("demo", _demo, "receive the sample batch and run the whole way", "demo")
    demo.add_argument("--workers", type=_count, metavar="N")
    command("test", _test, "set up what tests need and run them all", "test")
    return top


def _receive(options: argparse.Namespace) -> None:
    from pipelines.say import say_receipt

    say_receipt(_take_in(_open_home(options), options.config, options.folder, options.consignment, options.box_list))


def _take_in(home: "Home", config: Path, folder: Path, code: str, box_list: Path | None) -> "Receipt":
    from intake.config.load import load_config
    from intake.services.receive import receive

    return receive(home, folder, code, load_config(config).receive, box_list)


def _run(options: argparse.Namespace) -> None:
    from pipelines.run import run_night

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
    if not loopback:
        raise UsageError(f"--host {options.host}: the desk opens on this machine alone for now; use 127.0.0.1.")

    import uvicorn

    from intake.config.load import load_config
    from intake.web.app import make_app

    app = make_app(_open_home(options), load_config(options.config), options.host, options.port)
    shown = f"[{options.host}]" if ":" in options.host else options.host
    print(f"The desk is open at http://{shown}:{options.port}/ - leave it with Ctrl-C.", flush=True)
    uvicorn.run(app, host=options.host, port=options.port, log_level="warning", access_log=False)


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
    from intake.services.export import export

    count = export(_open_home(options), load_config(options.config), options.table, options.to)
    print(f"{options.to}: {count} {'files' if options.table == 'alto' else 'rows'}")


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
