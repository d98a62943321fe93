"""From cells of the lattice to keyed settings: choosing, checking night by night, and handing out sites."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..sharing.drift import drift_at
from ..trade.setting import Setting
from .allowedshifts import AllowedShifts

# A drift equal to the tolerance is within it (drift._SAME_MIN).
_SAME_MIN = 1e-7


@dataclass(frozen=True)
class KeyedCover:
    """Settings and the row's setting, as checked by the drift kernel.

    Attributes
    ----------
    settings : tuple of Setting
    cells : (k, 4) int64
    rows : (m,) int64
    of_row : (m,) int64
        Index of each row's setting.
    factor : float
        Worst drift of all rows in units of the tolerances.
    """

    settings: tuple[Setting, ...]
    cells: np.ndarray
    rows: np.ndarray
    of_row: np.ndarray
    factor: float

    def __len__(self) -> int:
        return len(self.settings)


def keyed(shifts: AllowedShifts, cell: np.ndarray, near_lon_deg: float, legal_zone: str) -> Setting | None:
    """The setting that gives a cell, keyed as near to a longitude as the offsets allow; None if there is none."""
    j, p, i, jj = (int(v) for v in cell)
    found = shifts.lattice.keyings(i + float(shifts.lattice.phases[p]), jj - i, shifts.base_lon_deg, near_lon_deg)
    if not found:
        return None
    lon, dusk, dawn = found[0]
    return Setting(float(shifts.key_lat_deg[j]), lon, legal_zone, int(dusk), int(dawn))


def exact_factor(shifts: AllowedShifts, setting: Setting, rows: np.ndarray) -> np.ndarray:
    """(m,) worst drift of each row in units of the tolerances, by the drift kernel on every site and night."""
    rows = np.asarray(rows)
    place = np.full(shifts.n, -1)
    place[rows] = np.arange(rows.size)
    sites = np.flatnonzero(place[shifts.unit] >= 0)
    worst = drift_at(shifts.lat_deg[sites], shifts.lon_deg[sites], setting, shifts.basis)
    out = np.zeros(rows.size)
    np.maximum.at(out, place[shifts.unit[sites]], worst.factor(shifts.tolerance))
    return out


def within(factor: np.ndarray, shifts: AllowedShifts, limit: float = 1.0) -> np.ndarray:
    """Whether a factor counts as within `limit` times the tolerances."""
    return factor <= limit + _SAME_MIN / min(shifts.tolerance.dark_min, shifts.tolerance.excess_min)


def model_factor(shifts: AllowedShifts, cell: np.ndarray, rows: np.ndarray, factor: float) -> np.ndarray:
    """(m,) the factor that each row needs under a cell, by the extremes; `factor` picks the nights that count."""
    extremes = shifts.extremes(factor)
    j, p = int(cell[0]), int(cell[1])
    x, y = cell[2] + shifts.lattice.phases[p], cell[3] + shifts.lattice.phases[p]
    dark, excess = shifts.tolerance.dark_min, shifts.tolerance.excess_min
    out = np.maximum.reduce((
        (x + extremes.dusk_most[j, rows]) / dark, -(x + extremes.dusk_least[j, rows]) / excess,
        (y + extremes.dawn_most[j, rows]) / excess, -(y + extremes.dawn_least[j, rows]) / dark))
    if extremes.need is not None:
        out = np.maximum.reduce((out, extremes.need[j, rows], (y - x + extremes.lit_most[j, rows]) / excess))
    return out


def best_cell(shifts: AllowedShifts, rows: np.ndarray, factor: float = 1.0, safe: bool = False):
    """The cell with the smallest worst drift over the rows: (cell (4,), factor).

    With `safe`, the factor is a lower bound for every setting of the keypad.

    Notes
    -----
    Given the rows' extremes M (latest) and m (earliest) at a keyed latitude, a shift x needs
    max((x + M) / dark, -(x + m) / excess), least where both are equal; the lattice's neighbours on both sides are
    tried. Where the keypad cannot give them, a window of cells is.
    """
    extremes, lattice = shifts.extremes(factor, safe), shifts.lattice
    dark, excess = shifts.tolerance.dark_min, shifts.tolerance.excess_min
    rows = np.asarray(rows)
    dusk_most, dusk_least = extremes.dusk_most[:, rows].max(axis=1), extremes.dusk_least[:, rows].min(axis=1)
    dawn_most, dawn_least = extremes.dawn_most[:, rows].max(axis=1), extremes.dawn_least[:, rows].min(axis=1)
    need = lit = None
    if extremes.need is not None:
        need, lit = extremes.need[:, rows].max(axis=1), extremes.lit_most[:, rows].max(axis=1)
    with np.errstate(invalid="ignore"):  # infinite both ways at latitudes without a night: not among the known
        ideal_x = -(dusk_least * dark + dusk_most * excess) / (dark + excess)
        ideal_y = -(dawn_least * excess + dawn_most * dark) / (dark + excess)
        least = np.maximum((ideal_x + dusk_most) / dark, (ideal_y + dawn_most) / excess)
    known = np.flatnonzero(np.isfinite(ideal_x) & np.isfinite(ideal_y))
    step = 4.0 * lattice.keypad.coordinate_step_deg
    roomy = lattice.limit_min > 2 * step + 2
    wide = 0 if roomy else int(np.ceil(step)) + 2

    def tried(j, i, jj):
        """Factor of cells (n_phase, n_i, n_jj) at latitude j; infinite where the keypad has none."""
        x, y = i[:, :, None] + lattice.phases[:, None, None], jj[:, None, :] + lattice.phases[:, None, None]
        out = np.maximum(np.maximum((x + dusk_most[j]) / dark, -(x + dusk_least[j]) / excess),
                         np.maximum((y + dawn_most[j]) / excess, -(y + dawn_least[j]) / dark))
        if need is not None:
            out = np.maximum(out, np.maximum(need[j], (y - x + lit[j]) / excess))
        gap = jj[:, None, :] - i[:, :, None]
        i0, d0 = int(i.min()), int(gap.min())
        can = lattice.possible(i0, int(i.max()) - i0 + 1, d0, int(gap.max()) - d0 + 1)
        phase = np.arange(lattice.phases.size)[:, None, None]
        return np.where(can[phase, i[:, :, None] - i0, gap - d0], out, np.inf)

    def floors(ideal, spread):
        first = np.floor(ideal - lattice.phases - spread).astype(np.int64)
        return first[:, None] + np.arange(2 * spread + 2)[None, :]

    def windows(j):
        """Whole minutes of dusk and dawn shift that may be best at latitude j."""
        if wide:
            low, high = np.floor(min(ideal_x[j], ideal_y[j])) - wide, np.ceil(max(ideal_x[j], ideal_y[j])) + wide
            i = np.broadcast_to(np.arange(low, high + 1).astype(np.int64), (lattice.phases.size, int(high - low) + 1))
            return i, i
        if need is not None and coupled[j]:
            return floors(least[j] * dark - dusk_most[j], 3), floors(-least[j] * dark - dawn_least[j], 3)
        return floors(ideal_x[j], 0), floors(ideal_y[j], 0)

    best, best_cell_found = np.inf, None
    if need is not None:
        # A night lit for a site that wants none gets shorter by a later dusk or an earlier dawn, at the price of dark
        # minutes: least where these two are equal.
        with np.errstate(invalid="ignore"):
            tight = (dusk_most - dawn_least + lit) / (2.0 * dark + excess)
            coupled = tight > least
            least = np.maximum.reduce((least, need, tight))
    mean_lat = float(shifts.row_lat[rows].mean())
    for j in known[np.lexsort((np.abs(shifts.key_lat_deg[known] - mean_lat), np.round(least[known], 6)))]:
        if least[j] >= best:
            break
        i, jj = windows(j)
        value = tried(j, i, jj)
        at = np.unravel_index(np.argmin(value), value.shape)
        if value[at] < best - 1e-9:
            best = float(value[at])
            best_cell_found = np.array([j, at[0], i[at[0], at[1]], jj[at[0], at[2]]], np.int64)
    return best_cell_found, best - (lattice.blur_min / min(dark, excess) if safe else 0.0)


def cell_of(shifts: AllowedShifts, setting: Setting) -> np.ndarray:
    """The cell that a setting gives; its latitude is the nearest that the shifts have."""
    turns = np.round((setting.lon_deg - shifts.base_lon_deg) / 360.0)
    x = setting.dusk_offset_min - 4.0 * (setting.lon_deg - 360.0 * turns - shifts.base_lon_deg)
    away = np.abs((x - shifts.lattice.phases + 0.5) % 1.0 - 0.5)
    phase = int(np.argmin(away))
    i = int(np.rint(x - shifts.lattice.phases[phase]))
    return np.array([int(np.argmin(np.abs(shifts.key_lat_deg - setting.lat_deg))), phase, i,
                     i + setting.dawn_offset_min - setting.dusk_offset_min], np.int64)


def best_setting(shifts: AllowedShifts, rows: np.ndarray, legal_zone: str, factor: float = 1.0):
    """The best setting for rows that must share one: (Setting, cell, exact factor of each row)."""
    cell, _ = best_cell(shifts, rows, factor)
    if cell is None:
        return None
    setting = keyed(shifts, cell, float(shifts.row_lon[rows].mean()), legal_zone)
    return setting, cell, exact_factor(shifts, setting, rows)


def keyed_cover(shifts: AllowedShifts, cell_list: np.ndarray, rows: np.ndarray, factor: float, legal_zone: str):
    """Cells as a cover that was keyed and checked.

    Every group first gets the best setting for the rows that it serves best, as long as that lowers the worst drift.

    Returns
    -------
    KeyedCover or None
    failed : (f,) int64
        Rows that no setting keeps within `factor` by the drift kernel, though the extremes said so; then the cover is None.
    excess : (f,) float64 [minute]
        By how much each of them fails.
    """
    cell_list = _settled(shifts, cell_list, rows, factor)
    needed = np.stack([model_factor(shifts, cell, rows, factor) for cell in cell_list])
    nearest = np.argmin(needed, axis=0)
    settings, exact = [], np.full(needed.shape, np.inf)
    for c, cell in enumerate(cell_list):
        mine = rows[nearest == c] if (nearest == c).any() else rows[needed[c] <= factor]
        setting = keyed(shifts, cell, float(shifts.row_lon[mine].mean()) if mine.size else shifts.base_lon_deg, legal_zone)
        settings.append(setting)
        near = np.flatnonzero(needed[c] <= factor + 0.05)
        if near.size and setting is not None:
            exact[c, near] = exact_factor(shifts, setting, rows[near])
    least = exact.min(axis=0)
    bad = ~within(least, shifts, factor)
    if bad.any():
        tolerance = max(shifts.tolerance.dark_min, shifts.tolerance.excess_min)
        return None, rows[bad], np.where(np.isfinite(least[bad]), (least[bad] - factor) * tolerance, 0.1)
    worst = float(least.max(initial=0.0))
    of_row = compact(shifts, rows, within(exact, shifts, worst), least_of=exact)
    used = np.unique(of_row)
    renumbered = np.searchsorted(used, of_row)
    return KeyedCover(tuple(settings[c] for c in used), cell_list[used], rows, renumbered, worst), None, None


def _settled(shifts: AllowedShifts, cell_list: np.ndarray, rows: np.ndarray, factor: float) -> np.ndarray:
    """Cells moved to the middle of the rows that need them, while that lowers the worst drift by the extremes."""
    def needs(cells_now):
        return np.stack([model_factor(shifts, cell, rows, factor) for cell in cells_now])

    needed = needs(cell_list)
    worst = needed.min(axis=0).max()
    for _ in range(12):
        nearest = np.argmin(needed, axis=0)
        moved = cell_list.copy()
        for c in range(cell_list.shape[0]):
            mine = rows[nearest == c]
            if mine.size:
                found, _ = best_cell(shifts, mine, factor)
                moved[c] = cell_list[c] if found is None else found
        needed = needs(moved)
        now = needed.min(axis=0).max()
        if not now < worst - 1e-6:
            break
        cell_list, worst = moved, now
    return cell_list


def compact(shifts: AllowedShifts, rows: np.ndarray, allowed: np.ndarray, least_of: np.ndarray) -> np.ndarray:
    """(m,) setting of each row: the allowed one whose group's middle is nearest on the ground."""
    lat, lon = shifts.row_lat[rows], shifts.row_lon[rows] * np.cos(np.radians(shifts.row_lat[rows].mean()))
    size = shifts.sizes[rows].astype(float)
    of_row = np.argmin(np.where(allowed, least_of, np.inf), axis=0)
    for _ in range(10):
        far = np.full(allowed.shape, np.inf)
        for c in range(allowed.shape[0]):
            mine = of_row == c
            if mine.any():
                weight = size[mine]
                middle = (lat[mine] @ weight / weight.sum(), lon[mine] @ weight / weight.sum())
                far[c] = np.round(np.hypot(lat - middle[0], lon - middle[1]), 9)
        nearest = np.argmin(np.where(allowed, far, np.inf), axis=0)
        if (nearest == of_row).all():
            break
        of_row = nearest
    return of_row
