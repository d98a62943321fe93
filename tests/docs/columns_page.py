"""Makes the tables of columns from their declarations: those of the main tables in README.md, all of them in geozone/COLUMNS.md.

    python tests/docs/columns_page.py
"""

from __future__ import annotations

from pathlib import Path

import geozone
from geozone.schema.column import KEYPAD, Column, Table
from geozone.schema.tables import TABLES
from geozone.schema.vocabulary import VOCABULARIES

README = Path(__file__).parents[2] / "README.md"
PAGE = Path(geozone.__file__).parent / "COLUMNS.md"
#: Tables that the README shows itself.
MAIN = ("sites", "groups")
BEGIN, END = "<!-- columns: made by tests/docs/columns_page.py -->", "<!-- end of columns -->"
#: Layers of geozone.gpkg that are no CSV file.
LAYERS_ONLY = ("areas", "area_pieces", "drift_lines", "grid")

HEAD = """# Columns of every table

What `columns.csv` and the first sheet of `sites.xlsx` say of a run, for all tables that a run can have. Columns of your own list
are kept behind these, as they were read. Made from the declarations in `geozone/schema` by `tests/docs/columns_page.py`; the tests
compare it with them.

"""


def page() -> str:
    """The page of all tables."""
    return HEAD + "\n".join(f"## {title(table)}\n\n{table.sentence}\n\n{columns_of(table)}" for table in TABLES.values())


def readme(text: str) -> str:
    """The README with its tables of columns made anew."""
    before, rest = text.split(BEGIN)
    parts = [f"<details><summary>Columns of <code>{name}.csv</code>: {TABLES[name].sentence}</summary>\n\n{columns_of(TABLES[name])}\n</details>\n"
             for name in MAIN]
    return before + BEGIN + "\n" + "\n".join(parts) + END + rest.split(END)[1]


def title(table: Table) -> str:
    """A table by its file, or by its layer where it has no file."""
    return f"Layer `{table.name}` of geozone.gpkg" if table.name in LAYERS_ONLY else f"`{table.name}.csv`"


def columns_of(table: Table) -> str:
    """A row a column: name, what it holds, unit, decimals, where it comes from."""
    rows = "".join(f"| `{column.name}` | {meaning(column)} | {column.unit} | {shown(column)} | {column.source} |\n" for column in table.columns)
    return "| column | what it holds | unit | kind | comes from |\n|---|---|---|---|---|\n" + rows


def meaning(column: Column) -> str:
    """Its sentence, with the codes of a word."""
    codes = ", ".join(f'"{term.code}"' for term in VOCABULARIES[column.vocabulary].terms) if column.vocabulary else ""
    return (column.sentence + (f" One of {codes}." if codes else "")).replace("|", "\\|")


def shown(column: Column) -> str:
    """Its kind in plain words, with the decimals of a number."""
    if column.kind != "number":
        return {"whole": "whole number", "flag": "yes or no", "word": "word", "date": "date", "text": "text"}[column.kind]
    return "number, the keypad's decimals" if column.decimals == KEYPAD else f"number, {column.places} decimal{'' if column.places == 1 else 's'}"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
    README.write_text(readme(README.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
