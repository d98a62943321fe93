"""A plan where the time limit leaves none for boxes: settings tried by the drift itself, and sites of which no two can share one.

Boxes of allowed shifts cost every keyed latitude for each half degree of longitude, whatever the number of sites. Where that alone would pass
the limit, settings are keyed at sites, with the offsets that lie in the middle of the tolerance, and chosen by the greedy rule and local search.
More settings than needed may come of it, and a bound that lies lower: both are true.
"""

from __future__ import annotations

import time

import numpy as np

from ..numbers.cores import on_all_cores, workers
from ..numbers.crossing import CROSSES
from ..numbers.shallow import judged_nights
from ..numbers.sun import switch_times
from ..setcover.greedy import greedy
from ..setcover.localsearch import improved
from ..setcover.neighbours import Neighbours
from ..setcover.relaxation import Relaxed
from ..trade.basis import Basis
from ..trade.setting import Setting
from .allowedshifts import AllowedShifts
from .alone import best_alone
from .fewestsettings import Fewest
from .keyedcovers import KeyedCover, exact_factor, within
from .keylattice import KeyLattice
from .yearlyextremes import held_against, limits_of

#: A longer limit is never hurried: what the search overruns by is a small part of it [s].
LONGEST_S = 10.0
# What boxes cost, measured on a common processor: a half degree of longitude or 256 sites, and a site, by keyed latitude [s]; and how
# many times as long the rest of a search takes at the least.
_BLOCK_S, _SITE_S, _TIMES = 1.7e-4, 1.7e-6, 4.0
# Rows that settings are chosen by, positions tried for them, rows looked at for a bound, and nearness to spread them by [degree].
_ROWS, _POSITIONS, _BOUND_ROWS, _NEAR_DEG = 2000, 500, 500, 0.05
_STEPS = 20_000
_ROUNDS = 3
# Rounding to ticks and noise of the kernel, many times over [minute].
_MARGIN_MIN = 0.02


def in_a_hurry(lat_deg, lon_deg, basis: Basis, lattice: KeyLattice, seconds: float) -> bool:
    """Whether a time limit is too short for sites that lie so far apart to be searched by their boxes."""
    if seconds >= LONGEST_S:
        return False
    lat, lon = np.asarray(lat_deg), np.asarray(lon_deg)
    latitudes = lattice.latitudes(max(-90.0, lat.min() - 3.5), min(90.0, lat.max() + 3.5))[0].size
    blocks = np.unique(np.floor(lon / 0.5)).size + lat.size / 256
    return _TIMES * basis.years * latitudes * (blocks * _BLOCK_S + lat.size * _SITE_S) / workers() > seconds


