"""What a site list looks like before anything is decided: columns with what they are taken for, as data, also where it cannot be read."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import shapely

from ..errors import InputError
from .cellkinds import allows, sample
from .columns import Columns, find_columns
from .crssearch import systems_near
from .encodings import decoded
from .endings import TEXT_ENDINGS
from .headings import rank_of
from .known import Known
from .numerals import check_decimal, find_decimal
from .projections import as_crs, looks_projected
from .sites import SiteList, SiteReading, positions_of, sites_in
from .tables import Table, read_tables
from .whereabouts import Place, country_of
from .zoneshapes import zone_names, zone_number_at

#: What a column can be taken for, in the order of [columns].
ROLES = ("site_id", "name", "lat", "lon", "position", "legal_zone", "load_w")
# Values of a column that show what it holds.
_VALUES = 3
_LONGEST_VALUE = 60
#: Coordinate systems that put the sites closer together than this are one answer [m]: 300 m are a second of dusk.
SAME_PLACE_M = 300.0
# Half the side of the ground that "near here" means, and how far a country reaches from the towns that stand for it [degree].
_NEAR_DEG, _COUNTRY_DEG = 4.0, 8.0
_MOST_SYSTEMS = 12


@dataclass(frozen=True)
class SeenColumn:
    """One column of a list.

    Attributes
    ----------
    name : str
        Its heading.
    role : str
        What it is taken for, one of `ROLES`; "" for none.
    stated : bool
        Whether the job says so, or it was guessed.
    candidate_for : tuple of str
        Roles that heading and values allow.
    values : tuple of str
        Its first filled cells.
    """

    name: str
    role: str
    stated: bool
    candidate_for: tuple[str, ...]
    values: tuple[str, ...]


@dataclass(frozen=True)
class System:
    """A coordinate system that puts the positions where they are known to lie, and about where it puts the first of them [degree]: its datum
    is not shifted."""

    code: int
    name: str
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True, eq=False)
class Look:
    """What was seen of a list.

    Attributes
    ----------
    file : str
    layer : str
        Sheet or layer that was looked at; "" for a file that has none.
    layers : tuple of str
        All of them, where there are several.
    encoding, separator, decimal : str or None
        Of a text file, as found out or stated; None where it is none or nothing tells.
    heading_row : int or None
    rows : int
        Filled rows under the headings.
    columns : tuple of SeenColumn
    sites : SiteList or None
        As `read_sites`; None where `error` says why not.
    to_mend : DataFrame
        Rows that cannot be used, with all their own cells; `row` and `reason` first.
    systems : tuple of System
        Where the positions are no degrees and no system is stated that fits: those that were tested and put them near the outlines or
        the place that was named.
    needs_system : bool
        Whether the positions are no degrees.
    error : InputError or None
        What `read_sites` says of the list.
    notes : tuple of str
    """

    file: str
    layer: str = ""
    layers: tuple[str, ...] = ()
    encoding: str | None = None
    separator: str | None = None
    decimal: str | None = None
    heading_row: int | None = None
    rows: int = 0
    columns: tuple[SeenColumn, ...] = ()
    sites: SiteList | None = None
    to_mend: pd.DataFrame = field(default_factory=pd.DataFrame)
    systems: tuple[System, ...] = ()
    needs_system: bool = False
    error: InputError | None = None
    notes: tuple[str, ...] = ()


def look_at(path: str | Path, reading: SiteReading = SiteReading(), outlines: np.ndarray | None = None,
            near: Place | None = None) -> Look:
    """What a site list holds and what each column is taken for; never raises for what the list holds.

    Parameters
    ----------
    path : path-like
    reading : SiteReading
        What is stated; the rest is guessed, as by `read_sites`.
    outlines : ndarray of shapely geometry, optional
        In degrees, where the sites should lie.
    near : Place, optional
        A place somewhere near the sites, or their country, where there are no outlines: only for the coordinate systems.

    Returns
    -------
    Look
    """
    path = Path(path)
    seen = Look(path.name, encoding=_encoding(path, reading.encoding))
    try:
        check_decimal(reading.decimal)
        tables = read_tables(path, encoding=reading.encoding, separator=reading.separator, layer=reading.layer)
    except InputError as why:
        return replace(seen, error=why, layers=_layers(path, reading))
    listed, error = None, None
    try:
        listed = sites_in(tables, reading, outlines)
    except InputError as why:
        error = why
    table = max(tables, key=lambda one: _fits(one, reading)) if len(tables) > 1 else tables[0]
    columns = _columns(table, reading)
    layers = tuple(one.layer for one in tables) if len(tables) > 1 else _layers(path, reading) if reading.layer else ()
    seen = replace(seen, layer=table.layer, layers=layers, separator=table.separator, heading_row=table.heading_row,
                   rows=len(table.frame) + len(table.faults) if table.filled is None else table.filled,
                   columns=_seen_columns(table, columns, reading), sites=listed, error=error,
                   notes=listed.notes if listed is not None else error.notes)
    if listed is not None:
        return replace(seen, decimal=reading.decimal or listed.decimal, to_mend=_to_mend(table, listed))
    needs, systems = _systems(table, columns, reading, outlines, near)
    return replace(seen, decimal=reading.decimal or _decimal(table, columns), needs_system=needs, systems=systems)


def _encoding(path: Path, stated: str | None) -> str | None:
    if path.suffix.lower() not in TEXT_ENDINGS:
        return None
    try:
        with path.open("rb") as stream:
            return decoded(stream.read(200_000_000), path.name, stated)[1]
    except (InputError, OSError):
        return stated


def _layers(path: Path, reading: SiteReading) -> tuple[str, ...]:
    """All sheets or layers of a file of which one was stated."""
    if not reading.layer:
        return ()
    try:
        return tuple(one.layer for one in read_tables(path, encoding=reading.encoding, separator=reading.separator) if one.layer)
    except InputError:
        return ()


def _stated(reading: SiteReading) -> dict[str, str | None]:
    return {role: getattr(reading, role) for role in ROLES}


def _fits(table: Table, reading: SiteReading) -> tuple[bool, int]:
    """Whether a table of several has the columns of a list, then how long it is."""
    try:
        find_columns(table, _stated(reading))
    except InputError:
        return False, len(table.frame)
    return True, len(table.frame)


def _columns(table: Table, reading: SiteReading) -> Columns:
    """What is taken for what; where two fit, only what is stated."""
    try:
        return find_columns(table, _stated(reading))
    except InputError:
        there = set(map(str, table.frame.columns))
        known: dict[str, Any] = {role: name for role, name in _stated(reading).items() if name in there}
        return Columns(**known)


def _seen_columns(table: Table, columns: Columns, reading: SiteReading) -> tuple[SeenColumn, ...]:
    roles = {getattr(columns, role): role for role in ROLES if getattr(columns, role)}
    stated = {name for name in _stated(reading).values() if name}
    seen = []
    for name in table.frame.columns:
        cells = sample(table.frame[name])
        seen.append(SeenColumn(str(name), roles.get(name, ""), name in stated, tuple(role for role in ROLES if _may_be(table, name, role)),
                               tuple(cell if len(cell) <= _LONGEST_VALUE else cell[:_LONGEST_VALUE - 1] + "…" for cell in cells.iloc[:_VALUES])))
    return tuple(seen)


def _may_be(table: Table, name: str, role: str) -> bool:
    for kind in {"lat": ("lat", "y"), "lon": ("lon", "x")}.get(role, (role,)):
        rank = rank_of(name, kind)
        if rank is not None and allows(table.frame[name], kind, rank):
            return True
    return False


def _decimal(table: Table, columns: Columns) -> str | None:
    return find_decimal([table.frame[columns.lat], table.frame[columns.lon]]) if columns.lat and columns.lon else None


def _to_mend(table: Table, listed: SiteList) -> pd.DataFrame:
    """The rejected rows as they stand in the list; a row that fits no heading is in the first column as one text."""
    rejects = listed.rejects
    own = table.frame.reset_index(drop=True)
    at = pd.Series(np.arange(len(table.row)), index=table.row)
    rows = []
    for row, value, reason in zip(rejects["row"], rejects["value"], rejects["reason"]):
        cells = {} if row not in at.index else {str(name): own[name].iloc[int(at[row])] for name in own.columns}
        if not cells and len(own.columns):
            cells = {str(own.columns[0]): value}
        rows.append({"row": row, "reason": reason, **{name: cell for name, cell in cells.items() if name not in ("row", "reason")}})
    named = [str(name) for name in own.columns if str(name) not in ("row", "reason")]
    return pd.DataFrame(rows, columns=["row", "reason", *named])


def _systems(table: Table, columns: Columns, reading: SiteReading, outlines: np.ndarray | None,
             near: Place | None) -> tuple[bool, tuple[System, ...]]:
    """Whether the positions are no degrees, and the coordinate systems that put them near the outlines or a place."""
    try:
        positions = positions_of(table, columns, reading.decimal)
        if not looks_projected(positions.east, positions.north):
            return False, ()
        if reading.crs is None and positions.crs is not None and as_crs(positions.crs, table.where).is_projected:
            return False, ()  # the file names its own
    except (InputError, AttributeError):  # no column of positions, no geometry: nothing to place
        return False, ()
    known = []
    if outlines is not None and len(outlines):
        known.append((Known("the outlines", outlines=outlines), ""))
    if near is not None:
        reach = _COUNTRY_DEG if near.country else _NEAR_DEG
        boxes = [shapely.box(lon - reach, lat - reach, lon + reach, lat + reach) for lat, lon in near.spots]
        known.append((Known(near.words, outlines=np.array([shapely.union_all(boxes)])), near.country))
    for what, country in known:
        found = systems_near(positions.east, positions.north, what, SAME_PLACE_M, partial(_in_country, country))
        if found:
            first = [(one, int(np.flatnonzero(np.isfinite(one.lat))[0])) for one in found[:_MOST_SYSTEMS]]
            return True, tuple(System(one.code, one.name, float(one.lat[k]), float(one.lon[k])) for one, k in first)
    return True, ()


def _in_country(country: str, lon: np.ndarray, lat: np.ndarray) -> bool:
    """Whether one of the positions lies in a country; "" is everywhere."""
    if not country:
        return True
    numbers = zone_number_at(lat, lon)
    return any(country_of(str(zone_names()[int(number)])) == country for number in np.unique(numbers[numbers >= 0]))
