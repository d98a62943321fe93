"""Where a module is tested: writes the table of tests/README.md from what modules and tests import.

    python tests/where.py
"""

from __future__ import annotations

import ast
from pathlib import Path

TESTS = Path(__file__).parent
PACKAGE = TESTS.parent / "geozone"
PAGE = TESTS / "README.md"
START = "<!-- written by tests/where.py -->\n"
MOST = 4


def imported(path: Path, home: tuple[str, ...]) -> set[str]:
    """Dotted names below `geozone` that a file imports, modules and what is taken from them alike."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            stem = [*home[:len(home) + 1 - node.level], *filter(None, (node.module or "").split("."))] if node.level else \
                (node.module or "").split(".")
            found |= {".".join(stem), *(".".join([*stem, alias.name]) for alias in node.names)}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {name.removeprefix("geozone.") for name in found if name.startswith("geozone.")}


def table() -> str:
    """Every module with the tests that import it, the one of its name first; or the modules through which it is tested."""
    modules = {".".join(path.relative_to(PACKAGE).with_suffix("").parts): path for path in sorted(PACKAGE.rglob("*.py"))
               if path.stem != "__init__"}
    users = {name: imported(path, ("geozone", *name.split(".")[:-1])) for name, path in modules.items()}
    tests = {path.relative_to(TESTS).as_posix(): imported(path, ()) for path in sorted(TESTS.rglob("test_*.py"))}
    lines = ["| module | tests |", "|---|---|"]
    for name in sorted(modules, key=lambda name: (name.count("."), name)):
        stem = name.rpartition(".")[2]
        own = [test for test in tests if test.endswith(f"/test_{stem}.py")]
        others = [test for test, names in tests.items() if name in names and test not in own]
        others.sort(key=lambda test: (stem not in test, not test.startswith("unit"), test))
        said = [f"`{test}`" for test in [*own, *others][:MOST]]
        if not said:
            through = [user for user, names in users.items() if name in names]
            said = ["through " + ", ".join(f"`{user}`" for user in through[:MOST])] if through else ["nothing imports it: a program of its own"]
        more = len(own) + len(others) - MOST
        lines.append(f"| `{name}` | {', '.join(said)}{f' and {more} more' if more > 0 else ''} |")
    return "\n".join(lines) + "\n"


def page() -> str:
    """The whole page with a fresh table."""
    return PAGE.read_text(encoding="utf-8").partition(START)[0] + START + table()


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
