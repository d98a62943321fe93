"""Where a key stands in a TOML file: the line that a message about it names."""

from __future__ import annotations

import re
from pathlib import Path

_HEAD = re.compile(r"\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"\s*[\"']?([A-Za-z0-9_-]+)[\"']?\s*=")


class Places:
    """Lines of the keys of one TOML file.

    Parameters
    ----------
    name : str
        The file as messages call it.
    text : str
        Its text; empty when the sections did not come from a file.

    Examples
    --------
    >>> places = Places("job.toml", '[[programme]]\\nname = "a"\\n[[programme.event]]\\nat = "25:00"\\n')
    >>> places.where("programme", 0, "event", 0, "at")
    'job.toml, line 4'
    """

    def __init__(self, name: str = "", text: str = ""):
        self.name = name
        self._line: dict[tuple, int] = {}
        count: dict[tuple, int] = {}
        path: tuple = ()
        for number, line in enumerate(text.splitlines(), 1):
            head = _HEAD.match(line)
            if head:
                path = ()
                parts = [part.strip().strip("\"'") for part in head.group(2).split(".")]
                for i, part in enumerate(parts):
                    path += (part,)
                    if head.group(1) == "[[" and i == len(parts) - 1:
                        count[path] = count.get(path, -1) + 1
                        # A new table starts its own arrays afresh.
                        for inner in [p for p in count if p[:len(path)] == path and len(p) > len(path)]:
                            del count[inner]
                    if path in count:
                        path += (count[path],)
                self._line.setdefault(path, number)
                continue
            key = _KEY.match(line)
            if key:
                self._line.setdefault(path + (key.group(1),), number)

    def where(self, *path) -> str | None:
        """File and line of a key, or of the nearest table round it; None when there is no file."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._line:
                return ", ".join(filter(None, (self.name, f"line {self._line[path[:length]]}")))
        return self.name or None


def line_of(path: Path | None, *key: str) -> str | None:
    """File and line of a key in a job file on disk; the file alone where it cannot be read, None without a file."""
    if path is None:
        return None
    try:
        return Places(str(path), path.read_text(encoding="utf-8-sig")).where(*key)
    except (OSError, UnicodeDecodeError):
        return str(path)
