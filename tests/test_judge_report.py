"""CI's judge refuses skips that nobody allowed, and a run of no tests."""

import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
judge = runpy.run_path(str(ROOT / ".ci/judge_report.py"))["main"]

PASSED = '<testcase classname="tests.test_a" name="test_one"/>'
SKIPPED = '<testcase classname="tests.test_a" name="test_two[x y]"><skipped message="no server"/></testcase>'


@pytest.mark.parametrize(
    ("cases", "allowed", "code"),
    [
        (PASSED, "", 0),
        (PASSED + SKIPPED, "", 1),
        (PASSED + SKIPPED, "tests.test_a.test_two a reason", 1),
        (PASSED + SKIPPED, "tests.test_a.test_two[x y] | the reason\n", 0),
        (PASSED + SKIPPED, "tests.test_a.test_two[x y]\n", 1),
        (SKIPPED, "tests.test_a.test_two[x y] | the reason\n", 1),
        ("", "", 1),
    ],
    ids=["passed", "skip", "other", "allowed", "no reason", "only skips", "none"],
)
def test_verdict(tmp_path: Path, cases: str, allowed: str, code: int) -> None:
    report, allowed_list = tmp_path / "report.xml", tmp_path / "allowed"
    report.write_text(f"<testsuites><testsuite>{cases}</testsuite></testsuites>")
    allowed_list.write_text(allowed)
    assert judge(report, allowed_list) == code


def test_missing_report_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert judge(tmp_path / "report.xml", tmp_path / "allowed") == 1
    assert "no test ran" in capsys.readouterr().out
