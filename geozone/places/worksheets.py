"""Workbooks looked at before they are opened: how large a table their cells span.

The library that reads them makes room for every cell between the first and the last filled one, so that a workbook of five
kilobytes with one cell in the last corner ends the program. Here the cells are only counted as they stream by.
"""

from __future__ import annotations

import re
import xml.parsers.expat
import zipfile

from ..errors import InputError
from . import limits

#: What a workbook's texts may come to when each cell gets its own copy [character].
MOST_CHARACTERS = 1_000_000_000
#: A stray entry in the last row of a small list costs twenty seconds; a list so large is filled better than this.
_SPARSE_ABOVE, _SPARSEST = 1_000_000, 20
_REFERENCE = re.compile(r"([A-Z]{1,3})(\d{1,7})", re.IGNORECASE)
_PICTURES = (".png", ".jpg", ".jpeg", ".gif", ".emf", ".wmf", ".bin", ".tif", ".tiff", ".bmp", ".wdp", ".vml")


class _Extent:
    """Rows and columns that the cells of the sheets in one part span, from row 1 and column A."""

    def __init__(self, file: str):
        self.file = file
        self.row = self.column = self.last_row = self.last_column = 0
        self.cells = self.texts = self.characters = self.longest = self.here = 0
        self.repeat_row, self.before = 1, 0
        self.collect = False
        self.pending: tuple[int, int] | None = None

    def start(self, name: str, own: dict) -> None:
        name = name.rpartition(":")[2]
        own = {key.rpartition(":")[2]: value for key, value in own.items()}
        if name in ("row", "table-row"):
            self.row = _whole(own.get("r"), self.row + self.repeat_row if name == "table-row" else self.row + 1)
            self.repeat_row, self.column = _whole(own.get("number-rows-repeated"), 1), 0
        elif name == "c":
            found = _REFERENCE.fullmatch(own.get("r", ""))
            column = _column(found[1]) if found else self.column + 1
            self.texts += own.get("t") == "s"
            self.column, self.pending = column, (int(found[2]) if found else self.row, column)
        elif name in ("v", "f", "is") and self.pending:  # a cell that only has a look counts for nothing
            self.add(*self.pending, 1)
            self.pending = None
        elif name in ("table-cell", "covered-table-cell"):
            repeated = _whole(own.get("number-columns-repeated"), 1)
            if own.get("value-type") or own.get("formula"):
                self.add(self.row + self.repeat_row - 1, self.column + repeated, repeated * self.repeat_row)
            else:
                self.column += repeated
        elif name in ("si", "t", "p"):
            self.collect, self.here = True, self.here if name != "si" else 0
        elif name in ("worksheet", "table"):
            self.row = self.column = self.last_row = self.last_column = 0
            self.repeat_row, self.before = 1, self.cells

    def add(self, row: int, column: int, cells: int) -> None:
        self.column = column
        self.cells += cells
        self.last_row, self.last_column = max(self.last_row, row), max(self.last_column, column)
        if self.last_column > limits.MOST_COLUMNS or self.last_row * self.last_column > limits.MOST_CELLS or \
                self.cells > limits.MOST_CELLS:
            self.refuse()

    def refuse(self) -> None:
        raise InputError("a sheet spans more cells than a list of sites can", where=self.file,
                         value=f"{self.last_row:,} rows, {self.last_column:,} columns",
                         rule=f"at most {limits.MOST_COLUMNS:,} columns and {limits.MOST_CELLS:,} cells from the first to "
                              "the last, and of many at least one in twenty filled",
                         next_step="look for a stray entry far below or right of the list, delete its row and column, save")

    def end(self, name: str) -> None:
        if name.rpartition(":")[2] in ("worksheet", "table"):
            span = self.last_row * self.last_column
            if span > _SPARSE_ABOVE and (self.cells - self.before) < span / _SPARSEST:
                self.refuse()
        if name.rpartition(":")[2] == "si":
            self.collect, self.longest, self.here = False, max(self.longest, self.here), 0

    def text(self, piece: str) -> None:
        if self.collect:
            self.here += len(piece)


def check_extent(packed: zipfile.ZipFile, file: str) -> None:
    """Refuse a workbook (.xlsx, .xlsm, .ods) whose cells would not fit; InputError."""
    texts = longest = 0
    for member in packed.infolist():
        if member.is_dir() or member.filename.lower().endswith(_PICTURES):
            continue
        extent = _Extent(file)
        parser = xml.parsers.expat.ParserCreate()
        parser.StartElementHandler, parser.EndElementHandler = extent.start, extent.end
        parser.CharacterDataHandler = extent.text
        # a document type in a workbook serves no purpose but the expansion of one name into gigabytes
        parser.StartDoctypeDeclHandler = _no_doctype(file)
        try:
            with packed.open(member) as stream:
                while block := stream.read(1 << 18):
                    parser.Parse(block, False)
        except xml.parsers.expat.ExpatError:
            pass  # no XML, or broken: the library that reads it says so; what was counted before stays counted
        texts, longest = texts + extent.texts, max(longest, extent.longest)
    if texts * longest > MOST_CHARACTERS and texts * longest > 100 * sum(m.file_size for m in packed.infolist()):
        raise InputError("the workbook's texts are longer than a list of sites can hold", where=file,
                         value=f"{texts:,} cells with texts of up to {longest:,} characters",
                         next_step="delete the column of long texts and save it again")


def _no_doctype(file: str):
    def refuse(*_):
        raise InputError("the workbook holds a document type, which none has", where=file,
                         next_step="open and save it again in the spreadsheet program")
    return refuse


def _whole(text: str | None, otherwise: int) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else otherwise


def _column(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + ord(letter) - 64
    return number
