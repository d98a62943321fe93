"""Where a key stands in a TOML file: the line that a message about it names."""

from __future__ import annotations

import re
from pathlib import Path

_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^,\]}\n#]+")
_HEAD = re.compile(r"\[\[?")
_TEXTS = (re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}(?!")', re.S), re.compile(r"'''.*?'{3,5}(?!')", re.S),
          re.compile(r'"(?:[^"\\\n]|\\.)*"'), re.compile(r"'[^'\n]*'"))


class Places:
    """Lines of the keys of one TOML file: sections, keys, and the parts of lists and of tables in one line.

    Parameters
    ----------
    name : str
        The file as messages call it.
    text : str
        Its text, which `tomllib` has read without a fault; empty when the sections did not come from a file.

    Examples
    --------
    >>> places = Places("job.toml", '[[programme]]\\nname = "a"\\n[[programme.event]]\\nat = "25:00"\\n')
    >>> places.where("programme", 0, "event", 0, "at")
    'job.toml, line 4'
    """

    def __init__(self, name: str = "", text: str = ""):
        self.name = name
        scan = _Scan(text)
        self.line: dict[tuple, int] = scan.line
        #: Where the value of each key begins and ends in the text.
        self.span: dict[tuple, tuple[int, int]] = scan.span
        #: Sections that stand in [brackets], in the order of the file: path and where the head begins.
        self.heads: list[tuple[tuple, int]] = scan.heads

    def where(self, *path) -> str | None:
        """File and line of a key, or of the nearest table round it; None when there is no file."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.line:
                return ", ".join(filter(None, (self.name, f"line {self.line[path[:length]]}")))
        return self.name or None


class _Scan:
    """One pass over TOML that is known to be valid: only what tells one key from the next is looked at."""

    def __init__(self, text: str):
        self.text, self.at = text, 0
        self.line: dict[tuple, int] = {}
        self.span: dict[tuple, tuple[int, int]] = {}
        self.heads: list[tuple[tuple, int]] = []
        self._count: dict[tuple, int] = {}
        self._number, self._seen = 1, 0
        section: tuple = ()
        while self._skip(_SPACE) < len(text):
            here = self._line()
            if head := _HEAD.match(text, self.at):
                self.at = head.end()
                section = self._section(self._names(), many=head.group() == "[[", line=here)
                self.heads.append((section, head.start()))
                self.at = text.index("]", self.at) + len(head.group())
            else:
                self._pair(section, here)

    def _section(self, names: tuple[str, ...], many: bool, line: int) -> tuple:
        path: tuple = ()
        for i, name in enumerate(names):
            path += (name,)
            if many and i == len(names) - 1:
                self.line.setdefault(path, line)
                self._count[path] = self._count.get(path, -1) + 1
            if path in self._count:
                path += (self._count[path],)
            self.line.setdefault(path, line)
        return path

    def _pair(self, section: tuple, line: int) -> None:
        names = self._names()
        for length in range(1, len(names) + 1):
            self.line.setdefault(section + names[:length], line)
        self.at = self.text.index("=", self.at) + 1
        self._value(section + names)

    def _names(self) -> tuple[str, ...]:
        """A key with its dots."""
        names = []
        while True:
            self._skip(_BLANK)
            if quoted := next((found for kind in _TEXTS[2:] if (found := kind.match(self.text, self.at))), None):
                names.append(quoted.group()[1:-1])
                self.at = quoted.end()
            else:
                found = _BARE.match(self.text, self.at)
                names.append(found.group())
                self.at = found.end()
            self._skip(_BLANK)
            if self.text[self.at] != ".":
                return tuple(names)
            self.at += 1

    def _value(self, path: tuple) -> None:
        start = self._skip(_BLANK)
        first = self.text[start]
        if first == "[":
            self._list(path)
        elif first == "{":
            self._table(path)
        else:
            self._skip(next((kind for kind in _TEXTS if kind.match(self.text, self.at)), _PLAIN))
        self.span[path] = start, start + len(self.text[start:self.at].rstrip())

    def _list(self, path: tuple) -> None:
        self.at += 1
        number = 0
        while self.text[self._skip(_SPACE)] != "]":
            self.line.setdefault(path + (number,), self._line())
            self._value(path + (number,))
            number += 1
            if self.text[self._skip(_SPACE)] == ",":
                self.at += 1
        self.at += 1

    def _table(self, path: tuple) -> None:
        self.at += 1
        while self.text[self._skip(_SPACE)] != "}":
            self._pair(path, self._line())
            if self.text[self._skip(_SPACE)] == ",":
                self.at += 1
        self.at += 1

    def _skip(self, kind: re.Pattern) -> int:
        """Go on behind a match, if there is one; the new place."""
        found = kind.match(self.text, self.at)
        self.at = found.end() if found else self.at
        return self.at

    def _line(self) -> int:
        self._number += self.text.count("\n", self._seen, self.at)
        self._seen = self.at
        return self._number


def line_of(path: Path | None, *key: str) -> str | None:
    """File and line of a key in a job file on disk; the file alone where it cannot be read, None without a file."""
    if path is None:
        return None
    try:
        return Places(str(path), path.read_text(encoding="utf-8-sig")).where(*key)
    except (OSError, UnicodeDecodeError):
        return str(path)
