"""The text of a job file, changed key by key: no line that was not meant is touched, and remarks stay with theirs.

tomlkit spells values and keeps the remarks inside lists. Where a line begins and ends is taken from the text itself: tomlkit gives a
remark above [[programme]] to the table before, loses that of a key which is taken out, and moves sections that are interrupted.
Every change is read back: it must say what was meant and nothing else, or it is not made.
"""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

import tomlkit

from ..errors import InputError
from ..jobs.jobplaces import Places
from .nested import value_at

_HEAD_IN_REMARK = re.compile(r"[ \t]*#[ \t]*\[{1,2}[\w.-]+\]{1,2}[ \t]*(?:#.*)?$")
# What stands on a line, the space behind it and its remark; a # in a text is none.
_REMARK_BEHIND = re.compile(r"""((?:[^"'#]|"(?:[^"\\]|\\.)*"|'[^']*')*?)([ \t]+)(#.*)$""")


class JobText:
    """A job file's text and what can be done to it; each change gives a new one.

    Parameters
    ----------
    text : str
        Valid TOML, without a byte order mark.

    Examples
    --------
    >>> job = JobText('[tolerance]   # how far off\\ndark_min = 3   # unlit\\n')
    >>> print(job.with_value(("tolerance", "dark_min"), 4.5).text, end="")
    [tolerance]   # how far off
    dark_min = 4.5 # unlit
    >>> print(job.without(("tolerance", "dark_min")).text, end="")
    [tolerance]   # how far off
    # dark_min = 3 # unlit
    """

    def __init__(self, text: str):
        self.text = text
        self.data: dict[str, Any] = tomllib.loads(text)
        self._places = Places("", text)
        self._newline = "\r\n" if 2 * text.count("\r\n") > text.count("\n") else "\n"

    def has(self, path: tuple) -> bool:
        """Whether the file says anything under a path."""
        return value_at(self.data, path) is not None

    def with_value(self, path: tuple, value: Any) -> JobText:
        """The value of a key, added to its section where it is not there yet."""
        meant = _changed(self.data, path, value)
        if path in self._places.span:
            return self._checked(self._replaced(path, value), meant)
        if not self._head_of(path[:-1]):
            return self.with_section(path[:-1]).with_value(path, value)
        for text in (*self._out_of_a_remark(path, value), self._behind_the_last(path, value)):
            if _says(text, meant):
                return JobText(text)
        raise _cannot(path)

    def without(self, path: tuple) -> JobText:
        """A key taken out: its line becomes a remark, so that what stood beside it is kept and it can be taken in again."""
        start, end = self._lines(path)
        return self._checked(self.text[:start] + self._as_remark(self.text[start:end]) + self.text[end:], _changed(self.data, path, None))

    def with_section(self, path: tuple) -> JobText:
        """A section without keys, where it stands as a remark or else at the end."""
        meant = _changed(self.data, path, {})
        head = "[" + ".".join(map(str, path)) + "]"
        for found in re.finditer(rf"(?m)^#[ \t]?({re.escape(head)}[^\r\n]*)", self.text):
            text = self.text[:found.start()] + _moved_remark(found[1], found[0].find("#", 2)) + self.text[found.end():]
            if _says(text, meant):
                return JobText(text)
        return self._checked(self._ended(self.text) + head + self._newline, meant)

    def without_section(self, path: tuple) -> JobText:
        """A section taken out with all that belongs to it: every line becomes a remark."""
        spots = sorted({self._line_at(at) for own, at in self._places.heads if own[:len(path)] == path}
                       | {self._lines(own) for own in self._places.span if own[:len(path)] == path and self._is_line(own)})
        if not spots:
            raise _cannot(path)
        parts, done = [], 0
        for start, end in spots:
            if start >= done:
                parts += [self.text[done:start], self._as_remark(self.text[start:end])]
                done = end
        return self._checked("".join(parts) + self.text[done:], _changed(self.data, path, None))

    def with_table(self, path: tuple, table: dict) -> JobText:
        """One more table of a list such as [[programme]], behind the others; lists in it become tables of their own."""
        there = value_at(self.data, path) or []
        meant = _changed(self.data, path, [*there, table])
        last = path + (len(there) - 1,) if there else path[:-1] if len(path) > 1 and self.has(path[:-1]) else None
        at = self._end_of(last) if last else len(self.text.rstrip())
        block = self._newline.join(_spelled_table([name for name in path if isinstance(name, str)], table))
        behind = self.text[at:].lstrip("\r\n")
        text = self.text[:at].rstrip("\r\n") + 2 * self._newline + block + self._newline + (self._newline + behind if behind else "")
        return self._checked(text, meant)

    def without_table(self, path: tuple) -> JobText:
        """A table of a list taken out, with the remark right above it; what is said further on belongs to the next one and stays."""
        rows = list(value_at(self.data, path[:-1]) or [])
        if not isinstance(path[-1], int) or not 0 <= path[-1] < len(rows):
            raise _cannot(path)
        meant = _changed(self.data, path[:-1], [row for i, row in enumerate(rows) if i != path[-1]] or None)
        starts = [at for own, at in self._places.heads if own == path]
        if not starts:
            raise _cannot(path)
        start, end = self._with_remark_above(self._line_at(starts[0])[0]), self._end_of(path)
        behind = self.text[end:]
        blank = re.match(r"(?:[ \t]*\r?\n)+", behind)
        text = self.text[:start] + (behind[blank.end():] if blank else behind)
        # A section that was there by this table alone goes with it.
        return JobText(text) if value_at(meant, path[:-2]) == {} and _says(text, _changed(meant, path[:-2], None)) else self._checked(text, meant)

    def _checked(self, text: str, meant: dict) -> JobText:
        if not _says(text, meant):
            raise _cannot(())
        return JobText(text)

    def _replaced(self, path: tuple, value: Any) -> str:
        start, end = self._places.span[path]
        old = self.text[start:end]
        new = _list_spelled(old, value_at(self.data, path), value) if isinstance(value, list) else spelled(value)
        remark = re.match(r"([ \t]+)#", self.text[end:])
        if remark and "\n" not in new:
            new += " " * max(1, len(remark[1]) - (len(new) - len(old)))
            end += len(remark[1])
        return self.text[:start] + new + self.text[end:]

    def _out_of_a_remark(self, path: tuple, value: Any):
        """The text with a key's line in which it stands as a remark, such as those of a new job, made to count."""
        start, stop = self._region(path[:-1])
        for found in re.finditer(rf"(?m)^#[ \t]?({re.escape(str(path[-1]))}[ \t]*=[^\r\n]*)", self.text[start:stop]):
            line = found[1]
            try:
                begin, end = Places("", line).span[(path[-1],)]
                tomllib.loads(line)
            except (KeyError, IndexError, AttributeError, ValueError):
                continue
            remark, changed = line[end:].lstrip(), line[:begin] + spelled(value)
            if remark.startswith("#"):
                changed += " " * max(1, len(found[0]) - len(remark) - len(changed)) + remark
            yield self.text[:start + found.start()] + changed + self.text[start + found.end():]

    def _behind_the_last(self, path: tuple, value: Any) -> str:
        section = path[:-1]
        start, _ = self._region(section)
        ends = [self._lines(own)[1] for own in self._places.span if own[:-1] == section and self._is_line(own) and self._places.span[own][0] >= start]
        at = max(ends, default=start)
        before = self.text[:at] if not at or self.text[at - 1] == "\n" else self.text[:at] + self._newline
        return f"{before}{_key(str(path[-1]))} = {spelled(value)}{self._newline}{self.text[at:]}"

    def _head_of(self, section: tuple) -> bool:
        return any(own == section for own, _ in self._places.heads)

    def _region(self, section: tuple) -> tuple[int, int]:
        """The text of a section from behind its head to the next head, also one that stands as a remark."""
        heads = self._places.heads
        number = next(i for i, (own, _) in enumerate(heads) if own == section)
        start = self._line_at(heads[number][1])[1]
        stop = heads[number + 1][1] if number + 1 < len(heads) else len(self.text)
        place = start
        for line in self.text[start:stop].splitlines(keepends=True):
            if _HEAD_IN_REMARK.match(line.rstrip("\r\n")):
                return start, place
            place += len(line)
        return start, stop

    def _is_line(self, path: tuple) -> bool:
        """Whether a key has lines of its own, and is no part of a list or a table on one line."""
        return not any(path[:length] in self._places.span for length in range(1, len(path)))

    def _line_at(self, at: int) -> tuple[int, int]:
        """The line round a place, its end included."""
        end = self.text.find("\n", at)
        return self.text.rfind("\n", 0, at) + 1, len(self.text) if end < 0 else end + 1

    def _lines(self, path: tuple) -> tuple[int, int]:
        """The lines of a key and its value."""
        if path not in self._places.span or not self._is_line(path):
            raise _cannot(path)
        start, end = self._places.span[path]
        return self._line_at(start)[0], self._line_at(max(start, end - 1))[1]

    def _end_of(self, path: tuple) -> int:
        """Where the last line of a section and of all below it ends."""
        ends = [self._line_at(at)[1] for own, at in self._places.heads if own[:len(path)] == path]
        ends += [self._lines(own)[1] for own in self._places.span if own[:len(path)] == path and self._is_line(own)]
        if not ends:
            raise _cannot(path)
        return max(ends)

    def _with_remark_above(self, start: int) -> int:
        while start:
            above = self._line_at(start - 1)[0]
            if not self.text[above:start].lstrip().startswith("#"):
                break
            start = above
        return start

    def _as_remark(self, lines: str) -> str:
        made = []
        for line in lines.splitlines(keepends=True):
            plain = line.rstrip("\r\n")
            if not plain.strip() or plain.lstrip().startswith("#"):
                made.append(line)
                continue
            # The remark behind it stays in its column where there is room.
            found = _REMARK_BEHIND.match(plain)
            closer = found[1] + found[2][2:] + found[3] if found and len(found[2]) > 2 else plain
            made.append("# " + closer + line[len(plain):])
        return "".join(made)

    def _ended(self, text: str) -> str:
        """A text with an end of line and a blank line, for something to stand behind."""
        return text.rstrip() + 2 * self._newline if text.strip() else ""