def hurried(shifts: AllowedShifts, legal_zone: str, seconds: float) -> tuple[Fewest, np.ndarray]:
    """A plan for the rows of a part, checked by the drift kernel, with a bound; its boxes are not asked for.

    Returns
    -------
    Fewest
        Its `search` and `problem` are None; the rows of `relaxed` are such that no two of them can share a setting.
    served : (n,) bool
        Rows that the plan keeps within tolerance; for the others no setting was found.
    """
    deadline = time.monotonic() + seconds
    settings: list[Setting] = []
    of_row, served, worst = np.full(shifts.n, -1), np.ones(shifts.n, bool), 0.0

    def take(setting: Setting, rows: np.ndarray, own: int | None = None) -> bool:
        nonlocal worst
        factor = exact_factor(shifts, setting, rows)
        mine = within(factor, shifts)
        if not mine.any() or own is not None and not mine[rows == own].all():
            return False
        of_row[rows[mine]] = len(settings)
        worst = max(worst, float(factor[mine].max()))
        settings.append(setting)
        return True

    for turn in range(_ROUNDS):
        left = np.flatnonzero(of_row < 0)
        if not left.size or turn and time.monotonic() > deadline:
            break
        some = left if left.size <= _ROWS else left[_spread(shifts, left, _ROWS)]
        keyed, member = _candidates(shifts, some, legal_zone)
        can = member.any(axis=0)
        if not can.any():
            break
        chosen = greedy(member[:, can])
        chosen = improved(member[:, can], chosen, _STEPS, deadline=time.monotonic() + 0.4 * max(0.0, deadline - time.monotonic()))
        asked = np.zeros(shifts.n, bool)
        asked[some] = True
        for c in chosen[np.argsort(-member[chosen].sum(axis=1), kind="stable")]:
            open_to = of_row < 0
            # Rows that were not looked at are asked about every setting.
            held = open_to & ~asked
            held[some[member[c]]] = open_to[some[member[c]]]
            if held.any():
                take(keyed[c], np.flatnonzero(held))
    for row in np.flatnonzero(of_row < 0):
        if of_row[row] < 0:
            setting, _ = best_alone(shifts, int(row), legal_zone, enough=1.0)
            served[row] = take(setting, np.flatnonzero(of_row < 0), int(row))
    rows = np.flatnonzero(served)
    cover = KeyedCover(tuple(settings), np.zeros((len(settings), 4), np.int64), rows, of_row[rows], worst)
    apart = _apart(shifts, rows) if rows.size else rows
    relaxed = Relaxed(max(1, apart.size), float(apart.size), apart, np.ones(apart.size))
    return Fewest(cover, min(relaxed.lower_bound, max(1, len(settings))), relaxed, None, None, "weights", len(settings) > apart.size), served


def _spread(shifts: AllowedShifts, rows: np.ndarray, most: int) -> np.ndarray:
    """Places of at most so many rows that lie apart."""
    return Neighbours(np.column_stack((shifts.row_lat[rows], shifts.row_lon[rows])), _NEAR_DEG).spread(most)


def _candidates(shifts: AllowedShifts, rows: np.ndarray, legal_zone: str) -> tuple[list[Setting], np.ndarray]:
    """Settings keyed at some of the rows, and (n_setting, n_row) bool: which rows each serves, white nights left to the drift kernel."""
    keypad, tolerance, limit = shifts.lattice.keypad, shifts.tolerance, shifts.lattice.limit_min
    at = rows if rows.size <= _POSITIONS else rows[_spread(shifts, rows, _POSITIONS)]
    lat, lon = (np.asarray(keypad.round_deg(one[at])) for one in (shifts.row_lat, shifts.row_lon))
    lat, lon = np.unique(np.column_stack((np.clip(lat, -90, 90), lon)), axis=0).T
    dusk_offset = int(np.clip(np.rint(0.5 * (tolerance.dark_min - tolerance.excess_min)), -limit, limit))
    sites = np.flatnonzero(np.isin(shifts.unit, rows))
    sites = sites[np.argsort(shifts.unit[sites], kind="stable")]
    keyed_dusk, keyed_dawn, state, midnight, _ = _times(shifts, lat, lon)
    crosses = state == CROSSES
    keyed = tuple(np.where(crosses, one, empty) for one, empty in ((keyed_dusk, -np.inf), (keyed_dusk, np.inf), (keyed_dawn, -np.inf), (keyed_dawn, np.inf)))
    serves = np.empty((lat.size, sites.size), bool)

    def part(span):
        mine = slice(*span)
        dusk, dawn, own_state, _, judged = _times(shifts, shifts.lat_deg[sites[mine]], shifts.lon_deg[sites[mine]], midnight)
        silent = (own_state != CROSSES) | ~judged
        most_dusk, least_dusk, most_dawn, least_dawn = held_against(keyed, limits_of(dusk, dawn, silent, silent))
        x, y = dusk_offset, -dusk_offset
        serves[:, mine] = ((x + most_dusk <= tolerance.dark_min) & (x + least_dusk >= -tolerance.excess_min)
                           & (y + most_dawn <= tolerance.excess_min) & (y + least_dawn >= -tolerance.dark_min))

    edges = np.unique(np.linspace(0, sites.size, 4 * workers() + 1).astype(int))
    on_all_cores(part, zip(edges[:-1], edges[1:]))
    member = np.logical_and.reduceat(serves, np.searchsorted(shifts.unit[sites], rows), axis=1)
    # Keyed positions lie within 180 degrees; sites may be unwrapped.
    at_home = np.where(np.abs(lon) > 180, keypad.round_deg((lon + 180.0) % 360.0 - 180.0), lon)
    return [Setting(float(a), float(b), legal_zone, dusk_offset, -dusk_offset) for a, b in zip(lat, at_home)], member


