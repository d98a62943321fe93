"""Result tables for the page: sorted, filtered and in pages; and the files of a result, one by one or all in one."""

from __future__ import annotations

import csv
import math
import zipfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from ..files.folder import files_in

#: Rows of one page of a table.
PAGE_ROWS = 100
_KINDS = {".html": "text/html; charset=utf-8", ".csv": "text/csv; charset=utf-8", ".png": "image/png", ".svg": "image/svg+xml", ".pdf": "application/pdf",
          ".json": "application/json", ".geojson": "application/geo+json", ".toml": "text/plain; charset=utf-8", ".ics": "text/calendar; charset=utf-8"}


@dataclass(frozen=True)
class TablePage:
    """One page of a table.

    Attributes
    ----------
    columns : tuple of str
    rows : list of list of str
    total, found : int
        Rows of the table, and those that the filter lets through.
    page, pages : int
        Counted from 1.
    """

    columns: tuple[str, ...]
    rows: list[list[str]]
    total: int
    found: int
    page: int
    pages: int


def result_files(out: Path) -> list[str]:
    """Names of a result's files, links left out; only these are ever sent."""
    if out.is_symlink() or not out.is_dir():
        return []
    try:
        names = files_in(out)
    except OSError:
        return []
    return [name for name in names if not name.endswith("/") and _inside(out, name)]


def _inside(out: Path, name: str) -> bool:
    """Whether a name is a plain file and nothing on the way to it is a link."""
    path = out
    for part in name.split("/"):
        path = path / part
        if path.is_symlink():
            return False
    return path.is_file()


def kind_of_file(name: str) -> str:
    return _KINDS.get(Path(name).suffix.lower(), "application/octet-stream")


def table_page(path: Path, separator: str, *, text: str = "", column: str = "", sort: str = "", down: bool = False, page: int = 1) -> TablePage:
    """A page of a CSV file.

    Parameters
    ----------
    path : Path
    separator : str
    text : str
        Only rows that hold it, capitals or not.
    column : str
        The column that the text is looked for in; "" or one that is not there: all.
    sort : str
        Column to sort by, numbers as numbers, blank cells last.
    down : bool
        Largest first.
    page : int
    """
    found = path.stat()
    columns, rows = _read(str(path), found.st_mtime_ns, found.st_size, separator)
    chosen = list(rows)
    if text:
        wanted, at = text.casefold(), columns.index(column) if column in columns else None
        chosen = [row for row in chosen if any(wanted in cell.casefold() for cell in (row if at is None else row[at:at + 1]))]
    if sort in columns:
        at = columns.index(sort)
        filled = [row for row in chosen if row[at] != ""]
        chosen = sorted(filled, key=lambda row: _order(row[at]), reverse=down) + [row for row in chosen if row[at] == ""]
    pages = max(1, math.ceil(len(chosen) / PAGE_ROWS))
    page = min(max(1, page), pages)
    return TablePage(columns, [list(row) for row in chosen[(page - 1) * PAGE_ROWS:page * PAGE_ROWS]], len(rows), len(chosen), page, pages)


def _order(cell: str) -> tuple:
    try:
        number = float(cell.replace(",", "."))
    except ValueError:
        return 1, 0.0, cell.casefold()
    return (0, number, "") if math.isfinite(number) else (1, 0.0, cell)


@lru_cache(maxsize=6)
def _read(path: str, changed_ns: int, size: int, separator: str) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    csv.field_size_limit(5_000_000)
    with open(path, encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream, delimiter=separator))
    width = len(rows[0]) if rows else 0
    return tuple(rows[0]) if rows else (), tuple(tuple((row + [""] * width)[:width]) for row in rows[1:])


def zipped(out: Path, target: Path) -> None:
    """All files of a result in one archive."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
        for name in result_files(out):
            archive.write(out / name, name)
