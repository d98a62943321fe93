"""Where a list holds positions more than once: which pair of columns to use, and what the others bear witness to."""

from __future__ import annotations

import numpy as np
import pyproj

from ..errors import InputError
from . import coordinates, projections
from .columns import Columns, option
from .coordinates import Positions
from .crsadvice import crs_needed
from .crssearch import agreeing, apart_m, tested_crs
from .known import AGREE_M, Known, distance_m, said_m
from .pairs import Pair, named_pair
from .tables import Table

#: Two pairs of degrees that name one place: rounding and datum [m].
_SAME_M = 100.0
#: Positions so far from the outlines, in degrees beyond their bounds, are not of the same plan.
_ELSEWHERE_DEG = 2.0


def known_places(table: Table, columns: Columns, outlines: np.ndarray | None) -> tuple[Known, ...]:
    """What tells where the sites lie: other columns in degrees first, then the outlines."""
    known = []
    for _, pair in columns.others:
        lon, lat = _numbers(table, pair)
        if _are_degrees(lon, lat):
            known.append(Known(named_pair(pair), lon, lat))
    if outlines is not None and len(outlines):
        known.append(Known("the outlines", outlines=outlines))
    return tuple(known)


def settle_pairs(table: Table, columns: Columns, stated_crs: str | None, outlines: np.ndarray | None) -> list[str]:
    """Nothing where one pair holds the positions; two that differ are named and asked about.

    Returns
    -------
    list of str
        A note where two pairs of degrees name the same places.

    Raises
    ------
    InputError
        With advice for each pair that was tested: against the outlines, other columns in degrees, or the other pair.
    """
    if not columns.rivals:
        return []
    read = {pair: _numbers(table, pair) for pair in columns.rivals}
    degrees = [pair for pair in columns.rivals if _are_degrees(*read[pair])]
    if len(degrees) == len(read):
        far = max(_apart_m(read[columns.rivals[0]], read[pair]) for pair in columns.rivals[1:])
        if far <= _SAME_M:
            return [f"{table.where}: {named_pair(columns.rivals[0])} and {named_pair(columns.rivals[1])} name the same places "
                    f"within {said_m(far)}; the first is used"]
    known = known_places(table, columns, outlines)
    known += tuple(Known(named_pair(pair), *read[pair]) for pair in degrees)
    tested, advice = _by_each_other(columns.rivals, read, quick=True) if not degrees else ([], [])
    for pair in columns.rivals if not advice else ():
        if pair in degrees:
            others = [k for k in known if k.words != named_pair(pair)]
            misfit = next((m for k in others if (m := k.misfit_m(*read[pair])) is not None), None)
            if misfit is not None or not others:
                tested.append(f"{named_pair(pair)} are degrees")
                advice.append(_advice(pair, None))
            continue
        stated = [projections.as_crs(stated_crs, table.where)] if stated_crs else []
        lies = [k for crs in stated if crs.is_projected for k in known
                if k.misfit_m(*projections.to_lon_lat(*read[pair], crs)) is not None]
        if lies:
            tested.append(f"{named_pair(pair)} in {projections.named(stated[0])} lies at {lies[0].words}")
            advice.append(_advice(pair, stated[0]))
        elif (fits := tested_crs(*read[pair], known)) and apart_m(fits) <= AGREE_M:
            tested.append(f"{named_pair(pair)} in {fits[0]}")
            advice.append(_advice(pair[::-1] if fits[0].exchanged else pair, fits[0].crs))
    if not advice and not degrees:
        tested, advice = _by_each_other(columns.rivals, read, quick=False)
    rule = "; ".join(tested) if tested else ("nothing in the list or the job tells which holds the sites, nor the coordinate "
                                             "reference system of either")
    next_step = ("state " + ", or ".join(advice) if advice else
                 f"ask whoever made the list; then state {option('lat')}, lon and [job] crs of one pair. Outlines as [job] "
                 "areas let systems be tested")
    raise InputError("two pairs of columns may hold the position: " + " and ".join(map(named_pair, columns.rivals)),
                     where=table.where, value="; ".join(_first(*read[pair]) for pair in columns.rivals), rule=rule,
                     next_step=next_step)


