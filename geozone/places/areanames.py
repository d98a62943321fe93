"""What outlines are called: the column of names, and outlines of one name that are one area or namesakes."""

from __future__ import annotations

import difflib

import numpy as np
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ..errors import InputError
from .headings import plain
from .numerals import tidy
from .tables import Table, as_text

#: Headings that name an outline, best first; compare headings.HEADINGS.
NAME_HEADINGS = ("area areaname name district districtname bezirk bezirksname gemeinde municipality commune comune "
                 "municipio gemeente distrito arrondissement quartier barrio wijk buurt kommune ward suburb locality "
                 "concession konzession zone zonename region lganame label title bezeichnung nom nombre nome naam").split()
#: Outlines that come as near as this [degree, about 1 m] touch.
TOUCH_DEG = 1e-5
#: A column with fewer different names than this share of the outlines joins outlines on purpose (wards to districts).
JOINS_SHARE = 1.0 / 3.0


def area_names(table: Table, stated: str | None) -> tuple[np.ndarray, str | None, str]:
    """A name for every row, the column that they are from (None if they were made), and a note.

    Raises
    ------
    InputError
        If the stated column is not there.
    """
    frame = table.frame
    if stated is not None and stated not in frame.columns:
        raise _no_such_column(table, stated)
    texts = [c for c in frame.columns if frame[c].dtype == object or isinstance(frame[c].dtype, pd.StringDtype)]
    texts = [c for c in texts if as_text(frame[c]).str.strip().any()]
    ranked = [c for heading in NAME_HEADINGS for c in texts if plain(c) == heading]
    ranked += [c for c in texts if plain(c).endswith("name") and c not in ranked]
    column = stated or next(iter(ranked + texts), None)
    made = np.array([f"area {number}" for number in table.row], dtype=object)
    if column is None:
        return made, None, f"{table.where}: no column of names; areas are numbered in the order of the file"
    names = tidy(frame[column])[0].to_numpy(dtype=object)
    return np.where(names == "", made, names), column, f'{table.where}: area names from "{column}"'


def _no_such_column(table: Table, stated: str) -> InputError:
    columns = [str(c) for c in table.frame.columns]
    by_plain = {plain(c): c for c in columns}
    near = difflib.get_close_matches(plain(stated), by_plain, 1, 0.6)
    step = f'did you mean area_names = "{by_plain[near[0]]}"?' if near else \
        "state one of these, or leave area_names out: the column is then guessed, and said"
    if not columns:
        step = "leave area_names out: the outlines have no columns and are numbered"
    return InputError("there is no column of the name stated for the areas' names", where=table.where, value=stated,
                      rule="columns: " + (", ".join(columns) or "none"), next_step=step)


def told_apart(names: np.ndarray, shapes: np.ndarray, frame: pd.DataFrame, column: str | None,
               where: str) -> tuple[np.ndarray, tuple[str, ...]]:
    """Names of which each is one area: what touches is joined, namesakes are told apart.

    Outlines that do not touch are joined all the same where a key of the file says that they are one: they agree in every
    column, and in one whose values never stand for two names. So does a column that joins most outlines (wards to districts).

    Parameters
    ----------
    names : (n,) ndarray of str
    shapes : (n,) ndarray of polygons
    frame : DataFrame, n rows
        All columns of the file.
    column : str or None
        The one that the names are from.
    where : str

    Returns
    -------
    names : (n,) ndarray of str
        Rows of one name are one area.
    notes : tuple of str
    """
    code, _ = pd.factorize(names)
    count = np.bincount(code)
    if not (count > 1).any():
        return names, ()
    names = names.copy()
    if len(count) < JOINS_SHARE * len(names):
        return names, (_joined_note(names, count[code] > 1, where),)
    telling = _telling_columns(frame, column)
    keys = _keys(telling, code)
    taken = set(names)
    apart = []
    for one in np.flatnonzero(count > 1):
        rows = np.flatnonzero(code == one)
        part = _parts(shapes[rows], telling.iloc[rows], keys)
        if not part.any():
            continue
        labels = _labels(str(names[rows[0]]), part, telling.iloc[rows], taken)
        taken |= set(labels)
        names[rows] = np.array(labels, dtype=object)[part]
        apart.append(labels)
    notes = []
    repeated = pd.Series(names).duplicated(keep=False).to_numpy()
    better = [c for c in telling if telling[c].is_unique and (telling[c] != "").all()]
    if repeated.any():
        notes.append(_joined_note(names, repeated, where)
                     + (f'; if they are not, column "{better[0]}" names each outline once: area_names = "{better[0]}"' if better else ""))
    if apart:
        shown = "; ".join(", ".join(labels[:4]) + (" ..." if len(labels) > 4 else "") for labels in apart[:3])
        said = (f"{where}: {len(apart)} name{' belongs' if len(apart) == 1 else 's belong'} to outlines that do not touch; they are "
                f"areas of their own ({shown}{' ...' if len(apart) > 3 else ''})")
        said += f'. Column "{better[0]}" names each outline once: area_names = "{better[0]}"' if better else \
            ". If they are one area, save them as one outline of several parts"
        notes.append(said)
    return names, tuple(notes)


