"""The fewest settings that serve all of a ground, cell by cell."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..grouping.allowedshifts import AllowedShifts
from ..grouping.groups import fewest_groups
from ..grouping.keylattice import KeyLattice
from ..grouping.planrecords import Groups
from ..grouping.settingcover import SettingCover
from ..grouping.siteparts import GroupSites
from ..setcover.neighbours import Neighbours
from ..setcover.programs import mixed_integer
from ..setcover.relaxation import Relaxation, Relaxed
from ..sharing.drift import unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting
from .diamonds import diamond_layouts
from .groundcells import GroundCells, divided
from .outlines import outline_points
from .zones import ROOM_MIN, tighter

# Settings are looked for that serve the cells' corners with so much to spare [minute]: what is between them.
_SLACKS_MIN = (0.1, 0.2, 0.4)
# Neighbouring zones that are laid out anew together, and the time for it [second].
_TOGETHER, _ANEW_S = (4, 7), 4.0
# So many cells that no setting serves, and points beside white nights, are looked at one by one.
_MOST_LEFT, _MOST_WHITE, _FEWEST_WHITE, _WHITE_PER_S = 300, 200, 24, 5
# Cells that no setting serves are mended up to so many: more are a sign that the settings have nothing to spare.
_MOST_MENDED = 100
# So many zones are no longer laid out all together with success: neighbours anew gain more in the same time.
_MANY = 25
# Places with which the bound begins, and rounds of more of them that may leave it as it is.
_FIRST_ROWS, _PATIENCE = 300, 8
# Points along the outline for the bound.
_MOST_RIM = 1500


@dataclass(frozen=True, eq=False)
class Ground:
    """Outlines of one clock, as one.

    Attributes
    ----------
    legal_zone : str
    shape : Polygon or MultiPolygon
    cells : GroundCells
    """

    legal_zone: str
    shape: shapely.Geometry
    cells: GroundCells


@dataclass(frozen=True, eq=False)
class Layout:
    """Settings for a ground.

    Attributes
    ----------
    cells : GroundCells
        What is served.
    settings : list of Setting
    member : (n, n_setting) bool
        Settings that serve each cell, one at least.
    left : GroundCells
        Cells that none of the settings serves.
    """

    cells: GroundCells
    settings: list[Setting]
    member: np.ndarray
    left: GroundCells

    @property
    def lacks(self) -> tuple[bool, int]:
        """The smaller, the better: whether ground is left, then how many settings."""
        return len(self.left.boxes) > 0, len(self.settings)


def best_layout(ground: Ground, basis: Basis, seconds: float) -> tuple[Layout, int]:
    """The fewest settings found for a ground, and how many it needs at least.

    Parameters
    ----------
    ground : Ground
    basis : Basis
        With `switch_clock` "own".
    seconds : float
        The search stops then, or soon after.
    """
    begun = time.monotonic()
    ends = begun + seconds
    asked = _asked(ground, basis, int(np.clip(_WHITE_PER_S * seconds, _FEWEST_WHITE, _MOST_WHITE)))
    if not asked.rows.size:
        return _laid_out(ground, [], basis), 0
    points, inside = asked.points[asked.rows[asked.corner]], asked.points[asked.rows[asked.inside]]
    rows = diamond_layouts(asked.shifts, asked.rows[asked.corner], ground.legal_zone, basis, begun + 0.2 * seconds)
    # Each by itself: together they leave no cell to be quartered, and whole cells cost settings. Those with the most to spare first.
    best = _laid_out(ground, [], basis)
    for layout in sorted(rows, key=len, reverse=True):
        laid = _laid_out(ground, layout, basis)
        mended = _mended(laid, ground, basis, best.lacks, begun + 0.5 * seconds)
        best = min(best, mended, key=lambda one: (len(one.left.boxes), len(one.settings)))
        if len(laid.left.boxes) > _MOST_MENDED and not best.lacks[0] or time.monotonic() > begun + 0.35 * seconds:
            break
    pool = dict.fromkeys([setting for layout in rows for setting in layout] + best.settings)
    best = min(best, _laid_out(ground, list(pool), basis, best.cells if not best.lacks[0] else None), key=lambda one: one.lacks)
    lower = _needed(asked, best, min(ends, time.monotonic() + 0.35 * seconds))
    for slack in (0.0, *_SLACKS_MIN):
        left = ends - time.monotonic()
        if best.lacks <= (False, lower) or len(best.settings) > _MANY and not best.lacks[0] or slack and left < 0.3 * seconds:
            break
        some = points if slack else inside
        if not len(some):
            continue
        plan = settings_for(some, ground, basis, slack, (0.7 if slack else 0.4) * left)
        if not slack:
            # Points of the ground are ground: what they need, it does.
            lower = max(lower, plan.lower_bound)
        found = [one.setting for one in plan.settings]
        mended = _mended(_laid_out(ground, found, basis), ground, basis, best.lacks, min(ends, time.monotonic() + 0.12 * seconds))
        best = min(best, mended, key=lambda one: one.lacks)
        if best.lacks > (False, lower):
            best = min(best, _laid_out(ground, list(pool | dict.fromkeys(found)), basis, best.cells if not best.lacks[0] else None), key=lambda one: one.lacks)
        pool |= dict.fromkeys(best.settings)
    if len(best.left.boxes) and time.monotonic() < ends:
        best = _with_own(best, ground, basis, max(1.0, ends - time.monotonic()))
    if best.lacks > (False, lower):
        best = _fewer(best, ground, basis, lower, ends)
    if len(best.left.boxes) and lower > 1:
        # Ground that is left needs settings of its own: what is served may do with fewer.
        west, south, east, north = shapely.bounds(best.left.shapes).T[:, :, None]
        lat, lon = inside.T
        served = ~((west <= lon) & (lon <= east) & (south <= lat) & (lat <= north)).any(axis=0)
        lower = settings_for(inside[served], ground, basis, 0.0, 0.3 * seconds).lower_bound if served.any() else 0
    return best, min(lower, len(best.settings))


def settings_for(points: np.ndarray, ground: Ground, basis: Basis, slack_min: float, seconds: float, together=None) -> Groups:
    """The fewest settings for places of a ground.

    Parameters
    ----------
    points : (n, 2) array
        Latitude and longitude [degree].
    ground : Ground
    basis : Basis
        With `switch_clock` "own".
    slack_min : float [minute]
        How much of the tolerance is to be spared.
    seconds : float
    together : (n,) array of str, optional
        Places of one name share a setting.
    """
    sites = GroupSites(points[:, 0], points[:, 1], basis.year, legal_zone=np.full(len(points), ground.legal_zone, dtype=object), keep_together=together)
    return fewest_groups(sites, replace(basis, tolerance=tighter(basis.tolerance, slack_min)), time_limit_s=max(0.5, seconds), hurry=False)


def _shifts(points: np.ndarray, ground: Ground, basis: Basis, unit=None) -> AllowedShifts:
    lon = unwrapped_lon_deg(points[:, 1], ground.legal_zone, basis.year)
    return AllowedShifts(points[:, 0], lon, np.arange(len(points)) if unit is None else unit, basis, KeyLattice.of(basis.keypad, True))


@dataclass(frozen=True, eq=False)
class _Asked:
    """Places for which settings are looked for.

    Attributes
    ----------
    points : (n, 2) float64
        Latitude and longitude [degree].
    shifts : AllowedShifts
        A row a point.
    rows : (m,) int64
        Points that a setting may serve; beside white nights, where each takes long, only some of them.
    corner, inside : (m,) bool
        Of these: corners of cells, and those that are ground.
    """

    points: np.ndarray
    shifts: AllowedShifts
    rows: np.ndarray
    corner: np.ndarray
    inside: np.ndarray


def _asked(ground: Ground, basis: Basis, most_white: int) -> _Asked:
    """Corners of the cells, and some of the outline, which has the farthest of the ground; beside white nights no more than so many."""
    lat, lon = (axis.ravel() for axis in ground.cells.corners())
    corners = np.unique(np.column_stack([lat, lon]), axis=0)
    lat, lon, _ = outline_points(ground.shape, basis)
    rim = np.column_stack([lat, lon])[_spread(np.arange(lat.size), min(_MOST_RIM, len(corners)))]
    points = np.concatenate([corners, rim])
    shapely.prepare(ground.shape)
    inside = np.append(shapely.intersects_xy(ground.shape, corners[:, 1], corners[:, 0]), np.ones(len(rim), bool))
    shifts = _shifts(points, ground, basis)
    rows = np.flatnonzero(shifts.servable(1.0, True))
    rows = rows if shifts.steady else _spread(rows, most_white)
    return _Asked(points, shifts, rows, rows < len(corners), inside[rows])


def _needed(asked: _Asked, best: Layout, ends: float) -> int:
    """Settings that places of the ground need at least: ground needs what its places need."""
    rows = asked.rows[asked.inside]
    if not rows.size:
        return 1
    problem = SettingCover(asked.shifts, rows)
    near = Neighbours(problem.at, problem.near)
    few = near.spread(_FIRST_ROWS) if problem.n > _FIRST_ROWS else np.arange(problem.n)
    known = Relaxed(1, 1.0, few[:1], np.ones(1))
    return Relaxation(problem, few, near).raised(known, ends, None if best.lacks[0] else len(best.settings), _PATIENCE).lower_bound


def _spread(rows: np.ndarray, most: int) -> np.ndarray:
    """At most so many of the rows, evenly over them."""
    return rows[:: max(1, -(-rows.size // most))]


def _laid_out(ground: Ground, settings: list[Setting], basis: Basis, cells: GroundCells | None = None) -> Layout:
    """The fewest of some settings that serve all cells that any of them serves; of other cells than the ground's own where they are given."""
    cells, member, left = divided(ground.cells if cells is None else cells, settings, basis)
    kept = _fewest(member) if len(cells.boxes) else np.empty(0, np.int64)
    return Layout(cells, [settings[one] for one in kept], member[:, kept], left)


