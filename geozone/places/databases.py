"""GeoPackages looked at before a map library opens them: a database can hold instructions, not only rows."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from ..errors import InputError

#: Kinds of virtual table that only index what stands in the file (OGC GeoPackage 1.3, annex F.3; SQLite full-text search).
_INDEXES = {"rtree", "fts3", "fts4", "fts5"}
#: SQLite's own functions that look at nothing but their arguments.
_HARMLESS = {"abs", "avg", "cast", "char", "coalesce", "count", "date", "datetime", "group_concat", "hex", "ifnull", "iif",
             "instr", "julianday", "length", "like", "lower", "ltrim", "max", "min", "nullif", "quote", "replace", "round",
             "row_number", "rtrim", "strftime", "substr", "substring", "sum", "time", "total", "trim", "typeof", "upper"}
_MOST_TABLES = 2_000
# Enough for any view that people write; a recursive one without end is stopped [SQLite's steps, in thousands].
_MOST_STEPS = 2_000
_ALLOWED = {sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_TRANSACTION}


def check_database(path: Path, file: str) -> None:
    """Refuse a database whose views, generated columns or virtual tables could do more than show its own rows.

    Parameters
    ----------
    path : Path
        The copy that will be read.
    file : str
        Its name for messages.

    Raises
    ------
    InputError
    """
    base = None
    try:
        base = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        base.text_factory = lambda raw: raw.decode("utf-8", errors="replace")
        steps = iter(range(_MOST_STEPS))
        base.set_progress_handler(lambda: next(steps, None) is None, 1000)
        held = base.execute(f"select type, name, sql from sqlite_master limit {_MOST_TABLES + 1}").fetchall()
        if len(held) > _MOST_TABLES:
            raise _refused(file, f"more than {_MOST_TABLES} tables")
        asked: list[str] = []

        def allowed(action, first, second, database, trigger):
            if action in _ALLOWED or (action == sqlite3.SQLITE_FUNCTION and str(second).lower() in _HARMLESS):
                return sqlite3.SQLITE_OK
            asked.append(str(second or first))
            return sqlite3.SQLITE_DENY

        for kind, name, words in held:
            words = " ".join(str(words or "").split()).lower()
            if words.startswith("create virtual"):
                module = words.partition(" using ")[2].partition("(")[0].strip().strip('"[]`\'')
                if module not in _INDEXES:
                    raise _refused(file, f"table {name!r} is made by {module!r}")
            elif kind == "view" or (kind == "table" and " as" in words):  # a generated column is "AS (...)"
                base.set_authorizer(allowed)
                try:
                    base.execute(f'explain select * from "{name.replace(chr(34), chr(34) * 2)}"').fetchone()
                except sqlite3.Error as why:
                    if kind == "view" or asked:
                        raise _refused(file, f"{kind} {name!r}: {asked[0] if asked else why}") from None
                finally:
                    base.set_authorizer(None)
    except (sqlite3.Error, UnicodeError, ValueError) as why:
        raise InputError("the file is damaged and cannot be read", where=file, value=str(why),
                         next_step="export it again") from None
    finally:
        if base is not None:
            base.close()


def _refused(file: str, what: str) -> InputError:
    return InputError("the database holds instructions, not only rows", where=file, value=what,
                      rule="tables, and views that call no function from outside",
                      next_step="export the layer again as a plain GeoPackage or GeoJSON")
