"""Everything that the package imports is declared, so that a fresh machine has it."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import geozone

PACKAGE = Path(geozone.__file__).parent
PROJECT = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def plain(name):
    return re.sub(r"[-_.]+", "-", re.match(r"[A-Za-z0-9._-]+", name).group()).lower()


def test_every_import_is_declared():
    imported = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                imported.add(node.module.split(".")[0])
    imported -= set(sys.stdlib_module_names) | {"geozone"}
    declared = {plain(text) for text in PROJECT["dependencies"] + PROJECT["optional-dependencies"]["parquet"]}
    distributions = packages_distributions()
    missing = {name for name in imported
               if not {plain(d) for d in distributions.get(name, [name])} & declared}
    assert {"numpy", "numba"} <= imported and not missing