def _fewest(member: np.ndarray) -> np.ndarray:
    """The fewest columns that serve all cells."""
    kinds = np.unique(member, axis=0)
    forced = np.unique(kinds[kinds.sum(axis=1) == 1].argmax(axis=1))
    rest = kinds[~kinds[:, forced].any(axis=1)]
    if not len(rest):
        return forced
    others = np.setdiff1d(np.flatnonzero(rest.any(axis=0)), forced)
    chosen, _ = mixed_integer(rest[:, others].T, len(others) + 1, 5.0)
    return np.union1d(forced, others if chosen is None else others[chosen])


def _mended(layout: Layout, ground: Ground, basis: Basis, known: tuple[bool, int], ends: float) -> Layout:
    """The same with the zones about a cell that no setting serves laid out anew, as long as that may be better than what is known."""
    while 0 < len(layout.left.boxes) <= _MOST_MENDED and layout.settings and time.monotonic() < ends:
        at = _middles(layout.left.shapes[:1])[0]
        better = next((one for one in (_anew(layout, at, many, ground, basis) for many in _TOGETHER)
                       if len(one.left.boxes) < len(layout.left.boxes) and (False, len(one.settings)) < known), None)
        if better is None:
            break
        layout = better
    return layout


def _fewer(layout: Layout, ground: Ground, basis: Basis, lower: int, ends: float) -> Layout:
    """The same with neighbouring zones laid out anew, one after another, while that saves any."""
    since, turn = 0, 0
    while layout.lacks > (False, lower) and layout.settings and since < len(layout.settings) and time.monotonic() + _ANEW_S < ends:
        at = _zone_middles(layout)[turn % len(layout.settings)]
        other = _anew(layout, at, _TOGETHER[-1], ground, basis)
        since, turn = (0 if other.lacks < layout.lacks else since + 1), turn + 1
        layout = min(layout, other, key=lambda one: one.lacks)
    return layout


