"""Text tables as people save them: the separator found out, and said."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter

from ..errors import InputError
from . import limits
from .encodings import decode

#: Tried in this order; on a tie the earlier one wins, because a comma also stands inside texts and numbers.
SEPARATORS = ("\t", ";", "|", ",")
SEPARATOR_WORDS = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma"}
#: One cell longer than this is a quotation mark left open, not a cell.
LONGEST_CELL = 5_000_000
#: More line breaks than this inside one quoted cell: the same. A postal address has five.
MOST_LINES_IN_CELL = 30


def read_rows(data: bytes, file: str, encoding: str | None = None,
              separator: str | None = None) -> tuple[list[list[str]], str | None, tuple[str, ...]]:
    """The cells of a text table, a list of text a row, blank rows kept so that row numbers stay true.

    Parameters
    ----------
    data : bytes
        The file as it lies on disk.
    file : str
        Its name, for messages.
    encoding, separator : str, optional
        Stated by the user; left out: found out.

    Returns
    -------
    rows : list of list of str
    separator : str or None
        The separator in use, None for a list of one column.
    notes : tuple of str
        What was found out and is not plain.

    Raises
    ------
    InputError
        If the text cannot be decoded or a quotation mark is left open.
    """
    text, notes = decode(data, file, encoding)
    stated = re.match(r"sep=(.)\r?\n", text)
    if stated:  # a line that spreadsheet programs write and swallow: it is no row to the person
        text = text[stated.end():]
        separator = separator or stated[1]
    if separator is not None:
        separator = separator_meant(separator)
        if len(separator) != 1:
            raise InputError("the separator must be one character", where=file, value=separator,
                             next_step='for example [reading] separator = ";" or "tab"')
    else:
        separator = find_separator(text)
        if separator in (";", "\t", "|"):
            notes.append(f"{file}: columns are separated by {SEPARATOR_WORDS[separator]}s")
    return _split(text, separator, file), separator, tuple(notes)


def separator_meant(stated: str) -> str:
    """The separator that a person states, as itself or by its word: "tab" is a tab."""
    return {"\\t": "\t", **{word: mark for mark, word in SEPARATOR_WORDS.items()}}.get(stated, stated)


def find_separator(text: str) -> str | None:
    """The separator under which the first rows agree best on a number of columns; None = one column."""
    sample = "\n".join(text[:200_000].splitlines()[:200])
    best, best_key = None, (0.0, 0)
    for separator in SEPARATORS:
        try:
            rows = [row for row in csv.reader(io.StringIO(sample, newline=""), delimiter=separator)
                    if any(cell.strip() for cell in row)]
        except csv.Error:
            continue
        counts = [len(row) for row in rows]
        if not counts:
            return None
        usual, times = Counter(counts).most_common(1)[0]
        if usual < 2:
            continue
        agree = times / len(counts)
        # one heading over rows of several numbers is a list of "lat, lon" texts; over words, a title
        if len(counts) > 1 and counts[0] == 1 and all(re.search(r"\d", cell) for cell in rows[1]):
            continue
        key = (1.0 if agree >= 0.9 else agree, usual)
        if key > best_key:
            best, best_key = separator, key
    return best


def _split(text: str, separator: str | None, file: str) -> list[list[str]]:
    text = text.replace("\x00", "")
    limits.check_text(max(text.count("\n"), text.count("\r")), text.count(separator) if separator else 0, file)
    csv.field_size_limit(LONGEST_CELL)
    if separator is None:
        separator = "\x1f"  # stands in no text: one column
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as first:
        # a value such as  "Old" Mill  is not an open quotation: read it leniently, unless rows were swallowed
        try:
            rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
        except csv.Error as why:
            raise _open_quote(file, None, str(why)) from None
        for number, row in enumerate(rows, 1):
            if any("\n" in cell for cell in row):
                raise _open_quote(file, number, str(first)) from None
    if len(rows) < text.count("\n"):
        for number, row in enumerate(rows, 1):
            if any(cell.count("\n") > MOST_LINES_IN_CELL for cell in row):
                raise _open_quote(file, number, "a value runs over many lines")
    return rows


def _open_quote(file: str, row: int | None, why: str) -> InputError:
    return InputError("a quotation mark is opened and not closed", where=f"{file}, row {row}" if row else file,
                      value=why, next_step="close it or delete it, then run again")
