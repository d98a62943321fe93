"""What the page's own arithmetic gets: its sun, its clocks, and the cases that both languages are held against."""

import base64
import json
import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.numbers import clock
from geozone.numbers.almanac import almanac, apparent_sun
from geozone.screens.mapcolumns import bits, raised, tenths
from geozone.screens.mapsky import clock_steps, sun_nodes

CASES = runpy.run_path(str(Path(__file__).parents[1] / "cases" / "kernel.py"))


def same(a, b, path=""):
    """Where two readings of JSON differ by more than a hundred-thousandth of a minute."""
    if isinstance(a, dict) and isinstance(b, dict) and a.keys() == b.keys():
        return [place for key in a for place in same(a[key], b[key], f"{path}.{key}")]
    if isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        return [place for k, pair in enumerate(zip(a, b)) for place in same(*pair, f"{path}.{k}")]
    if all(isinstance(one, (int, float)) and not isinstance(one, bool) for one in (a, b)):
        return [] if abs(a - b) < 1e-5 else [path]
    return [] if a == b or path == ".nodes" else [path]


def test_the_cases_are_the_kernels():
    """`python tests/cases/kernel.py` makes them anew; the nodes are compared below."""
    kept = json.loads(CASES["FILE"].read_text(encoding="utf-8"))
    assert same(kept, CASES["cases"]()) == []
    assert same({"a": [1, 2.0]}, {"a": [1, 2.1]}) == [".a.1"], "a difference would be seen"


@pytest.mark.parametrize("year", [2027, 2028])
def test_the_nodes_are_the_apparent_sun(year):
    """Against ERFA's places at 0h UT of each day, of which the almanac is made."""
    nodes = np.frombuffer(base64.b64decode(sun_nodes(year)), dtype="<f8").reshape(2, -1)
    n = almanac(year).n_night
    sun = apparent_sun(year, np.arange(-1.0, n + 3))
    assert nodes.shape == (2, n + 4) and len(sun_nodes(year)) < 8000
    turns = (nodes[0] - sun.greenwich_hour_angle_rad) / (2 * np.pi)
    assert np.abs(turns - np.rint(turns)).max() < 1e-12
    assert np.abs(nodes[1] - np.sin(sun.declination_rad)).max() < 1e-14


def test_clock_steps_start_long_ago():
    sequence = clock.offsets("Australia/Adelaide", 2027)
    steps = clock_steps(sequence)
    assert [offset for _, offset in steps] == [630, 570, 630] and steps[0][0] == -1e9 and steps[1][0] == sequence.start_utc_min[1]


def test_minutes_rounded_up_give_the_verdict_of_the_minutes():
    """By every tolerance in whole tenths; the drift's own rule takes 1e-7 min more for the same."""
    rng = np.random.default_rng(4)
    minutes = np.concatenate([rng.uniform(0, 12, 4000), np.arange(121) / 10, np.arange(121) / 10 + 5e-8, np.arange(121) / 10 + 2e-7, [np.nan]])
    up = tenths(minutes) + raised(minutes)
    for tolerance in range(1, 121):
        assert np.array_equal(up > tolerance, np.nan_to_num(minutes) > tolerance / 10 + 1e-7)


def test_bits_are_the_lowest_first():
    assert bits([True, False, True, False, False, False, False, False, True]) == {"bits": base64.b64encode(bytes([5, 1])).decode()}
