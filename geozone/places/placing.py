"""From the numbers of a list to degrees, under a coordinate reference system that is stated or named by the file."""

from __future__ import annotations

from functools import partial

import numpy as np

from ..errors import InputError
from ..plurals import counted
from . import projections
from .columns import Columns, option
from .coordinates import Positions
from .crsadvice import crs_needed
from .sitechecks import position_faults
from .tables import Table
from .whichpair import by_other_grids, known_places, refuse_contradiction, settle_pairs


def placed(table: Table, columns: Columns, positions: Positions, stated_crs: str | None,
           outlines: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[str]]:
    """Latitude and longitude [degree], the reason for each row that has none, and notes.

    Raises
    ------
    InputError
        If no system is stated for projected numbers, if the stated one does not fit them, or if other columns or the
        outlines show that it is the wrong one. A system is advised only after a test.
    """
    east, north, reason, notes = positions.east, positions.north, positions.reason.copy(), []
    names = columns.position or (f"{columns.lat}, {columns.lon}" if columns.lat else "geometry")
    try:
        crs = projections.as_crs(stated_crs, table.where) if stated_crs else None
    except InputError as why:
        raise why.at("job", "crs") from None
    notes += settle_pairs(table, columns, stated_crs, outlines)
    known = partial(known_places, table, columns, outlines)  # asked for only where it is needed: it reads more columns
    own = projections.as_crs(positions.crs, table.where) if positions.crs is not None else None
    if crs is not None and own is not None and crs != own and own != projections.WGS84:
        notes.append(f"{table.where}: the file names {projections.named(own)}; "
                     f"{projections.named(crs)} is stated and used")
    if crs is None:
        crs = own
    projected = projections.looks_projected(east, north)
    if projected and (crs is None or crs.is_geographic):
        raise crs_needed(east, north, table.where, names, projections.named(crs) if stated_crs else None,
                         known=known() or by_other_grids(table, columns, east, north))
    if crs is None:
        crs = projections.WGS84
        if not columns.lat and not columns.position:
            notes.append(f"{table.where}: names no coordinate reference system; read as degrees in WGS 84")
    given = reason == ""
    if crs.is_geographic:
        faults, slip = position_faults(np.where(given, north, np.nan), np.where(given, east, np.nan))
        reason = np.where(given, faults, reason)
        lon, lat = projections.to_lon_lat(east, north, crs)
    else:
        with np.errstate(invalid="ignore"):
            degrees = given & (np.abs(east) <= 180) & (np.abs(north) <= 90)
            placeholder = given & (east == 0) & (north == 0)
        if given.any() and degrees[given].mean() > 0.5 and not placeholder[given].mean() > 0.5:
            grids = [pair for kind, pair in columns.others if kind == "y"]
            also = (f", or, to use the projected columns, {option('lat', grids[0][0])} and {option('lon', grids[0][1])}"
                    if grids else "")
            raise InputError(f"the positions ({names}) are degrees, but {projections.named(crs)} is projected",
                             where=table.where, value=positions.shown(int(np.flatnonzero(degrees)[0])),
                             rule="degrees need no projected system", next_step=f"leave [job] crs out{also}")
        reason[placeholder] = "position 0, 0: a placeholder, not a place"
        lon, lat = projections.to_lon_lat(east, north, crs)
        outside = (reason == "") & projections.outside_area(lon, lat, crs)
        judged = reason == ""
        if judged.any() and outside[judged].mean() > 0.5:
            raise crs_needed(np.where(judged, east, np.nan), np.where(judged, north, np.nan), table.where, names,
                             projections.named(crs), known=known())
        refuse_contradiction(table, columns, positions, np.where(judged, lon, np.nan), np.where(judged, lat, np.nan), crs,
                             known(), names)
        reason[outside] = f"outside the area of {projections.named(crs)}"
        faults, slip = position_faults(np.where(reason == "", lat, np.nan), np.where(reason == "", lon, np.nan))
        reason = np.where(reason == "", faults, reason)
        notes.append(f"{table.where}: positions ({names}) turned from {projections.named(crs)} into degrees")
    if slip.any():
        rows = ", ".join(map(str, table.row[slip][:5]))
        notes.append(f"{table.where}: {counted(int(slip.sum()), 'site lies', 'sites lie')} far from the rest and would lie among them with a "
                     f"sign changed; used as they are, look at row {rows}")
    return lat, lon, reason.astype(object), notes
