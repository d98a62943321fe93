"""The curve: for 1, 2, 3, ... settings the smallest worst drift that they can reach."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from ..setcover.search import Search
from ..trade.setting import Tolerance
from .fewestsettings import PROVED_MIN, smallest_factor
from .allowedshifts import Field
from .keyedcovers import Plan, best_setting
from .settingcover import SettingCover


@dataclass(frozen=True)
class FieldPoint:
    """One field's plan with k settings and the factor below which there is none."""

    plan: Plan
    bound: float


def field_curve(field: Field, legal_zone: str, most: int, seconds: float, known: Plan | None = None,
                margin_min: np.ndarray | None = None) -> list[FieldPoint]:
    """Points of one field for 1 .. `most` settings.

    Parameters
    ----------
    field : Field
        Its cap on the factor is raised as far as one setting needs it.
    known : Plan or None
        A plan for all rows found elsewhere; it helps where its number of settings is reached.
    margin_min : (n,) or None
        What is known of the field's rows, see `SettingCover`.
    """
    begun = time.monotonic()
    rows = np.arange(field.n)
    setting, cell, factors = best_setting(field, rows, legal_zone)
    plan = Plan((setting,), cell[None, :], rows, np.zeros(rows.size, np.int64), float(factors.max()))
    if plan.factor > field.factor_cap:
        wide = Field(field.lat_deg, field.lon_deg, field.unit, field.year, field.altitude_deg, field.tolerance,
                     field.lattice, factor_cap=1.05 * plan.factor)
        # Cells name latitudes by index, and the wider field has others.
        cell = cell.copy()
        cell[0] = int(np.argmin(np.abs(wide.key_lat_deg - setting.lat_deg)))
        plan = replace(plan, cells=cell[None, :])
        known = None if known is None else replace(known, cells=_moved(known.cells, field, wide))
        field, margin_min = wide, None
    problem = SettingCover(field, rows, margin_min=margin_min)
    search = Search(problem)
    points: list[FieldPoint] = []
    floor = 0.0
    for k in range(1, most + 1):
        if known is not None and len(known.settings) <= k and known.factor < plan.factor:
            plan = known
        share = (begun + seconds - time.monotonic()) / (most + 1 - k)
        plan, bound, problem = smallest_factor(search, problem, k, plan, floor, legal_zone, time.monotonic() + max(0.0, share))
        points.append(FieldPoint(plan, min(bound, plan.factor)))
    return points


def _moved(cell_list: np.ndarray, old: Field, new: Field) -> np.ndarray:
    moved = cell_list.copy()
    moved[:, 0] = [int(np.argmin(np.abs(new.key_lat_deg - old.key_lat_deg[j]))) for j in cell_list[:, 0]]
    return moved


def shared_out(curves: list[list[FieldPoint]], k: int):
    """The k settings shared out over the fields so that the worst of them is least: (points, bound); None if k is too few.

    Giving the next setting to the field that is worst off is optimal, because each field's curve falls with k. The
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

    plans = shares(lambda point: point.plan.factor)
    bounds = shares(lambda point: point.bound)
    return ([curves[f][c - 1] for f, c in enumerate(plans)],
            max(curves[f][c - 1].bound for f, c in enumerate(bounds)))


def proved(factor: float, bound: float, tolerance: Tolerance) -> bool:
    """Whether a factor is within 0.1 minute of its bound on the larger tolerance."""
    return (factor - bound) * max(tolerance.dark_min, tolerance.excess_min) <= PROVED_MIN + 1e-9
