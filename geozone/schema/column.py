"""A column and a table as records: what a reader of the files may rely on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from ..errors import UndeclaredError

Kind = Literal["text", "whole", "number", "flag", "date", "word"]
KINDS = ("text", "whole", "number", "flag", "date", "word")

# What a decimals entry may say instead of a count: as many as the keypad has, so that 140.0 is not shown as 140.
KEYPAD: Literal["keypad"] = "keypad"


@dataclass(frozen=True)
class Column:
    """One column of a table that leaves the program.

    Attributes
    ----------
    name : str
        As in CSV, GeoPackage and `summary.json`; its ending names the unit.
    heading : str
        For people: the workbook and the tables of columns.
    sentence : str
        What it holds, in one plain sentence.
    kind : {"text", "whole", "number", "flag", "date", "word"}
        "word": one of a vocabulary's codes; "date": an ISO date, "" where there is none.
    unit : str
        As shown behind a figure: "min", "h", "degrees". "" without one.
    decimals : int, "keypad" or None
        Places that a table shows of a "number"; "keypad": as many as the keypad's step has in CSV files and the workbook, six elsewhere.
    source : str
        Where it comes from: "site list", "legal time", "shared setting", "fewest settings", "programmes", ...
    vocabulary : str
        Name of the vocabulary (see `geozone.schema.vocabulary`) of a "word"; "" otherwise.
    on_map : bool
        True if the map page shows it for a site.

    Raises
    ------
    UndeclaredError
        If the record contradicts itself.
    """

    name: str
    heading: str
    sentence: str
    kind: Kind
    unit: str = ""
    decimals: int | Literal["keypad"] | None = None
    source: str = ""
    vocabulary: str = ""
    on_map: bool = False

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise UndeclaredError(f"column {self.name}: kind {self.kind!r} is none of {', '.join(KINDS)}")
        if (self.kind == "number") != (self.decimals is not None):
            raise UndeclaredError(f"column {self.name}: decimals belong to numbers, and every number needs some")
        if (self.kind == "word") != bool(self.vocabulary):
            raise UndeclaredError(f"column {self.name}: a word needs its vocabulary")
        if not self.heading or not self.sentence.endswith("."):
            raise UndeclaredError(f"column {self.name}: heading or sentence is missing")

    @property
    def places(self) -> int:
        """Decimals of a "number" where no keypad says how many."""
        return 6 if self.decimals == KEYPAD else int(self.decimals or 0)

    @property
    def heading_with_unit(self) -> str:
        return f"{self.heading} [{self.unit}]" if self.unit else self.heading


@dataclass(frozen=True)
class Table:
    """One table that leaves the program, its columns in the order in which people look for them.

    Attributes
    ----------
    name : str
        Name of the CSV file, the workbook's sheet or the layer.
    sentence : str
        What a row is.
    columns : tuple of Column
    """

    name: str
    sentence: str
    columns: tuple[Column, ...]

    def __post_init__(self) -> None:
        names = [column.name for column in self.columns]
        if len(set(names)) != len(names):
            raise UndeclaredError(f"table {self.name}: a column is declared twice")

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    def __contains__(self, name: str) -> bool:
        return name in self.names

    def __getitem__(self, name: str) -> Column:
        for column in self.columns:
            if column.name == name:
                return column
        raise UndeclaredError(f"table {self.name} has no column {name!r}")

    def get(self, name: str) -> Column | None:
        """The column of that name, or None for one of the user's own."""
        return next((column for column in self.columns if column.name == name), None)

    def ordered(self, present) -> list[str]:
        """Names that are present, declared ones first and in their order, the user's own after them as they came."""
        present = list(present)
        return [name for name in self.names if name in present] + [name for name in present if name not in self]


def step_decimals(step: float) -> int:
    """How many decimals a keypad's step has.

    Examples
    --------
    >>> step_decimals(0.1), step_decimals(0.25), step_decimals(1.0), step_decimals(1 / 60)
    (1, 2, 0, 6)
    """
    for places in range(6):
        if math.isclose(round(step, places), step, abs_tol=1e-9):
            return places
    return 6
