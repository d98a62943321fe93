"""Set covers and groupings whose optimum is known from elsewhere, by the very functions that a run calls.

Sources: domination numbers of n x n grids, OEIS A104519 (values as in references, from memory; they were also found by
HiGHS there). Most points of AG(d, 3) without three in a line, OEIS A090245: 2, 4, 9, 20 (from memory; 20 is Pellegrino's,
1971); hitting all lines is to leave such a set out, and these are the covers A9, A27 and A81 of Fulkerson, Nemhauser and
Trotter, 1974, with optima 5, 18 and 61. L-infinity grids, the greedy trap and one-dimensional covers: closed forms,
derived here. Location set covering: Toregas, Swain, ReVelle, Bergman 1971.
"""

import itertools
import math

import numpy as np
import pytest

from geozone.grouping.groups import fewest_groups
from geozone.grouping.siteparts import GroupSites
from geozone.setcover.bracket import fewest_columns
from geozone.setcover.greedy import greedy, plain_greedy
from geozone.setcover.programs import mixed_integer
from geozone.setcover.search import Search
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

GRID_DOMINATION = {1: 1, 2: 2, 3: 3, 4: 4, 5: 7, 6: 10, 7: 12, 8: 16, 9: 20, 10: 24}


def solved(problem, seconds=30.0):
    """The bracket, after checks that any cover and any weights must pass."""
    found = fewest_columns(Search(problem), problem, seconds)
    assert problem.sure[found.cover[:, 0]].any(axis=0).all()
    assert (problem.sure[:, found.relaxed.rows] @ found.relaxed.weight).max() <= 1 + 1e-9
    return found


def grid(n):
    return np.array([(i, j) for i in range(n) for j in range(n)])


@pytest.mark.parametrize("n", GRID_DOMINATION)
def test_grid_domination(matrix_problem, n):
    point = grid(n)
    found = solved(matrix_problem(np.abs(point[:, None] - point[None]).sum(axis=2) <= 1, at=point))
    assert (len(found.cover), found.lower_bound) == (GRID_DOMINATION[n], GRID_DOMINATION[n])


@pytest.mark.parametrize("n", [4, 7, 10])
def test_grid_domination_from_columns_that_come_by_weight(matrix_problem, n):
    """As for keypads so fine that their cells cannot be listed: the bound is the relaxed one, so a gap may stay."""
    point = grid(n)
    found = solved(matrix_problem(np.abs(point[:, None] - point[None]).sum(axis=2) <= 1, at=point, listable=False, families=3), 10.0)
    assert found.lower_bound <= GRID_DOMINATION[n] <= len(found.cover) <= GRID_DOMINATION[n] + 1


@pytest.mark.parametrize("listable", [True, False])
@pytest.mark.parametrize("n, radius", [(4, 1), (7, 1), (9, 1), (10, 2), (12, 2), (11, 3), (18, 1), (20, 2)])
def test_squares_on_a_grid(matrix_problem, n, radius, listable):
    """An (2r+1)-square holds one of the points that are 2r+1 apart, so ceil(n / (2r+1))^2 are needed and enough."""
    point = grid(n)
    found = solved(matrix_problem(np.abs(point[:, None] - point[None]).max(axis=2) <= radius, at=point, listable=listable))
    assert len(found.cover) == found.lower_bound == math.ceil(n / (2 * radius + 1)) ** 2


def lines_of(d):
    """(n_point, n_line) bool: points of AG(d, 3) on its lines, and the middles of the lines."""
    point = np.array(list(itertools.product(range(3), repeat=d)))
    ways = [w for w in point if w.any() and w[np.flatnonzero(w)[0]] == 1]
    number = {tuple(p): i for i, p in enumerate(point)}
    lines = sorted({tuple(sorted(number[tuple((p + t * w) % 3)] for t in range(3))) for p in point for w in ways})
    member = np.zeros((len(point), len(lines)), bool)
    for i, line in enumerate(lines):
        member[list(line), i] = True
    return member, np.array([point[list(line)].mean(axis=0)[:2] for line in lines])


@pytest.mark.parametrize("d, lines, best, relaxed, seconds, slack", [(2, 12, 5, 3, 30, 0), (3, 117, 18, 9, 30, 0), (4, 1080, 61, 26, 6, 2)])
def test_lines_of_affine_space(matrix_problem, d, lines, best, relaxed, seconds, slack):
    """Weights prove no more than lines / (lines through a point), far below the optimum. So a run brackets it; in four
    dimensions all rows are looked at at once, and time is short."""
    member, at = lines_of(d)
    assert member.shape == (3**d, lines) and (member.sum(axis=0) == 3).all()
    found = solved(matrix_problem(member, at=at), seconds)
    assert best <= len(found.cover) <= best + slack and relaxed <= found.lower_bound <= best
    if d == 2:
        assert found.proved


def test_seventeen_points_do_not_hit_the_lines_of_three_dimensions():
    member, _ = lines_of(3)
    assert mixed_integer(member, 18, 60.0) == (None, 18)