def _joined_note(names, repeated, where: str) -> str:
    many = pd.unique(pd.Series(names)[repeated])
    shown = ", ".join(map(str, many[:4])) + (f" and {len(many) - 4} more" if len(many) > 4 else "")
    return f"{where}: outlines of one name are one area ({shown})"


def _telling_columns(frame: pd.DataFrame, column: str | None) -> pd.DataFrame:
    """Columns, as text, that can tell two outlines apart: no measures of the shape, no numbers that only count the rows."""
    found = {}
    for name in frame.columns:
        cells = frame[name]
        if name == column or pd.api.types.is_float_dtype(cells.dtype) or pd.api.types.is_datetime64_any_dtype(cells.dtype):
            continue
        if pd.api.types.is_integer_dtype(cells.dtype) and cells.is_unique and cells.max() - cells.min() == len(cells) - 1:
            continue
        cells = as_text(cells).str.strip()
        if cells.nunique() > 1:
            found[name] = cells
    return pd.DataFrame(found, index=frame.index)


def _keys(telling: pd.DataFrame, code: np.ndarray) -> list[str]:
    """Columns whose every value stands for outlines of one name only: equal there, two outlines are parts of one area."""
    return [c for c in telling if (telling[c] != "").all() and pd.Series(code).groupby(telling[c].to_numpy()).nunique().max() == 1]


def _parts(shapes: np.ndarray, telling: pd.DataFrame, keys: list[str]) -> np.ndarray:
    """Number of the area of each outline of one name, in the order of the file."""
    count = len(shapes)
    one, other = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=TOUCH_DEG)
    if keys:
        alike = telling.groupby(list(telling.columns), sort=False).ngroup().to_numpy()
        first = pd.Series(np.arange(count)).groupby(alike).transform("first").to_numpy()
        one, other = np.append(one, np.arange(count)), np.append(other, first)
    joined = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    return pd.factorize(connected_components(joined, directed=False)[1])[0]


def _labels(name: str, part: np.ndarray, telling: pd.DataFrame, taken: set) -> list[str]:
    """One label an area: the name with the shortest cell that is its own, else with its number in the file."""
    first = [int(np.argmax(part == number)) for number in range(part.max() + 1)]
    cells = telling.iloc[first]
    fit = [c for c in cells if cells[c].nunique() == len(first) and (cells[c] != "").all()
           and telling[c].groupby(part).nunique().max() == 1]
    if fit:
        best = min(fit, key=lambda c: (cells[c].str.len().max(), list(cells).index(c)))
        labels = [f"{name} ({cell})" for cell in cells[best]]
        if not taken & set(labels):
            return labels
    labels, number = [], 0
    while len(labels) < len(first):
        number += 1
        if f"{name} ({number})" not in taken:
            labels.append(f"{name} ({number})")
    return labels
