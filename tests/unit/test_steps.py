"""The steps of a run: each can be run again alone, and what did not change is kept."""

import ast
import inspect

import geopandas as gpd
import pandas as pd
import pytest

from geozone import Job
from geozone.jobs import plan, steps
from geozone.sharing.overarea import over_area

SITES = gpd.GeoDataFrame({"site_id": ["mill", "weir", "school"]}, geometry=gpd.points_from_xy([139.0, 140.2, 141.4], [-35.0, -34.2, -35.1]),
                         crs=4326)
SHARED = {"lat_deg": -35.04, "lon_deg": 139.2, "legal_zone": "Australia/Adelaide"}


def job(**more):
    return Job.of(SITES, year=2027, dark={"altitude_deg": -4.0}, shared=SHARED, **more)


@pytest.fixture(scope="module")
def kept():
    files = steps.read(job())
    return files, steps.place(files.sites, files.areas, 2027)


@pytest.mark.parametrize("more", [{"tolerance": {"dark_min": 3, "excess_min": 30}}, {"keypad": {"coordinate_step_deg": 1.0}},
                                  {"tolerance": {"dark_min": 30, "excess_min": 30}}])
def test_another_tolerance_or_keypad_needs_no_new_reading_and_placing(kept, more):
    files, placed = kept
    whole = plan.compute(job(**more))
    judged = steps.judge(job(**more), placed)
    pd.testing.assert_frame_equal(judged.columns, pd.DataFrame(whole.sites[list(judged.columns)]))
    assert judged.setting == whole.setting and files.notes + placed.notes + judged.notes == whole.notes
    ground = over_area(files.areas, placed.pieces, judged.setting, job(**more).basis)
    pd.testing.assert_frame_equal(ground.lattice, whole.lattice)
    pd.testing.assert_frame_equal(ground.spread, whole.spread)
    assert ground.drift_lines["label"].tolist() == whole.drift_lines["label"].tolist()


def test_a_step_leaves_what_it_was_given(kept):
    files, placed = kept
    before, read = placed.sites.copy(), files.sites.copy()
    steps.place(files.sites, files.areas, 2028)
    steps.judge(job(), placed)
    pd.testing.assert_frame_equal(placed.sites, before)
    pd.testing.assert_frame_equal(files.sites, read)


def test_the_run_reads_on_one_screen():
    (function,) = ast.parse(inspect.getsource(plan.compute)).body
    first = function.body[1].lineno  # after the docstring
    assert function.end_lineno - first + 1 <= 45
