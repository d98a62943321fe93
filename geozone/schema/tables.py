"""All tables by name, and checks of a finished table against its declaration."""

from __future__ import annotations

from collections.abc import Iterable

from ..errors import UndeclaredError
from .audit_columns import AUDIT, LOGS, WATCH, WORK
from .column import Column, Table
from .group_columns import CABINETS, CREW, CURVE, EXISTING, GROUPS, UNSERVED
from .law_columns import RULES
from .place_columns import AREA_PIECES, AREAS, DRIFT_LINES, GRID, REJECTS, SPREAD
from .programme_columns import CLOCKS, COMPARISON, FAULTY, HOURS, TIMETABLE
from .site_columns import SITES
from .vocabulary import VOCABULARIES
from .zone_columns import UNSERVED_AREAS, ZONE_BORDERS, ZONES

#: In the order in which the workbook has them.
TABLES: dict[str, Table] = {table.name: table for table in (
    SITES, CREW, GROUPS, CABINETS, CURVE, EXISTING, UNSERVED, ZONES, UNSERVED_AREAS, ZONE_BORDERS, HOURS, COMPARISON, CLOCKS, FAULTY, TIMETABLE, REJECTS, SPREAD, AREAS,
    AREA_PIECES, DRIFT_LINES, GRID, AUDIT, WORK, WATCH, LOGS, RULES)}


def table_named(name: str) -> Table:
    """The declaration of a table; raises `UndeclaredError` for an unknown one."""
    if name not in TABLES:
        raise UndeclaredError(f"table {name!r} is not declared")
    return TABLES[name]


def check_table(name: str, table, own: Iterable[str] = ()) -> None:
    """Raise `UndeclaredError` where a finished table has a column or a word that is not declared.

    Parameters
    ----------
    name : str
        Name of the table.
    table : pandas.DataFrame
        Its geometry column does not count.
    own : iterable of str
        Columns of the user's own list, which may be anything.
    """
    declared, own = table_named(name), set(own)
    geometry = getattr(table, "_geometry_column_name", None)
    for column in table.columns:
        if column == geometry or column in own:
            continue
        record = declared[column]
        if record.kind == "word":
            VOCABULARIES[record.vocabulary].checked(table[column].astype(str))


def glossary(present: Iterable[tuple[str, Iterable[str]]]) -> list[dict[str, str]]:
    """A row for every column of the tables that are there: what it holds, for `columns.csv` and the workbook's first sheet.

    Parameters
    ----------
    present : iterable of (str, iterable of str)
        Table names with the columns that they have. Columns that are not declared are the user's own.

    Returns
    -------
    list of dict
        table, column, heading, unit, kind, meaning, from.
    """
    rows = []
    for name, columns in present:
        table = table_named(name)
        for column in columns:
            known = table.get(column)
            rows.append(_own(name, column) if known is None else _row(name, known))
    return rows


def manner_row(sentence: str) -> dict[str, str]:
    """The row of `columns.csv` that says how all CSV files are written."""
    return {"table": "(all CSV files)", "column": "", "heading": "how they are written", "unit": "", "kind": "", "meaning": sentence,
            "from": "[writing]"}


def _row(table: str, column: Column) -> dict[str, str]:
    meaning = column.sentence
    if column.vocabulary:
        terms = VOCABULARIES[column.vocabulary].terms
        meaning += " " + " ".join(f'"{term.code}": {term.sentence}' for term in terms)
    return {"table": table, "column": column.name, "heading": column.heading, "unit": column.unit, "kind": column.kind,
            "meaning": meaning, "from": column.source}


def _own(table: str, column: str) -> dict[str, str]:
    return {"table": table, "column": str(column), "heading": str(column), "unit": "", "kind": "text",
            "meaning": "A column of your own list, as it was read.", "from": "site list"}
