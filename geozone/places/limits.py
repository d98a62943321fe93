"""How much a file may hold: asked before it is read, so that a wrong or hostile one costs no memory and no time.

Each limit is many times what a list of a million sites needs, and each is said with what to do.
"""

from __future__ import annotations

import stat
from pathlib import Path

from ..errors import InputError

#: A million rows of two hundred characters. Read, text takes about eight times its size in memory.
MOST_TEXT_BYTES = 200_000_000
#: Map files and workbooks as they lie on the disk; a million points with a table are about 300 MB.
MOST_FILE_BYTES = 1_000_000_000
#: Features of one layer, rows of one list.
MOST_ROWS = 2_000_000
#: A table has a heading for each of its columns; the widest export seen had some 300.
MOST_COLUMNS = 2_000
#: Cells of a list; in a sheet from its first to its last filled row and column, blank ones included.
MOST_CELLS = 10_000_000
#: Corners of all shapes of one layer.
MOST_CORNERS = 20_000_000
#: A job file is a page or two of text; with a thousand dated events it is 100 kB.
MOST_JOB_BYTES = 2_000_000
#: File systems end names here [byte].
LONGEST_NAME_BYTES = 255


def check_size(path: Path, most_bytes: int = MOST_FILE_BYTES, next_step: str | None = None) -> int:
    """The size of a plain file [byte]; anything else, or a larger one, is refused before it is opened.

    Raises
    ------
    InputError
    """
    try:
        found = path.stat()
    except OSError as why:
        raise InputError("the file cannot be looked at", where=path.name, value=why.strerror,
                         next_step="check the name and who may read it") from None
    if not stat.S_ISREG(found.st_mode):  # a pipe or a device would be waited for without end
        raise InputError("this is not a plain file", where=path.name, next_step="copy the list into a file of its own")
    if found.st_size > most_bytes:
        raise InputError("the file is larger than a list of sites or outlines can be", where=path.name,
                         value=f"{found.st_size / 1e6:,.0f} MB", rule=f"at most {most_bytes / 1e6:,.0f} MB",
                         next_step=next_step or "export only what is needed: the area in question, without pictures")
    return found.st_size


def check_text(lines: int, separators: int, where: str) -> None:
    """Refuse a text of more lines or cells than a site list can have, counted before it is taken apart; InputError."""
    if lines > MOST_ROWS or separators > MOST_CELLS:
        raise InputError("the table is larger than a list of sites or outlines can be", where=where,
                         value=f"{lines:,} lines, {separators:,} separators",
                         rule=f"at most {MOST_ROWS:,} rows and {MOST_CELLS:,} cells",
                         next_step="export only the rows and columns that are needed")


def check_table(rows: int, columns: int, where: str) -> None:
    """Refuse a table of more rows or columns than a site list can have; InputError."""
    if rows > MOST_ROWS or columns > MOST_COLUMNS:
        raise InputError("the table is larger than a list of sites or outlines can be", where=where,
                         value=f"{rows:,} rows, {columns:,} columns",
                         rule=f"at most {MOST_ROWS:,} rows and {MOST_COLUMNS:,} columns",
                         next_step="export only the rows and columns that are needed")
