"""The `kinfold` command line: words into service calls (`verbs.py`), errors into exit codes."""

import os
import sys
from collections.abc import Sequence

from intake.errors import KinfoldError
from pipelines.say import inert
from pipelines.words import parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code."""
    options = parser().parse_args(arguments)
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


if __name__ == "__main__":
    sys.exit(main())
