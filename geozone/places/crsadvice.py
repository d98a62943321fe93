"""What to say where numbers come without a fitting coordinate reference system; only what was tested is advised."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from .crssearch import Fit, apart_m, plausible_crs, tested_crs
from .known import AGREE_M, Known, said_m
from .projections import named

#: How to state one; a file of outlines carries its own instead.
STATE_CRS = 'whoever made the list knows which; state it as [job] crs = "EPSG:..."'
EXPORT_WITH_CRS = "export the file again together with its coordinate reference system"


def crs_needed(east: np.ndarray, north: np.ndarray, file: str, columns: str, crs: object = None,
               cure: str = STATE_CRS, known: tuple[Known, ...] = ()) -> InputError:
    """The error for numbers that are no degrees and come with no fitting CRS.

    A system is advised only where it was tested against what is known of the place. Without that the numbers do
    not tell: then it says where some systems would put the first position, for the reader to judge.
    """
    sample = next(((x, y) for x, y in zip(east, north) if x == x and y == y), None)
    fits = tested_crs(east, north, known)
    if fits and apart_m(fits) > AGREE_M:
        places: list[Fit] = []
        for fit in fits:
            if all(apart_m([other, fit]) > AGREE_M for other in places):
                places.append(fit)
        rule = f"several systems put them at {fits[0].known.words}, in different places: " + "; ".join(
            f"{f.lat[0]:.3f}, {f.lon[0]:.3f} under {named(f.crs)}" for f in places[:6])
        cure = 'look which of these is the place of the first position and state its [job] crs = "EPSG:..."'
    elif fits:
        rule = f"tested: {fits[0]}"
        if len(fits) > 1:
            rule += ("; also " + ", ".join(named(f.crs) for f in fits[1:4]) + (" and others" if len(fits) > 4 else "")
                     + f", which differ by up to {said_m(apart_m(fits))}")
        cure = f'state [job] crs = "EPSG:{fits[0].crs.to_epsg()}"'
        if crs and fits[0].known.outlines is not None:
            cure += "; if the stated system is right, these are the outlines of another place"
        if fits[0].exchanged:
            north_name, east_name = (columns.split(", ") + ["", ""])[:2]
            rule = "the two columns are exchanged; " + rule
            cure += f' and [columns] lat = "{east_name}", lon = "{north_name}"'
    elif known and any(k.bounds for k in known):
        lost = _lost_point(east, north, known)
        rule = lost or ("no projected system of the EPSG register puts them near "
                        + " or ".join(k.words for k in known if k.bounds))
        cure = ("write the numbers with their decimal point again, for example by importing the columns as text" if lost
                else "look whether these are the right columns and the right outlines; " + STATE_CRS)
    else:
        fits_untested = plausible_crs(east, north)
        given = np.isfinite(east) & np.isfinite(north)
        whole = bool((east[given] % 1 == 0).all() and (north[given] % 1 == 0).all())
        lost = ". Or they are degrees that lost their decimal point: all are whole numbers" if whole else ""
        rule = ("the numbers alone do not tell the system. Examples, none of them tested: the first position would lie at "
                + "; ".join(fits_untested) + lost if fits_untested else
                "no common projected system holds numbers like these; they may be degrees that lost their decimal point")
        if cure == STATE_CRS and fits_untested:
            cure += ("; with outlines as [job] areas, or columns of latitude and longitude in the list, systems are "
                     "tested against them")
    return InputError(
        f"the positions ({columns}) are not degrees and "
        + (f"do not fit the coordinate reference system {crs}" if crs else "no coordinate reference system is stated"),
        where=file, value=None if sample is None else f"x={sample[0]:.12g}, y={sample[1]:.12g}", rule=rule, next_step=cure)


def _lost_point(east: np.ndarray, north: np.ndarray, known: tuple[Known, ...]) -> str | None:
    """Degrees of which a spreadsheet took the decimal mark away: 51.5333 as 515333."""
    given = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
    given = given[np.linspace(0, len(given) - 1, min(200, len(given))).astype(int)] if len(given) else given
    east, north, known = east[given], north[given], tuple(k.at(given) for k in known)
    for power in range(2, 9):
        for other in range(2, 9):
            for what in known:
                if what.bounds and what.misfit_m(east / 10.0**power, north / 10.0**other) is not None:
                    x, y = next((a, b) for a, b in zip(east, north) if a == a and b == b)
                    return (f"they are degrees that lost their decimal point: {y / 10.0**other:.10g}, {x / 10.0**power:.10g} "
                            f"lies {'inside' if what.outlines is not None else 'at'} {what.words}")
    return None
