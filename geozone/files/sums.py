"""What was written, as sums: so that a file which somebody edited afterwards is never replaced in silence."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path

SUMMARY_NAME = "summary.json"
#: Key of the sums in the summary: file name to sha256, hexadecimal.
SUMS_KEY = "sha256"
_DATABASE = b"SQLite format 3\x00"
# Bytes of a database's head that change when a program merely opens it: kind of journal, change counter, "valid for" and the
# version of the library (SQLite file format, section 1.3).
_RESTLESS = (slice(18, 20), slice(24, 28), slice(92, 100))
_HEAD_BYTES = 100


def sum_of(path: Path) -> str:
    """sha256 of a file; of a database without the bytes that looking at it changes.

    Raises
    ------
    OSError
    """
    with path.open("rb") as stream:
        head = bytearray(stream.read(_HEAD_BYTES))
        if head.startswith(_DATABASE):
            for part in _RESTLESS:
                head[part] = bytes(part.stop - part.start)
        found = hashlib.sha256(head)
        while block := stream.read(1 << 20):
            found.update(block)
    return found.hexdigest()


def sealed_summary(summary: dict, folder: Path, files: Iterable[str], known: Mapping[str, str] | None = None) -> bytes:
    """The summary as bytes, with the sums of all files and, over itself without this one sum, of the summary.

    Parameters
    ----------
    summary : dict
    folder : Path
    files : iterable of str
        Names relative to the folder, with "/"; the summary among them.
    known : mapping of str to str, optional
        Sums that stand, whatever is in the file now: a file that somebody edited stays an edited one.
    """
    known = known or {}
    sums = {name: "" if name == SUMMARY_NAME else known[name] if name in known else sum_of(folder / name)
            for name in files if not name.endswith("/")}
    text = json.dumps({**summary, SUMS_KEY: sums}, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    content = text.encode("utf-8", errors="replace")
    return _with_own_sum(content, hashlib.sha256(content).hexdigest())


def changed_files(folder: Path, summary: dict) -> list[str]:
    """Files of a result that are not as they were written, sorted; missing ones are not among them.

    Parameters
    ----------
    folder : Path
    summary : dict
        The folder's summary, as read. One without sums, from an earlier version, tells nothing.

    Raises
    ------
    OSError
        If a file cannot be read.
    """
    sums = summary.get(SUMS_KEY)
    if not isinstance(sums, dict):
        return []
    changed = []
    for name, was in sums.items():
        path = folder / name
        if not path.is_file():
            continue
        if name == SUMMARY_NAME:
            head, found, tail = path.read_bytes().rpartition(_line(str(was)))
            same = bool(found) and hashlib.sha256(head + _line("") + tail).hexdigest() == was
        else:
            same = sum_of(path) == was
        # Edits that a program has not yet put into the database lie beside it.
        journal = path.with_name(path.name + "-wal")
        if not same or (path.suffix == ".gpkg" and journal.is_file() and journal.stat().st_size > 0):
            changed.append(str(name))
    return sorted(changed)


def _line(own: str) -> bytes:
    return f'"{SUMMARY_NAME}": "{own}"'.encode()


def _with_own_sum(content: bytes, own: str) -> bytes:
    head, found, tail = content.rpartition(_line(""))
    return head + _line(own) + tail if found else content
