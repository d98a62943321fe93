"""The curve: for 1, 2, 3, ... settings the smallest worst drift that they can reach."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from ..setcover.search import Search
from ..trade.setting import Tolerance
from .allowedshifts import AllowedShifts
from .fewestsettings import PROVED_MIN, smallest_factor
from .keyedcovers import KeyedCover, best_setting
from .settingcover import SettingCover


@dataclass(frozen=True)
class PartPoint:
    """One part's cover with k settings and the factor below which there is none."""

    cover: KeyedCover
    bound: float


def part_curve(shifts: AllowedShifts, legal_zone: str, most: int, seconds: float, known: KeyedCover | None = None,
               margin_min: np.ndarray | None = None) -> list[PartPoint]:
    """Points of one part for 1 .. `most` settings.

    Parameters
    ----------
    shifts : AllowedShifts
        Its cap on the factor is raised as far as one setting needs it.
    known : KeyedCover or None
        A cover of all rows found elsewhere; it helps where its number of settings is reached.
    margin_min : (n,) or None
        What is known of its rows, see `SettingCover`.
    """
    begun = time.monotonic()
    rows = np.arange(shifts.n)
    setting, cell, factors = best_setting(shifts, rows, legal_zone)
    cover = KeyedCover((setting,), cell[None, :], rows, np.zeros(rows.size, np.int64), float(factors.max()))
    if cover.factor > shifts.factor_cap:
        wide = AllowedShifts(shifts.lat_deg, shifts.lon_deg, shifts.unit, shifts.basis, shifts.lattice, factor_cap=1.05 * cover.factor)
        # Cells name latitudes by index, and the wider shifts have others.
        cell = cell.copy()
        cell[0] = int(np.argmin(np.abs(wide.key_lat_deg - setting.lat_deg)))
        cover = replace(cover, cells=cell[None, :])
        known = None if known is None else replace(known, cells=_moved(known.cells, shifts, wide))
        shifts, margin_min = wide, None
    problem = SettingCover(shifts, rows, margin_min=margin_min)
    search = Search(problem)
    points: list[PartPoint] = []
    floor = 0.0
    for k in range(1, most + 1):
        if known is not None and len(known.settings) <= k and known.factor < cover.factor:
            cover = known
        share = (begun + seconds - time.monotonic()) / (most + 1 - k)
        cover, bound, problem = smallest_factor(search, problem, k, cover, floor, legal_zone, time.monotonic() + max(0.0, share))
        points.append(PartPoint(cover, min(bound, cover.factor)))
    return points


def _moved(cell_list: np.ndarray, old: AllowedShifts, new: AllowedShifts) -> np.ndarray:
    moved = cell_list.copy()
    moved[:, 0] = [int(np.argmin(np.abs(new.key_lat_deg - old.key_lat_deg[j]))) for j in cell_list[:, 0]]
    return moved


def shared_out(curves: list[list[PartPoint]], k: int):
    """The k settings shared out over the parts so that the worst of them is least: (points, bound); None if k is too few.

    Giving the next setting to the part that is worst off is optimal, because each part's curve falls with k. The
    same over the bounds gives a bound.
    """
    if k < len(curves):
        return None

    def shares(value):
        count = [1] * len(curves)
        for _ in range(k - len(curves)):
            worst = max(range(len(curves)), key=lambda f: value(curves[f][count[f] - 1]))
            if count[worst] == len(curves[worst]):
                break
            count[worst] += 1
        return count

    covers = shares(lambda point: point.cover.factor)
    bounds = shares(lambda point: point.bound)
    return ([curves[f][c - 1] for f, c in enumerate(covers)],
            max(curves[f][c - 1].bound for f, c in enumerate(bounds)))


def proved(factor: float, bound: float, tolerance: Tolerance) -> bool:
    """Whether a factor is within 0.1 minute of its bound on the larger tolerance."""
    return (factor - bound) * max(tolerance.dark_min, tolerance.excess_min) <= PROVED_MIN + 1e-9