def spelled(value: Any) -> str:
    """A value as a job file spells it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(name)} = {spelled(one)}" for name, one in value.items()) + " }" if value else "{}"
    if isinstance(value, list):
        return "[" + ", ".join(map(spelled, value)) + "]"
    return tomlkit.item(value).as_string()


def empty_job(template: str, title: str, year: int) -> str:
    """The job of a new plan: the commented example without its files and its setting, to be filled by what is dropped on it."""
    job = JobText(template).with_value(("job", "title"), title).with_value(("job", "year"), year)
    for section, names in (("job", "sites areas area_names"), ("shared", "lat_deg lon_deg legal_zone dusk_offset_min dawn_offset_min")):
        for name in names.split():
            job = job.without((section, name))
    return job.text


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else tomlkit.item(name).as_string()


def _spelled_table(path: list[str], table: dict) -> list[str]:
    lines = [f"[[{'.'.join(map(_key, path))}]]"]
    below = {name: rows for name, rows in table.items() if isinstance(rows, list) and rows and all(isinstance(row, dict) for row in rows)}
    lines += [f"{_key(name)} = {spelled(value)}" for name, value in table.items() if name not in below]
    for name, rows in below.items():
        for row in rows:
            lines += ["", *_spelled_table([*path, name], row)]
    return lines


def _list_spelled(old_text: str, old: Any, new: list) -> str:
    """A list with items added at its end or taken out; remarks that stand in it are kept."""
    if isinstance(old, list) and "\n" in old_text:
        kept = [item for item in old if item in new]
        if new[:len(kept)] == kept:
            items = tomlkit.parse(f"x = {old_text}")["x"]
            for i in reversed([i for i, item in enumerate(old) if item not in new]):
                items.pop(i)
            for item in new[len(kept):]:
                items.append(item)
            return items.as_string()
    return spelled(new)


def _moved_remark(line: str, column: int) -> str:
    """A line with the remark at its end put into a column, where there is room."""
    found = _REMARK_BEHIND.match(line)
    return found[1] + " " * max(1, column - len(found[1])) + found[3] if found and column >= 0 else line


def _changed(data: dict, path: tuple, value: Any) -> dict:
    """Data with another value under a path; None takes it out."""
    made = copy.deepcopy(data)
    inner: Any = made
    try:
        for name, below in zip(path, path[1:]):
            if isinstance(inner, dict) and name not in inner:
                inner[name] = [] if isinstance(below, int) else {}
            inner = inner[name]
        if value is None:
            inner.pop(path[-1])
        else:
            inner[path[-1]] = value
    except (TypeError, KeyError, IndexError, AttributeError):  # the file has something else there than a section
        raise _cannot(path) from None
    return made


def _says(text: str, meant: dict) -> bool:
    try:
        return tomllib.loads(text) == meant
    except (ValueError, RecursionError):
        return False


def _cannot(path: tuple) -> InputError:
    return InputError("the form cannot make this change in the file as it is written", value=".".join(map(str, path)) or None,
                      rule="nothing was changed", next_step="make it in the text of the job file")
