"""The habits of DEVELOPERS.md that a machine can keep: lint, length of lines, types. Their rules stand in pyproject.toml."""

import re
import runpy
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def ran(*command, **how):
    done = subprocess.run([sys.executable, "-m", *map(str, command)], cwd=ROOT, capture_output=True, text=True, timeout=290, **how)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def kept(request, tmp_path_factory):
    """A folder for what the type checker knows already: the next run takes a third of the time."""
    cache = getattr(request.config, "cache", None)
    return cache.mkdir("types") if cache else tmp_path_factory.mktemp("types")


def test_lint_and_length_of_lines():
    code, said = ran("ruff", "check", "--no-cache", "--output-format", "concise", ".")
    assert code == 0, said


def test_types(kept):
    code, said = ran("mypy", "--cache-dir", kept)
    assert code == 0, said


def test_the_checks_find_faults(tmp_path, kept):
    """A module with one fault of each kind, under the same rules: otherwise a spoiled configuration would pass for a clean tree."""
    (tmp_path / "faulty.py").write_text(
        f"import os\nfrom geozone.numbers.civil import clock_text\n\nprint(nothing)\nprint('{'x ' * 120}')\nclock_text(1, 2, 3, 4)\n"
        "clock_text.no_such_name\n\n\ndef text() -> str:\n    return 1\n", encoding="utf-8")
    _, said = ran("ruff", "check", "--no-cache", "--config", "pyproject.toml", "--output-format", "concise", tmp_path)
    assert {"F401", "F821", "E501"} <= set(re.findall(r"[A-Z]+\d{3}", said)), said
    rules = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mypy"]
    assert rules["packages"] == ["geozone"] and rules["check_untyped_defs"]
    checked = (ROOT / "pyproject.toml").read_text(encoding="utf-8").replace('packages = ["geozone"]', "")
    (tmp_path / "pyproject.toml").write_text(checked, encoding="utf-8")
    _, said = ran("mypy", "--cache-dir", kept, "--config-file", tmp_path / "pyproject.toml", tmp_path / "faulty.py")
    assert {"call-arg", "attr-defined", "return-value", "name-defined"} <= set(re.findall(r"\[([a-z-]+)\]$", said, re.M)), said


def test_examples_in_the_documentation_are_run():
    """The docstrings' examples are part of the run, all over the package."""
    options = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]
    assert "--doctest-modules" in options["addopts"].split() and "geozone" in options["testpaths"]


def test_the_page_of_where_to_look_is_of_today():
    where = runpy.run_path(str(ROOT / "tests" / "where.py"))
    assert where["PAGE"].read_text(encoding="utf-8") == where["page"](), "run: python tests/where.py"
    rows = dict(re.findall(r"^\| `([\w.]+)` \| (.*) \|$", where["table"](), re.M))
    assert len(rows) > 150 and rows["numbers.sun"].startswith("`") and "`unit/test_layers.py`" not in rows["numbers.sun"]
    named = {test for row in rows.values() for test in re.findall(r"`(\w+/test_\w+\.py)`", row)}
    assert len(named) > 50 and all((ROOT / "tests" / test).is_file() for test in named)