def _by_each_other(rivals: tuple[Pair, ...], read: dict, quick: bool) -> tuple[list[str], list[str]]:
    """Projected pairs tested against each other: under which systems two of them name the same places."""
    orders = [(a, b) for a in rivals for b in rivals if a != b] if quick else [rivals[:2]]
    for a, b in orders:
        found = agreeing(read[a], read[b], named_pair(a), quick)
        if found:
            break
    else:
        return [], []
    crs, fit = found
    said = (f"{named_pair(a)} in {projections.named(crs)} and {named_pair(b)} in {projections.named(fit.crs)} name the "
            f"same places within {said_m(max(fit.misfit, 0.1))}")
    return [said], [_advice(a, crs), _advice(b, fit.crs)]


def refuse_contradiction(table: Table, columns: Columns, positions: Positions, lon: np.ndarray, lat: np.ndarray,
                         crs: pyproj.CRS, known: tuple[Known, ...], names: str) -> None:
    """Stop where a stated system puts the sites elsewhere than other columns or the outlines say, and another fits.

    Raises
    ------
    InputError
        With the system that was tested and fits.
    """
    given = np.where(np.isfinite(lon), positions.east, np.nan), np.where(np.isfinite(lon), positions.north, np.nan)
    for what in known:
        if what.bounds is None or what.misfit_m(lon, lat) is not None or (
                what.outlines is not None and _near(what, lon, lat)):
            continue
        if tested_crs(*given, (what,)):
            raise crs_needed(*given, table.where, names, f"{projections.named(crs)}: they would lie "
                             f"{said_m(what.far_m(lon, lat))} from {what.words}", known=(what,))
    witness = by_other_grids(table, columns, *given, Known(names, lon, lat))
    if witness:
        raise crs_needed(*given, table.where, names, projections.named(crs), known=witness)


def by_other_grids(table: Table, columns: Columns, east: np.ndarray, north: np.ndarray,
                   placed: Known | None = None) -> tuple[Known, ...]:
    """Another pair of grid columns as a witness: its places under the system in which it agrees with these numbers.

    Empty where none agrees, or where it agrees with the places that the numbers have already (`placed`).
    """
    for _, pair in columns.others:
        numbers = _numbers(table, pair)
        if _are_degrees(*numbers) or placed and tested_crs(*numbers, (placed,)):
            continue
        found = agreeing(numbers, (east, north), named_pair(pair), quick=True)
        if found:
            return (Known(f"{named_pair(pair)} in {projections.named(found[0])}",
                          *projections.to_lon_lat(*numbers, found[0])),)
    return ()


def _near(known: Known, lon: np.ndarray, lat: np.ndarray) -> bool:
    west, south, east, north = known.bounds
    with np.errstate(invalid="ignore"):
        return bool(((lon > west - _ELSEWHERE_DEG) & (lon < east + _ELSEWHERE_DEG) & (lat > south - _ELSEWHERE_DEG)
                     & (lat < north + _ELSEWHERE_DEG)).any())


def _numbers(table: Table, pair: Pair) -> tuple[np.ndarray, np.ndarray]:
    read = coordinates.from_columns(table.frame[pair[0]], table.frame[pair[1]])
    return read.east, read.north


def _are_degrees(east: np.ndarray, north: np.ndarray) -> bool:
    given = np.isfinite(east) & np.isfinite(north)
    return bool(given.any()) and bool(((np.abs(east[given]) <= 180) & (np.abs(north[given]) <= 90)).mean() > 0.5)


def _apart_m(one: tuple, other: tuple) -> float:
    far = distance_m(*one, *other)
    return float(np.nanquantile(far, 0.95)) if np.isfinite(far).any() else np.inf


def _advice(pair: Pair, crs: pyproj.CRS | None) -> str:
    stated = f' with [job] crs = "EPSG:{crs.to_epsg()}"' if crs is not None else " without [job] crs"
    return f'[columns] lat = "{pair[0]}", lon = "{pair[1]}"{stated}'


def _first(east: np.ndarray, north: np.ndarray) -> str:
    spot = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
    return f"{north[spot[0]]:.12g}, {east[spot[0]]:.12g}" if len(spot) else "no numbers"
