"""What a set cover must offer to be searched: rows to be covered, and columns that are made when they are asked for.

There may be far too many columns to list (every shift that a keypad can give, at every latitude). So a problem is never
handed over as a matrix; the search asks for the columns that weigh most, or for all of them over a few rows.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np


class Columns(Protocol):
    """The columns of a problem over some of its rows. A column is a row of whole numbers; what they mean is the problem's affair."""

    n: int

    def heaviest(self, weight: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Heavy columns, the heaviest of all among them.

        Parameters
        ----------
        weight : (n,) float64
            Not negative.

        Returns
        -------
        total : (m,) float64
            Weight of the rows that each column holds; 0 where a place is empty, whatever `columns` says there.
        columns : (m, width) int64
        family : (m,) int64
            Columns of one family hold much the same rows.
        """

    def listed(self, weight: np.ndarray, threshold: float, room: int) -> tuple[np.ndarray, np.ndarray] | None:
        """All columns that weigh at least the threshold and lie within no other, with their sets.

        Returns
        -------
        columns : (m, width) int64
        sets : (m, words) uint64
            As `bits.pack` makes them.
            None instead of both if they are more than about `room`, or too much work.
        """

    def member(self, columns: np.ndarray) -> np.ndarray:
        """(m, n) bool: which rows the columns hold."""


class Problem(Protocol):
    """A set cover with n rows, numbered from 0. It does not change; equal problems have equal columns.

    Attributes
    ----------
    n : int
    at : (n, 2) float64
        Where the rows lie: rows that lie near each other are in much the same columns. Only a help; nothing that is
        proved rests on it.
    near : float
        What is near, in units of `at`.

    Notes
    -----
    A problem may be known from two sides only. Covers are made of the columns as they surely are; bounds rest on wide
    columns, such that every true column lies within a wide one. Where both are the same, `wide` says nothing.
    """

    @property
    def n(self) -> int: ...

    @property
    def at(self) -> np.ndarray: ...

    @property
    def near(self) -> float: ...

    def columns(self, rows: np.ndarray, wide: bool) -> Columns:
        """The columns over some rows."""

    def held(self, columns: np.ndarray, wide: bool) -> np.ndarray:
        """(m, n) bool: which of all rows the columns hold."""
