"""Text tables as people save them: the encoding and the separator found out, and said."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from itertools import islice

from ..errors import InputError
from . import limits

#: Tried in this order; on a tie the earlier one wins, because a comma also stands inside texts and numbers.
SEPARATORS = ("\t", ";", "|", ",")
SEPARATOR_WORDS = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma"}
#: One cell longer than this is a quotation mark left open, not a cell.
LONGEST_CELL = 5_000_000
#: More line breaks than this inside one quoted cell: the same. A postal address has five.
MOST_LINES_IN_CELL = 30

_BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"),
         (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_ENCODING_WORDS = {"cp1252": "CP1252 (Windows, western Europe)", "cp850": "CP850 (DOS, western Europe)"}
_LETTERS = set("äöüßéèêëàâáãåçñíìîïóòôõøúùûœæýÿÄÖÜÉÈÊËÀÂÁÃÅÇÑÍÌÎÏÓÒÔÕØÚÙÛŒÆÝ")
_UNIT_SIGNS = set("°′″²³ºª")
_PUNCTUATION = set("–—‘’“”„«»€§·…")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1b]")


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
        separator = {"tab": "\t", "\\t": "\t", "semicolon": ";", "pipe": "|", "comma": ","}.get(separator, separator)
        if len(separator) != 1:
            raise InputError("the separator must be one character", where=file, value=separator,
                             next_step='for example [reading] separator = ";" or "tab"')
    else:
        separator = find_separator(text)
        if separator in (";", "\t", "|"):
            notes.append(f"{file}: columns are separated by {SEPARATOR_WORDS[separator]}s")
    return _split(text, separator, file), separator, tuple(notes)


def decode(data: bytes, file: str, encoding: str | None = None) -> tuple[str, list[str]]:
    """The text of a file and notes on its encoding; CP1252 and CP850 are told apart by their letters."""
    if encoding is not None:
        try:
            name = codecs.lookup(encoding).name
            return data.decode("utf-8-sig" if name == "utf-8" else name), []
        except LookupError:
            raise InputError("the stated encoding is not known", where=file, value=encoding,
                             next_step='for example [reading] encoding = "utf-8", "cp1252" or "cp850"') from None
        except (UnicodeDecodeError, UnicodeError) as why:
            raise InputError(f"the file cannot be read as {encoding}", where=file, value=str(why),
                             next_step="leave [reading] encoding out to let geozone find it") from None
    for bom, name in _BOMS:
        if data.startswith(bom):
            try:
                return data.decode(name), ([] if name == "utf-8-sig" else [f"{file}: read as {name.upper()}"])
            except UnicodeDecodeError as why:
                raise InputError(f"the file begins as {name.upper()} and is not", where=file, value=str(why),
                                 next_step="save it again as CSV UTF-8") from None
    sample = data[:4000]
    for name, zeros in (("utf-16-le", sample[1::2]), ("utf-16-be", sample[0::2])):
        if len(sample) >= 4 and zeros.count(0) > 0.4 * len(zeros):  # western text in UTF-16 has a zero in every pair
            try:
                return data.decode(name), [f"{file}: read as UTF-16 without a byte order mark"]
            except UnicodeDecodeError:
                break
    if _CONTROL.search(data[:100_000].decode("latin-1")):
        raise InputError("this is not a text file", where=file, value=repr(data[:12]),
                         rule="a CSV is text in UTF-8, UTF-16, CP1252 or CP850",
                         next_step="open it in the program that made it and save it as CSV UTF-8 or .xlsx")
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError:
        pass
    patched = data.decode("utf-8", errors="replace")
    bad = patched.count("�")
    good = len(patched) - len(patched.encode("ascii", "ignore")) - bad
    if good > 10 * bad:
        return patched, [f"{file}: {bad} characters are not UTF-8 and show as �; the rest is"]
    name = legacy_encoding(data)
    return (data.decode(name, errors="replace"),
            [f"{file}: not UTF-8; read as {_ENCODING_WORDS[name]}. If names look wrong, say [reading] encoding"])


def legacy_encoding(data: bytes) -> str:
    """Either "cp1252" or "cp850": the one in which more of the high bytes make letters inside words.

    A letter counts where a letter stands beside it, a degree or prime sign where a digit stands before it;
    box drawing counts against. On a tie CP1252, the commoner one.
    """
    scores = {}
    spots = [m.start() for m in islice(re.finditer(rb"[\x80-\xff]", data), 5000)]
    for name in ("cp1252", "cp850"):
        score = 0
        for spot in spots:
            before, char, after = (data[i:i + 1].decode(name, errors="replace") if i >= 0 else ""
                                   for i in (spot - 1, spot, spot + 1))
            if char in _LETTERS:
                inside = before.isalpha() or after.isalpha()
                odd_case = char.isupper() and before.isalpha() and before.islower()
                score += (2 if inside else 0) - (3 if odd_case else 0)
            elif char in _UNIT_SIGNS:
                score += 2 if before.isdigit() else 0
            elif char in _PUNCTUATION or char == "\u00a0":
                score += 0
            else:
                score -= 2
        scores[name] = score
    return "cp850" if scores["cp850"] > scores["cp1252"] else "cp1252"


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
