"""Set one paper, in a process of its own: Typst keeps what it has set in memory, and a template may take for ever.

    python setting.py < request.json > paper.pdf

The request holds template, root (all that the template may open), data (its JSON, as text), fonts (a folder) and
made_at. Needs Typst and the standard library alone, so that it starts quickly. Exit 1, and why on stderr, where it
cannot be set.
"""

import json
import subprocess
import sys
from datetime import datetime
from pathlib import Path

_MOST_S = 300


class CannotSet(Exception):
    """The template cannot be set; ``str(error)`` says why."""


def set_pdf(template: str, root: Path, data: str, fonts: Path, made_at: str) -> bytes:
    """The paper as PDF. Raises CannotSet."""
    asked = json.dumps({"template": template, "root": str(root), "data": data, "fonts": str(fonts), "made_at": made_at})
    command = [sys.executable, "-I", __file__]
    try:
        done = subprocess.run(command, input=asked.encode(), capture_output=True, timeout=_MOST_S, check=False)
    except subprocess.TimeoutExpired as error:
        raise CannotSet(f"it takes longer than {_MOST_S} s") from error
    if done.returncode or not done.stdout.startswith(b"%PDF"):
        raise CannotSet(done.stderr.decode("utf-8", "replace")[-300:].strip() or "its process died: is there memory?")
    return done.stdout


def main() -> int:
    """Read a request, write the PDF."""
    import typst

    asked = json.loads(sys.stdin.buffer.read())
    try:
        pdf: bytes = typst.compile(
            asked["template"].encode(),
            root=asked["root"],
            ignore_system_fonts=True,
            font_paths=[asked["fonts"]],
            sys_inputs={"data": asked["data"]},
            timestamp=datetime.fromisoformat(asked["made_at"]),
        )
    except typst.TypstError as error:
        print(error, file=sys.stderr)
        return 1
    sys.stdout.buffer.write(pdf)
    return 0


if __name__ == "__main__":
    sys.exit(main())
