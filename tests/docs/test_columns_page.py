"""The tables of columns in README.md and geozone/COLUMNS.md are what the schema declares, and what a run's files have."""

import re
import runpy
from pathlib import Path

from geozone.schema.column import Column, Table
from geozone.schema.tables import TABLES

MAKER = runpy.run_path(str(Path(__file__).parent / "columns_page.py"))
README = MAKER["README"].read_text(encoding="utf-8")


def test_the_pages_are_what_the_schema_says():
    assert MAKER["page"]() == MAKER["PAGE"].read_text(encoding="utf-8"), "make it again: python tests/docs/columns_page.py"
    assert MAKER["readme"](README) == README, "make it again: python tests/docs/columns_page.py"


def test_every_column_is_there_once():
    """Read back from the text, not from the maker."""
    page = MAKER["PAGE"].read_text(encoding="utf-8")
    parts = {re.search(r"`(\w+?)(?:\.csv)?`", part)[1]: part for part in page.split("\n## ")[1:]}
    assert set(parts) == set(TABLES)
    for name, part in parts.items():
        assert re.findall(r"(?m)^\| `(\w+)` \|", part) == list(TABLES[name].names)
        assert part.count(f"\n{TABLES[name].sentence}\n") == 1
    for name in ("sites", "groups"):
        shown = README.split(f"<summary>Columns of <code>{name}.csv</code>")[1].split("</details>")[0]
        assert re.findall(r"(?m)^\| `(\w+)` \|", shown) == list(TABLES[name].names)


def test_a_changed_declaration_is_noticed():
    other = Table("t", "A row.", (Column("a", "A", "It holds a | b.", "number", "min", 1, "somewhere"),))
    assert MAKER["columns_of"](other).splitlines()[-1] == "| `a` | It holds a \\| b. | min | number, 1 decimal | somewhere |"
