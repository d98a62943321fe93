"""Fewest settings for one part: what is learnt about its rows, and records that stay as they are."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from geozone.grouping.allowedshifts import AllowedShifts
from geozone.grouping.fewestsettings import _checked_cover, fewest
from geozone.grouping.keylattice import KeyLattice
from geozone.grouping.settingcover import SettingCover
from geozone.grouping.siteparts import GroupSites, parts_of, without_unserved
from geozone.setcover.search import Search
from geozone.sharing.shared import searched_setting
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance


def shifts_of(lat, lon, tolerance=Tolerance(5, 5)):
    return AllowedShifts(np.asarray(lat, float), np.asarray(lon, float), np.arange(len(lat)), Basis(2027, -4.0, tolerance), KeyLattice.of(Keypad(), True))


@pytest.fixture(scope="module")
def shifts():
    return shifts_of([-35.0, -35.1, -34.0], [140.0, 140.4, 147.0])


def test_a_row_without_a_box_left_gets_a_setting_of_its_own(shifts):
    """The row carries weight in the bound; it used to be looked for among the cells that are left, and stopped the run."""
    problem = SettingCover(shifts, np.arange(3), margin_min=np.array([0.0, 100.0, 0.0]))
    search = Search(problem)
    relaxed = search.bound(problem, np.inf)
    assert 1 in relaxed.rows and relaxed.lower_bound == 2
    plan, settled, _ = _checked_cover(search, problem, relaxed, None, "Australia/Adelaide", np.inf, 1000)
    assert len(plan) == 3 and not settled and sorted(plan.of_row) == [0, 1, 2]


def test_margins_draw_in_covers_and_leave_bounds_alone(shifts):
    rows = np.arange(3)
    plain = SettingCover(shifts, rows)
    drawn = plain.drawn_in(np.array([1]), np.array([2.0])).drawn_in(np.array([1]), np.array([1.0]))
    assert plain.margin_min is None and drawn.margin_min.tolist() == [0.0, 3.0, 0.0] and plain == drawn
    weight = np.array([0.0, 1.0, 0.0])
    for wide in (False, True):
        before, after = (one.columns(rows, wide).listed(weight, 0.5, 40_000)[0] for one in (plain, drawn))
        served = plain.held(before, wide)[:, 1].sum(), drawn.held(before, wide)[:, 1].sum()
        assert served[0] == served[1] if wide else served[1] < served[0]
    assert plain.servable(False).all() and drawn.servable(False).all()
    assert not plain.drawn_in(np.array([1]), np.array([5.1])).servable(False)[1]


def test_records_of_a_problem_stay_as_they_are(shifts):
    problem = SettingCover(shifts, np.arange(3))
    found = fewest(shifts, np.arange(3), "Australia/Adelaide", 5.0)
    for record, name in ((shifts, "tolerance"), (shifts, "plain"), (problem, "factor"), (found, "cover"), (found.relaxed, "weight")):
        with pytest.raises(FrozenInstanceError):
            setattr(record, name, None)
    assert len(found.cover) == found.lower_bound == 2 and found.problem.factor == 1.0


def test_two_problems_are_equal_where_their_bounds_are(shifts):
    rows = np.arange(3)
    assert SettingCover(shifts, rows) == SettingCover(shifts, rows) != SettingCover(shifts, rows, 0.5)
    assert SettingCover(shifts, rows) != SettingCover(shifts_of([-35.0], [140.0]), rows)


def test_a_part_without_its_unserved_rows_is_another_record():
    """55 minutes of sun between the two sites of one unit: no setting serves it, and the part that was asked stays as it was."""
    sites = GroupSites([-35.0, -35.0, -35.1], [136.0, 150.0, 140.0], 2027, keep_together=["wide", "wide", ""])
    part = parts_of(sites, Basis(2027, -4.0, Tolerance(5, 5)), KeyLattice.of(Keypad(), True))[0]
    less, records = without_unserved(part, sites)
    assert part.served.all() and less.served.sum() == 1 and [one.unit for one in records] == ["wide"] and records[0].proved
    for name in ("served", "found", "shifts"):
        with pytest.raises(FrozenInstanceError):
            setattr(less, name, None)


@pytest.mark.parametrize("south_lat, span_deg, tolerance", [(62.2, 0.9, Tolerance(90, 30)), (63.7, 0.6, Tolerance(60, 60)), (62.0, 1.2, Tolerance(90, 30))])
def test_where_one_setting_does_its_worst_minutes_are_as_few_as_they_get(south_lat, span_deg, tolerance):
    """White nights of civil twilight, of which fewer count the better a setting is; the search for one shared setting is another method."""
    lat, lon = south_lat + span_deg * np.array([0, 0.35, 0.6, 1]), 20 + span_deg * np.array([0.3, 1, 0, 0.6])
    basis = Basis(2027, -6.0, tolerance)
    found = fewest(AllowedShifts(lat, lon, np.arange(4), basis, KeyLattice.of(Keypad(), True)), np.arange(4), "Europe/Helsinki", 5.0)
    least = searched_setting(lat, lon, "Europe/Helsinki", basis)
    assert len(found.cover) == 1 and least.served == 4
    assert (found.cover.factor - least.factor) * max(tolerance.dark_min, tolerance.excess_min) <= 0.1
