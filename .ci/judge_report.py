"""Judge pytest's JUnit report: ``judge_report.py REPORT ALLOWED``. Exits 1 when no test ran or a skip is not allowed.

ALLOWED has one line a test: its name as printed here, " | ", the reason why it may be skipped.
"""

import sys
from pathlib import Path
from xml.etree import ElementTree


def main(report: Path, allowed_list: Path) -> int:
    """Print what is wrong with the report; return the exit code."""
    if not report.is_file():
        print(f"ci: pytest left no report at {report}: no test ran")
        return 1
    lines = [line.partition(" | ") for line in allowed_list.read_text().splitlines()]
    allowed = {name for name, _, reason in lines if reason.strip()}
    skipped: dict[str, str] = {}
    ran = 0
    for case in ElementTree.parse(report).iter("testcase"):
        mark = case.find("skipped")
        if mark is None:
            ran += 1
            continue
        name = f"{case.get('classname')}.{case.get('name')}".strip(".")
        skipped[name] = mark.get("message") or ""
    refused = {name: why for name, why in skipped.items() if name not in allowed}
    for name, why in refused.items():
        print(f"ci: skipped, and not named in {allowed_list}: {name}: {why}")
    if not ran:
        print("ci: no test ran")
    return 1 if refused or not ran else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
