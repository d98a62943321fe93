"""Two output folders held against each other, file by file: byte for byte first, then by what the files say."""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
import zipfile
from pathlib import Path

#: Differences of one file that are listed one by one.
MOST = 8
# The sums of summary.json change with any byte of any file; what changed is told at that file.
_SUMS = "sha256"


def differences(before: Path, after: Path, renamed: dict[str, str] | None = None) -> list[str]:
    """What differs between two folders, a line a difference; none if nothing does.

    Parameters
    ----------
    before, after : Path
    renamed : dict of str to str, optional
        Words that were given another name on purpose, old to new. A text of `before` with all of them replaced, or none, is the
        same as the text of `after`: names of files, columns, keys and all values.

    Notes
    -----
    Files whose bytes are the same say the same. Of others: cells of tables, keys of JSON, text and pictures of pages, cells of
    workbooks, rows of GeoPackages, lines of other texts, and bytes of the rest.
    """
    renamed = renamed or {}
    new = _files(after)
    old = {path if path in new else _worded(path, renamed): path for path in _files(before)}
    found = [f"{name}: no longer written" for name in sorted(old.keys() - set(new))]
    found += [f"{name}: was not written before" for name in sorted(set(new) - old.keys())]
    for name in sorted(old.keys() & set(new)):
        one, other = (before / old[name]).read_bytes(), (after / name).read_bytes()
        if one != other:
            found += [f"{name}: {line}" for line in _shortened(_of_file(Path(name).suffix.lower(), one, other, renamed))]
    return found


def _files(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*")) if path.is_file()]


def _worded(text: str, renamed: dict[str, str]) -> str:
    for old, new in renamed.items():
        text = text.replace(old, new)
    return text


def _shortened(lines: list[str]) -> list[str]:
    return lines if len(lines) <= MOST else [*lines[:MOST], f"and {len(lines) - MOST:,} more differences"]


def _of_file(ending: str, one: bytes, other: bytes, renamed: dict[str, str]) -> list[str]:
    """Differences of two files of one name whose bytes differ."""
    read = _READERS.get(ending)
    if read is None:
        try:
            one_text, other_text = one.decode("utf-8"), other.decode("utf-8")
        except UnicodeDecodeError:
            return ["other bytes"]
        return _of_tables(_lines(one_text), _lines(other_text), renamed)
    return _of_tables(read(one), read(other), renamed)


def _of_tables(one: dict[str, str], other: dict[str, str], renamed: dict[str, str]) -> list[str]:
    """Differences of two dictionaries of place to value."""
    one = {place if place in other else _worded(place, renamed): value for place, value in one.items()}
    found = []
    for place in [*one, *(place for place in other if place not in one)]:
        was, now = one.get(place), other.get(place)
        if was != now and not (was is not None and _worded(was, renamed) == now):
            found.append(f"{place}: " + ("missing now" if now is None else "new" if was is None else _apart(was, now)))
    return found


def _apart(was: str, now: str) -> str:
    """Two values from shortly before the first character in which they differ."""
    same = next((k for k, (a, b) in enumerate(zip(was, now)) if a != b), min(len(was), len(now)))
    first = max(0, same - 30)
    return f"{was[first:first + 90]!r} is now {now[first:first + 90]!r}"


def _lines(text: str) -> dict[str, str]:
    return {f"line {number}": line for number, line in enumerate(text.splitlines(), 1)}


def _csv(content: bytes) -> dict[str, str]:
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"))))
    heads = rows[0] if rows else []
    cells = {f"row {r}, {heads[c] if c < len(heads) else f'cell {c + 1}'}": cell for r, row in enumerate(rows[1:], 2) for c, cell in enumerate(row)}
    return {"columns": ", ".join(heads), "rows": str(len(rows))} | cells


def _json(content: bytes) -> dict[str, str]:
    out: dict[str, str] = {}

    def walk(value, place: str):
        if isinstance(value, dict) and value:
            for key, one in value.items():
                if place or key != _SUMS:
                    walk(one, f"{place}.{key}" if place else key)
        elif isinstance(value, list) and value:
            for number, one in enumerate(value):
                walk(one, f"{place}[{number}]")
        else:
            out[place] = json.dumps(value, ensure_ascii=False)

    walk(json.loads(content), "")
    return out


def _pdf(content: bytes) -> dict[str, str]:
    """Text of every page, and the page as a picture of 50 dots an inch."""
    import pypdfium2

    out = {}
    document = pypdfium2.PdfDocument(content)
    for number, page in enumerate(document, 1):
        out[f"page {number}, text"] = page.get_textpage().get_text_range()
        out[f"page {number}, picture"] = _sum(page.render(scale=50 / 72).to_numpy().tobytes())
        out[f"page {number}, size"] = str(page.get_size())
    document.close()
    return out


def _xlsx(content: bytes) -> dict[str, str]:
    """The parts of a workbook, without the moment of writing; cells as they stand in them."""
    out = {}
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        for name in sorted(book.namelist()):
            text = book.read(name).decode("utf-8", errors="replace")
            text = re.sub(r"<dcterms:(created|modified)[^>]*>[^<]*<", "<", text)
            out |= {f"{name}, part {k}": part for k, part in enumerate(re.split(r"(?=<(?:c|row|si|sheet|col) )|(?=<si>)", text))}
    return out


def _zip(content: bytes) -> dict[str, str]:
    """The parts of an archive: keys of documents, all else as bytes."""
    out = {}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for name in sorted(archive.namelist()):
            part = archive.read(name)
            out |= {f"{name}, {place}": value for place, value in _json(part).items()} if name.endswith(".json") else {name: _sum(part)}
    return out


def _gpkg(content: bytes) -> dict[str, str]:
    """Rows of all tables, shapes as bytes; without the moment of writing."""
    out = {}
    with sqlite3.connect(":memory:") as base:
        base.deserialize(content)
        for (table,) in base.execute("select name from sqlite_master where type = 'table' order by name").fetchall():
            try:
                cursor = base.execute(f'select * from "{table}"')
            except sqlite3.OperationalError:  # an index of an extension that is not loaded; its rows are in tables of its own
                continue
            heads = [one[0] for one in cursor.description]
            for number, row in enumerate(cursor.fetchall(), 1):
                out |= {f"{table}, row {number}, {head}": value.hex() if isinstance(value, bytes) else str(value)
                        for head, value in zip(heads, row) if head != "last_change"}
    base.close()
    return out


def _png(content: bytes) -> dict[str, str]:
    from PIL import Image

    with Image.open(io.BytesIO(content)) as picture:
        return {"size": str(picture.size), "pixels": _sum(picture.convert("RGBA").tobytes())}


def _sum(content: bytes) -> str:
    import hashlib

    return hashlib.sha256(content).hexdigest()[:16]


_READERS = {".csv": _csv, ".json": _json, ".pdf": _pdf, ".xlsx": _xlsx, ".gpkg": _gpkg, ".zip": _zip, ".png": _png}
