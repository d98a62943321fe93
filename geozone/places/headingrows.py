"""The rows of a list that name its columns: under a title, in one row or in several, with merged cells."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from ..errors import InputError
from .cells import blank, is_number, shown
from .headings import UNIT, is_heading, rank_of

#: Rows looked at to find the headings: lists carry a title, a date and a blank line above them.
HEADING_ROWS = 25
#: Headings stand in at most so many rows: a group, the heading, its unit.
MOST_ROWS = 3
#: Rows under a heading that show what it is a heading of.
_BODY_ROWS = 30
_PLACE = ("lat", "lon", "x", "y", "position")


@dataclass(frozen=True)
class HeadingBlock:
    """Where the headings stand and what they are.

    Attributes
    ----------
    first, last : int
        Rows counted from 0.
    names : tuple of str
        One name a column, unique; a column without one is "column 5".
    named : tuple of bool
        Whether the file gives the name.
    """

    first: int
    last: int
    names: tuple[str, ...]
    named: tuple[bool, ...]


def find_headings(rows: list[list], where: str) -> HeadingBlock:
    """The headings of a list.

    Parameters
    ----------
    rows : list of list
        Cells as read, blank rows included.
    where : str
        For messages.

    Raises
    ------
    InputError
        If nothing is filled, or if the list begins with numbers.
    """
    filled = [i for i, row in enumerate(rows[:HEADING_ROWS * 4]) if not all(blank(c) for c in row)]
    if not filled:
        raise InputError("there is nothing in the table", where=where, next_step="export the list again")
    width = Counter(sum(not blank(c) for c in rows[i]) for i in filled[:100]).most_common(1)[0][0]
    head = next((i for i in filled[:HEADING_ROWS]
                 if sum(not blank(c) for c in rows[i]) >= max(1, 0.6 * width)), filled[0])
    head = _below_particulars(rows, filled, head)
    cells = [c for c in rows[head] if not blank(c)]
    numbers = [c for c in cells if is_number(c)]
    if len(numbers) > 0.5 * len(cells) or sum("." in str(c) or "," in str(c) for c in numbers) >= 2:
        raise InputError("the first row holds numbers, not the names of the columns", where=f"{where}, row {head + 1}",
                         value=" ".join(str(c) for c in cells[:6]),
                         next_step="put a row of names above the list, for example: site_id, lat, lon")
    first = last = head
    while last - first + 1 < MOST_ROWS and _goes_on(rows, last):
        last += 1
    if first > 0 and last - first + 1 < MOST_ROWS and _groups_above(rows, first, last):
        first -= 1
    block = rows[first:last + 1]
    wide = max(i for row in block for i, c in enumerate(row) if not blank(c)) + 1
    raw = _joined(block, wide)
    return HeadingBlock(first, last, tuple(unique_names(raw)), tuple(bool(n) for n in raw))


def _below_particulars(rows: list[list], filled: list[int], head: int) -> int:
    """A lower row that names a position where the first does not: above it stand particulars, "Made by", "Date"."""
    if sum(map(is_heading, rows[head])) or len(rows[head]) > 4 and not any(blank(c) for c in rows[head]):
        return head
    for i in filled[:HEADING_ROWS]:
        if i > head:
            if sum(map(is_number, rows[i])) > 1:
                return head
            cells = [c for c in rows[i] if not blank(c)]
            if len(cells) >= 3 and sum(map(is_heading, cells)) >= 2:
                return i
    return head


def _goes_on(rows: list[list], last: int) -> bool:
    """Whether the row below still names columns: a north and an east heading over numbers, or nothing but units.

    A row of values must never be taken for headings: it would be lost.
    """
    cells = rows[last + 1] if last + 1 < len(rows) else []
    texts = {i: c for i, c in enumerate(cells) if not blank(c)}
    if not texts or any(not isinstance(c, str) or re.search(r"\d", c) for c in texts.values()):
        return False
    body = [row for row in rows[last + 2:last + 2 + _BODY_ROWS] if any(re.search(r"\d", shown(c)) for c in row)]
    over_numbers = set()
    for position in texts:
        values = [row[position] for row in body if position < len(row) and not blank(row[position])]
        if values and sum(bool(re.search(r"\d", shown(v))) for v in values) >= 0.8 * len(values):
            over_numbers.add(position)
    if all(UNIT.fullmatch(c) for c in texts.values()):
        above = {i: rows[last][i] if i < len(rows[last]) else "" for i in over_numbers}
        return any(rank_of(cell, what) is not None for cell in above.values() for what in (*_PLACE, "load_w")) and not any(
            rank_of(cell, what) is not None for cell in above.values() for what in ("site_id", "name"))
    return _names_place([texts[i] for i in over_numbers]) and not _names_place(rows[last])


def _names_place(cells: list) -> bool:
    """Whether both a north and an east number have their heading among these cells."""
    return any(any(rank_of(c, north) is not None for c in cells) and any(rank_of(c, east) is not None for c in cells)
               for north, east in (("lat", "lon"), ("y", "x")))


def _groups_above(rows: list[list], first: int, last: int) -> bool:
    """Whether the row above holds what a blank or repeated heading lacks: a group over merged cells, or a name."""
    above = rows[first - 1]
    if all(blank(c) for c in above) or any(is_number(c) for c in above) or not any(
            isinstance(c, str) and c.strip() for c in above):
        return False
    names = _joined(rows[first:last + 1], max(map(len, rows[first:last + 1])))
    body = list(rows[last + 1:last + 1 + _BODY_ROWS])
    lacking = [i for i, name in enumerate(names) if not name and i < len(above) and not blank(above[i])
               and any(i < len(row) and not blank(row[i]) for row in body)]
    repeated = {n for n, count in Counter(filter(None, names)).items() if count > 1}
    spots = [i for i, n in enumerate(names) if n in repeated]
    return bool(lacking) or bool(spots) and sum(not blank(c) for c in above) > 1


def _joined(block: list[list], wide: int) -> list[str]:
    """One name a column from the rows of headings; what only repeats gets its group in brackets."""
    texts = [[_text(row[i]) if i < len(row) else "" for i in range(wide)] for row in block]
    names, groups = texts[-1], [""] * wide
    for upper in reversed(texts[:-1]):
        spread, carried = [], ""
        for i in range(wide):  # a merged cell holds its text at its left end only
            carried = upper[i] or (carried if names[i] else "")
            spread.append(carried)
        for i in range(wide):
            if not names[i]:
                names[i] = upper[i]
            elif UNIT.fullmatch(names[i]) and not is_heading(names[i]) and spread[i]:
                names[i] = f"{spread[i]} [{names[i].strip(' []()')}]"
            elif is_heading(upper[i]) and not is_heading(names[i]):
                names[i] = upper[i]
            elif spread[i]:
                groups[i] = spread[i]
    count = Counter(filter(None, names))
    return [f"{name} ({group})" if count[name] > 1 and group and name else name for name, group in zip(names, groups)]


def heading_again(cells: list, names: list[str]) -> str | None:
    """ "same" for the headings printed again, as on each page; "another" for those of a second table; else None.

    Ask it of rows without a digit only.
    """
    texts = [_text(c) for c in cells if not blank(c)]
    if len(texts) < 2 or not all(isinstance(c, str) for c in cells):
        return None
    if all(blank(c) or _text(c) == name for c, name in zip(cells, names)):
        return "same"
    known = sum(map(is_heading, texts))
    # "x", "y" may be values: they count only in a row of three and more headings and nothing else
    words = all(len(text) > 1 for text in texts) or len(texts) > 2 and known == len(texts)
    return "another" if words and _names_place(texts) and known >= 0.6 * len(texts) else None


def _text(cell: object) -> str:
    return " ".join(re.sub(r"[\u200b-\u200f\u2060\ufeff\u00ad]", "", shown(cell)).split())


def unnamed(position: int) -> str:
    """The name of a column that has none, counted from 1."""
    return f"column {position}"


def unique_names(cells: list) -> list[str]:
    """Headings as unique, visible text: blank ones are numbered, repeated ones get (2)."""
    names: dict[str, int] = {}  # and how often it stood there, so that thousands of equal headings cost no more than others
    for position, cell in enumerate(cells, 1):
        name = base = _text(cell) or unnamed(position)
        while name in names:
            names[base] += 1
            name = f"{base} ({names[base]})"
        names[name] = 1
    return list(names)
