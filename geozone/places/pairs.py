"""Columns that come in twos: a north and an east number, and which belong together."""

from __future__ import annotations

import re

from .cellkinds import allows
from .headings import plain, rank_of
from .tables import Table

#: What says "north" or "east" in a heading; the rest of it says which pair it is of.
_DIRECTION = re.compile(r"northing|easting|north|east|hochwert|rechtswert|nordwert|ostwert|nord|norte|este|ost|latitude|"
                        r"longitude|latitud|longitud|latitudine|longitudine|breite|lange|lat|long|lng|lon|[xyne]")

Pair = tuple[str, str]


def pairs_of(table: Table, north: str, east: str, taken: set[str]) -> list[Pair]:
    """Every complete pair (north column, east column) of one kind, in the order of the file; equal columns once.

    Parameters
    ----------
    table : Table
    north, east : str
        Meanings, "lat" and "lon" or "y" and "x".
    taken : set of str
        Columns that mean something else.
    """
    columns = list(table.frame.columns)
    found = {what: [(c, rank) for c in columns if c not in taken and (rank := rank_of(c, what)) is not None
                    and allows(table.frame[c], what, rank)] for what in (north, east)}
    costs = sorted((_cost(columns, a, rank_a, b, rank_b), a, b)
                   for a, rank_a in found[north] for b, rank_b in found[east])
    pairs: list[Pair] = []
    for _, a, b in costs:
        if not any(a in pair or b in pair for pair in pairs):
            pairs.append((a, b))
    pairs.sort(key=lambda pair: columns.index(pair[0]))
    distinct: list[Pair] = []
    for a, b in pairs:
        if not any(table.frame[a].equals(table.frame[c]) and table.frame[b].equals(table.frame[d]) for c, d in distinct):
            distinct.append((a, b))
    return distinct


def _cost(columns: list[str], a: str, rank_a: int, b: str, rank_b: int) -> tuple:
    """Low where two headings say the same but for the direction, then where they stand side by side."""
    stems = {_DIRECTION.sub("*", plain(name), count=1) for name in (a, b)}
    return rank_a != rank_b, len(stems) - 1, abs(columns.index(a) - columns.index(b)), rank_a + rank_b


def named_pair(pair: Pair) -> str:
    return f'"{pair[0]}", "{pair[1]}"'


def side_by_side(rivals: tuple[Pair, ...]) -> bool:
    """Whether one pair has the headings of the other once more, as where two lists stand in one sheet."""
    return rivals[1][0] == f"{rivals[0][0]} (2)" and rivals[1][1] == f"{rivals[0][1]} (2)"