def _times(shifts: AllowedShifts, lat_deg, lon_deg, midnight=None):
    """Dusk and dawn counted from midnights in the middle of the part [minute], state, those midnights, and which nights are judged."""
    found = switch_times(lat_deg=lat_deg, lon_deg=lon_deg, year=shifts.year, altitude_deg=shifts.altitude_deg, years=shifts.basis.years)
    if midnight is None:
        midnight = 1440.0 * np.arange(1, found.state.shape[1] + 1) - 4.0 * shifts.base_lon_deg
    judged = judged_nights(lat_deg, lon_deg, shifts.year, shifts.altitude_deg, shifts.tolerance.shallow_deg, shifts.basis.years)
    return found.dusk_utc_min - midnight, found.dawn_utc_min - midnight, found.state, midnight, judged


def _apart(shifts: AllowedShifts, rows: np.ndarray) -> np.ndarray:
    """Rows of which no two can share a setting, whatever the keypad.

    Notes
    -----
    On a night that is longer than twice the dark minutes and the excess minutes together, a setting within tolerance at two sites acts no
    later than the earlier site's dusk and the dark minutes, and no earlier than the later site's dusk less the excess minutes; at dawn the
    same the other way round. So two sites whose dusks or dawns differ by more than both together on such a night share no setting.
    """
    some = rows if rows.size <= _BOUND_ROWS else rows[_spread(shifts, rows, _BOUND_ROWS)]
    sites = shifts.first_sites[some]
    dusk, dawn, state, _, judged = _times(shifts, shifts.lat_deg[sites], shifts.lon_deg[sites])
    tolerance = shifts.tolerance
    with np.errstate(invalid="ignore"):
        long = (state == CROSSES) & judged & (dawn - dusk > 2 * tolerance.dark_min + tolerance.excess_min + 1.0)
    held = tuple(np.where(long, one, empty) for one, empty in ((dusk, -np.inf), (dusk, np.inf), (dawn, -np.inf), (dawn, np.inf)))
    limits = limits_of(dusk, dawn, ~long, ~long)
    edges = np.unique(np.linspace(0, sites.size, 4 * workers() + 1).astype(int))
    parts = on_all_cores(lambda span: held_against(held, np.ascontiguousarray(limits[slice(*span)])), zip(edges[:-1], edges[1:]))
    found = np.concatenate(parts, axis=2)
    with np.errstate(invalid="ignore"):
        most = np.where(np.isfinite(found), np.abs(found), 0.0).max(axis=0)
    apart = np.maximum(most, most.T) > tolerance.dark_min + tolerance.excess_min + _MARGIN_MIN
    return np.sort(some[_independent(~apart)])


def _independent(together: np.ndarray) -> np.ndarray:
    """Rows of which no two are together: always one with the fewest left beside it."""
    left, chosen = np.ones(together.shape[0], bool), []
    degree = together.sum(axis=1)
    while left.any():
        row = int(np.flatnonzero(left)[np.argmin(degree[left])])
        chosen.append(row)
        gone = left & together[row]
        gone[row] = True
        left &= ~gone
        degree = degree - together[:, gone].sum(axis=1)
    return np.array(chosen, np.int64)