@pytest.mark.parametrize("n", [40, 400])
def test_intervals_are_sort_and_sweep(matrix_problem, n):
    place = np.sort(np.random.default_rng(n).uniform(0, 100, n))
    member = (place[None] >= place[:, None]) & (place[None] <= place[:, None] + 3.0)
    swept, end = 0, -1.0
    for value in place:
        if value > end:
            swept, end = swept + 1, value + 3.0
    found = solved(matrix_problem(member, at=np.column_stack((place, 0 * place))))
    assert len(found.cover) == found.lower_bound == swept


@pytest.mark.parametrize("k", [3, 4, 5, 6])
def test_greedy_trap(matrix_problem, k):
    """Two rows of 2^k - 1 points; blocks of 2^(k-1), ..., 1 columns across both: greedy takes the k blocks, two rows do."""
    columns = 2**k - 1
    row = np.zeros((2, 2, columns), bool)
    row[0, 0] = row[1, 1] = True
    blocks = np.zeros((k, 2, columns), bool)
    first = 0
    for b in range(k):
        blocks[b, :, first:first + 2 ** (k - 1 - b)] = True
        first += 2 ** (k - 1 - b)
    member = np.concatenate((blocks, row)).reshape(k + 2, -1)
    assert greedy(member).size == k
    found = solved(matrix_problem(member))
    assert sorted(found.cover[:, 0]) == [k, k + 1] and found.proved


def plan(lat, lon, tolerance_min, **more):
    options = {name: more.pop(name) for name in ("offsets", "curve_to", "time_limit_s") if name in more}
    return fewest_groups(GroupSites(lat, lon, 2027, **more), Basis(2027, -4.0, Tolerance(tolerance_min, tolerance_min)), **options)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_parallel_is_sort_and_sweep(seed):
    """On a parallel dusk and dawn both move 4 minutes a degree, so a setting in the middle serves 2 T / 4 degrees.

    Sites lie on tenths of a degree, settings reach twentieths (0.2 minutes), and 5.05 minutes leave no doubt: a span of
    2.5 degrees needs 5.00, one of 2.6 needs 5.20.
    """
    lon = np.round(np.random.default_rng(seed).choice(np.arange(1200, 1500), 40, replace=False) / 10, 1)
    swept, start = 0, -np.inf
    for value in np.sort(lon):
        if value - start > 2.5 + 1e-9:
            swept, start = swept + 1, value
    answer = plan(np.full(lon.size, -35.0), lon, 5.05)
    assert (answer.count, answer.lower_bound) == (swept, swept)


def half_night_min(lat_deg, declination_deg, altitude_deg=-4.0):
    """Minutes from dusk to midnight by the textbook hour angle: no almanac, no geozone."""
    lat, dec, alt = np.radians(lat_deg), np.radians(declination_deg), math.radians(altitude_deg)
    cosine = (math.sin(alt) - np.sin(lat) * np.sin(dec)) / (np.cos(lat) * np.cos(dec))
    return 720.0 - 4.0 * np.degrees(np.arccos(cosine))


def one_setting_serves(lat, tolerance_min):
    """Whether sites on one meridian share a setting: every keyed latitude, the best shift in each."""
    declination = np.linspace(-23.43, 23.43, 61)
    own = half_night_min(np.asarray(lat)[:, None], declination[None, :])
    for keyed in np.arange(round(min(lat) * 10) - 5, round(max(lat) * 10) + 6) / 10:
        later = own - half_night_min(keyed, declination)[None, :]  # keyed dusk minus own dusk; dawn is the mirror image
        if later.max() - later.min() <= 2 * tolerance_min:
            return True
    return False


def test_one_meridian_is_sort_and_sweep():
    lat = np.round(np.random.default_rng(5).uniform(-44, -20, 40), 2)

    def swept(tolerance_min):
        count, group = 0, []
        for value in np.sort(lat):
            if not group or not one_setting_serves([*group, value], tolerance_min):
                count, group = count + 1, []
            group.append(value)
        return count

    # Whole fifths of a minute and the oracle's coarse seasons are worth 0.1 minute at each side.
    assert swept(5.9) == swept(6.1), "choose sites for which the closed form leaves no doubt"
    answer = plan(lat, np.full(lat.size, 143.0), 6.0)
    assert (answer.count, answer.lower_bound) == (swept(6.0), swept(6.0))


def test_greedy_trap_from_real_coordinates():
    """The same trap on the ground: two parallels, and blocks of 4, 2 and 1 columns of sites within 4.7 degrees.

    A setting on a parallel serves its whole row (18.8 of 20 minutes); one halfway between loses about 8 of its 10 minutes
    to the latitude and serves one block of both rows. Greedy takes 4 + 4, then 2 + 2, then 1 + 1.
    """
    from geozone.grouping.allowedshifts import AllowedShifts
    from geozone.grouping.keylattice import KeyLattice
    from geozone.grouping.settingcover import SettingCover

    columns = np.array([140.00, 140.01, 140.02, 140.03, 142.30, 142.31, 144.70])
    lon, lat = np.tile(columns, 2), np.repeat([-33.0, -38.0], columns.size)
    shifts = AllowedShifts(lat, lon, np.arange(lat.size), Basis(2027, -4.0, Tolerance(10, 10)), KeyLattice.of(Keypad(), True))
    everyone = np.arange(lat.size)
    assert plain_greedy(SettingCover(shifts, everyone).columns(everyone, False)).shape[0] == 3
    answer = plan(lat, lon, 10)
    assert (answer.count, answer.lower_bound) == (2, 2)
