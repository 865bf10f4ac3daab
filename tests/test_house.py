"""The rules of the house that no linter keeps."""

import ast
import importlib.util
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from intake.config.findings import FindingTable
from intake.model import Severity
from tests.made import CONFIG, ROOT, section

OURS = ("intake", "pipelines", "sample_batch", "tests")
SOURCES = sorted(p for folder in OURS for p in (ROOT / folder).rglob("*.py"))


def names(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


# ---- the import package ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("package", ["intake", "pipelines"])
def test_the_package_is_ours_and_not_the_registrys_of_the_same_name(package: str) -> None:
    found = importlib.util.find_spec(package)
    assert found is not None
    assert found.origin is not None
    assert Path(found.origin).resolve() == ROOT / package / "__init__.py"


def test_so_it_is_for_the_launcher_wherever_it_is_called(tmp_path: Path) -> None:
    """Beside a folder that holds a package of the same name, which Python would take first."""
    (tmp_path / "intake").mkdir()
    (tmp_path / "intake/__init__.py").write_text("raise SystemExit('the wrong intake')")
    words = ("--home", str(tmp_path / "home"), "export", "nothing", "--to", "x.csv")
    done = subprocess.run(
        [sys.executable, "-m", "pipelines.command", *words],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONSAFEPATH": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, "nothing: no such table" in done.stderr) == (2, True), done.stderr


# ---- findings -------------------------------------------------------------------------------------------------------


def _sinks(trees: list[ast.Module]) -> dict[str, int]:
    """Callables that make a finding of their argument ``code``, and where among their arguments it stands."""
    sinks = {"Finding": 1}
    for tree in trees:
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef | ast.FunctionDef) and node.name != "__init__":
                makers = [n for n in node.body if getattr(n, "name", "") == "__init__"] or [node]
                for maker in makers:
                    arguments = [a.arg for a in maker.args.args] if isinstance(maker, ast.FunctionDef) else []
                    if "code" in arguments and any(_called(n) == "Finding" for n in ast.walk(maker)):
                        sinks[node.name] = arguments.index("code") - (arguments[0] == "self")
    return sinks


def _called(node: ast.AST) -> str:
    if not isinstance(node, ast.Call):
        return ""
    return getattr(node.func, "id", None) or getattr(node.func, "attr", "")


def _code_of(call: ast.Call, place: int) -> ast.expr:
    named = [k.value for k in call.keywords if k.arg == "code"]
    return named[0] if named else call.args[place]


def _codes() -> Iterator[tuple[str, ast.expr]]:
    """(where, code) of every finding that the source makes, be it a value or a row of the table of findings."""
    files = [(p, ast.parse(p.read_text(encoding="utf-8"))) for p in SOURCES if names(p).startswith("intake/")]
    sinks = _sinks([tree for _, tree in files])
    for path, tree in files:
        for node in ast.walk(tree):
            if _called(node) in sinks:
                assert isinstance(node, ast.Call)
                yield f"{names(path)}:{node.lineno}", _code_of(node, sinks[_called(node)])
            # A tuple of words alone is a list of names, no row.
            if isinstance(node, ast.Tuple) and not all(isinstance(e, ast.Constant) for e in node.elts):
                for before, element in zip(node.elts, node.elts[1:], strict=False):
                    words = [getattr(e, "value", None) for e in (before, element)]
                    if isinstance(before, ast.Constant) and [w in get_args(Severity) for w in words] == [False, True]:
                        yield f"{names(path)}:{node.lineno}", before


USED = {code.value: where for where, code in _codes() if isinstance(code, ast.Constant)}
TABLE = section(FindingTable, CONFIG / "findings.toml").codes


def test_every_code_stands_in_the_source_as_a_word() -> None:
    """So that the tests below see it. What is passed on (an argument, a finding, a row) is seen where it began."""
    for where, code in _codes():
        passed_on = getattr(code, "id", "") in ("code", "code_") or getattr(code, "attr", "") == "code"
        assert passed_on or isinstance(code, ast.Constant), f"{where}: the code of a finding is put together"


def test_every_code_is_explained_and_every_explanation_is_of_a_code() -> None:
    assert {code: where for code, where in USED.items() if code not in TABLE} == {}, "no row in config/findings.toml"
    assert set(TABLE) - set(USED) == set(), "rows of config/findings.toml that no code uses"


@pytest.mark.parametrize("code", sorted(TABLE))
def test_codes_are_snake_case_and_explanations_are_sentences(code: str) -> None:
    assert code.isidentifier()
    assert code == code.lower()
    words = TABLE[code]
    assert 20 <= len(words) <= 300
    assert words[0].isupper()
    assert words.endswith(".")


# ---- size and order -------------------------------------------------------------------------------------------------


def test_no_file_is_longer_than_500_lines() -> None:
    assert {names(p): n for p in SOURCES if (n := len(p.read_text(encoding="utf-8").splitlines())) > 500} == {}


def test_every_module_and_public_thing_says_what_it_is() -> None:
    silent = []
    for path in SOURCES:
        if names(path).split("/")[0] in ("intake", "pipelines") and path.read_text(encoding="utf-8").strip():
            tree = ast.parse(path.read_text(encoding="utf-8"))
            if ast.get_docstring(tree) is None:
                silent.append(names(path))
            silent += [
                f"{names(path)}: {node.name}"
                for node in tree.body
                if isinstance(node, ast.FunctionDef | ast.ClassDef)
                and not node.name.startswith("_")
                and ast.get_docstring(node) is None
            ]
    assert silent == []


def test_every_file_of_config_is_loaded_and_no_section_lacks_one() -> None:
    from intake.config.load import SECTIONS

    tables = {"formats.csv", "patterns.toml", "certificates.csv", "papers.typ", "entry.txt"}
    assert {p.name for p in CONFIG.iterdir()} == {f"{name}.toml" for name in SECTIONS} | tables | {"engines.toml"}


def test_nothing_points_at_this_machine_or_beside_the_checkout() -> None:
    """Paths of a developer's machine and of folders beside the checkout do not belong in what is shipped."""
    own = Path(__file__).name
    marks = ("/work" + "/", "../" + "shared", "/root" + "/")
    said = [
        f"{names(p)}: {mark}"
        for p in [*SOURCES, *CONFIG.iterdir(), ROOT / "kinfold", *ROOT.glob("*.md"), ROOT / "pyproject.toml"]
        if p.name != own
        for mark in marks
        if mark in p.read_text(encoding="utf-8")
    ]
    assert said == []
