"""Columns of whole numbers for the map page: small as text, exact, and quick to read in a browser."""

from __future__ import annotations

import base64

import numpy as np

#: Steps per degree of every position on the page: 1e-5 degree is 1.1 m at the equator, less than the size of a cabinet's
#: plot and about the tenth part of what a pocket receiver can tell.
STEPS_PER_DEG = 100_000

#: A drift that equals the tolerance is within it; so much more is lost in the arithmetic of minutes (see `sharing.drift`).
SAME_MIN = 1e-7

#: What a column of non-negative numbers says where there is no number.
MISSING = -1


def packed(values) -> dict[str, list[int]]:
    """A column of integers as differences, or as runs where most neighbours are equal, whichever is shorter.

    Parameters
    ----------
    values : array_like of int, shape (n,)
        The column.

    Returns
    -------
    dict
        ``{"steps": [first, difference, ...]}`` or ``{"runs": [value, count, value, count, ...]}``;
        ``web/unpack.js`` turns either back.

    Examples
    --------
    >>> packed([7, 7, 7, 7, 9])
    {'runs': [7, 4, 9, 1]}
    >>> packed([100, 101, 99])
    {'steps': [100, 1, -2]}
    """
    column = np.asarray(values, dtype=np.int64)
    if column.size == 0:
        return {"steps": []}
    steps = np.diff(column, prepend=0)
    starts = np.flatnonzero(np.r_[True, column[1:] != column[:-1]])
    counts = np.diff(np.r_[starts, column.size])
    if 2 * starts.size < column.size:
        return {"runs": np.column_stack([column[starts], counts]).ravel().tolist()}
    return {"steps": steps.tolist()}


def tenths(values) -> np.ndarray:
    """Tenths of a quantity, rounded exactly as a table rounded to one decimal; `MISSING` where it is NaN.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Never negative where not NaN.

    Returns
    -------
    ndarray of int64, shape (n,)

    Notes
    -----
    ``numpy.round(x, 1)`` is what ``DataFrame.round(1)`` does to sites.csv, so that page and table never disagree in the
    last digit shown.
    """
    rounded = np.round(np.asarray(values, dtype=float), 1)
    finite = np.isfinite(rounded)
    return np.where(finite, np.rint(np.where(finite, rounded, 0.0) * 10), MISSING).astype(np.int64)


def raised(values) -> np.ndarray:
    """Where a tenth more than `tenths` is needed for the tenths to be no less than the quantity.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Never negative where not NaN.

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    Minutes rounded up lie beyond a tolerance in whole tenths exactly where the minutes themselves do, so that the page can judge by
    another tolerance as `drift_at` does, which takes `SAME_MIN` more than the tolerance for the same.
    """
    exact = np.nan_to_num(np.asarray(values, dtype=float))
    return exact > tenths(exact) / 10 + SAME_MIN


def bits(values) -> dict[str, str]:
    """A column of yes and no as ``{"bits": base64}``, the first in the lowest bit; an eighth of a byte each."""
    return {"bits": base64.b64encode(np.packbits(np.asarray(values, dtype=bool), bitorder="little").tobytes()).decode("ascii")}


def coded(values, blank: str | None = "") -> tuple[list[str], np.ndarray]:
    """A table of the different texts in a column, in order of appearance, and each row's place in it.

    Parameters
    ----------
    values : iterable of str, length n
        The column.
    blank : str or None
        The text that stands for "none": it gets `MISSING` instead of a place. None: every text gets a place.

    Returns
    -------
    tuple of (list of str, ndarray of int64)
    """
    table: dict[str, int] = {}
    places = np.empty(len(values), dtype=np.int64)
    for row, value in enumerate(values):
        text = "" if value is None or value != value else str(value)
        places[row] = MISSING if blank is not None and text == blank else table.setdefault(text, len(table))
    return list(table), places


def known_places(values, known: tuple[str, ...], blank: str | None = "") -> np.ndarray:
    """Each row's place in a list of words that the page has sentences for.

    Parameters
    ----------
    values : iterable of str, length n
    known : tuple of str
    blank : str or None
        The text that stands for "none": it gets `MISSING`. None: there is no such text.

    Returns
    -------
    ndarray of int64, shape (n,)

    Raises
    ------
    ValueError
        For any other word. The page would tell something else in its place.
    """
    place = {word: k for k, word in enumerate(known)}
    if blank is not None:
        place[blank] = MISSING
    strange = sorted({str(value) for value in values if value not in place})
    if strange:
        raise ValueError(f"the map page has no words for {', '.join(map(repr, strange))}; it knows {', '.join(known)}")
    return np.array([place[value] for value in values], dtype=np.int64)


def steps_of_line(coordinates) -> list[int]:
    """A line as ``[lon, lat, lon difference, lat difference, ...]`` in steps of 1e-5 degree; repeated points dropped.

    Parameters
    ----------
    coordinates : array_like of float, shape (n, 2)
        Longitude and latitude [degree].

    Returns
    -------
    list of int
        Empty if fewer than two different points are left.
    """
    points = np.rint(np.asarray(coordinates, dtype=float)[:, :2] * STEPS_PER_DEG).astype(np.int64)
    moved = np.r_[True, np.any(points[1:] != points[:-1], axis=1)]
    points = points[moved]
    if len(points) < 2:
        return []
    return np.diff(points, axis=0, prepend=np.zeros((1, 2), dtype=np.int64)).ravel().tolist()