def _anew(layout: Layout, at: np.ndarray, many: int, ground: Ground, basis: Basis) -> Layout:
    """The zones nearest to a place laid out anew, cells near it that no setting serves among them."""
    away = np.abs(_zone_middles(layout) - at).sum(axis=1)
    order = np.argsort(away, kind="stable")
    kept = order[many:]
    rows = np.flatnonzero(~layout.member[:, kept].any(axis=1))
    reach = away[order[min(many, len(order)) - 1]]
    near = np.flatnonzero(np.abs(_middles(layout.left.shapes) - at).sum(axis=1) <= reach)
    corners = [axis.ravel() for axis in np.concatenate([np.stack(one.corners(), axis=-1) for one in (layout.cells.chosen(rows), layout.left.chosen(near))])
               .reshape(-1, 2).T]
    points = np.unique(np.column_stack(corners), axis=0)
    plan = settings_for(points, ground, basis, _SLACKS_MIN[0], _ANEW_S)
    return _laid_out(ground, [layout.settings[one] for one in kept] + [one.setting for one in plan.settings], basis)


def _middles(shapes: np.ndarray) -> np.ndarray:
    return shapely.get_coordinates(shapely.centroid(shapes))


def _zone_middles(layout: Layout) -> np.ndarray:
    """(n_setting, 2): the middle of the cells that each serves; of those that no other serves if there are any."""
    at, alone = _middles(layout.cells.shapes), layout.member.sum(axis=1) == 1
    return np.array([at[mine & alone if (mine & alone).any() else mine].mean(axis=0) for mine in layout.member.T])


def _with_own(layout: Layout, ground: Ground, basis: Basis, seconds: float) -> Layout:
    """The same with settings for the cells that none of the others serves, as far as there are any."""
    corners = np.stack(layout.left.corners(), axis=-1)
    shifts = _shifts(corners.reshape(-1, 2), ground, basis, np.repeat(np.arange(len(corners)), 4))
    rows = _spread(np.flatnonzero(shifts.servable(1.0, True)), _MOST_LEFT if shifts.steady else _MOST_WHITE)
    if not rows.size:
        return layout
    plan = settings_for(corners[rows].reshape(-1, 2), ground, basis, ROOM_MIN, seconds, np.repeat(rows, 4).astype(str))
    return _laid_out(ground, layout.settings + [one.setting for one in plan.settings], basis)
