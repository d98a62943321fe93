"""Zones on a grid: closed forms, every layout of a small mesh, and no point of a rectangle beyond tolerance. Zones between lines: the same ground, divided."""

import itertools
import json
import runpy
import shutil
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.errors import InputError
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import run
from geozone.jobs.steps import place, read
from geozone.jobs.zoneplan import planned_zones
from geozone.numbers import clock
from geozone.paper.words import words_in
from geozone.paper.zonewords import zone_lines
from geozone.screens.console import report
from geozone.sharing.drift import drift_at, unwrapped_lon_deg
from geozone.trade.keypad import Keypad
from geozone.zoning import linezones
from geozone.zoning.gridzones import _at_least, grid_zones_of
from geozone.zoning.groundcells import cut_ground
from geozone.zoning.linezones import line_pieces, line_zones_of
from geozone.zoning.rectangles import Mesh, fewest_rectangles
from geozone.zoning.zones import ZonesRefusedError, zones_of

_CASES = runpy.run_path(str(Path(__file__).parents[1] / "zonecases.py"))
units, basis_of, border_ground = (_CASES[name] for name in ("units", "basis_of", "border_ground"))


@pytest.fixture(scope="module")
def border():
    """The border example's ground."""
    ground, basis = border_ground()
    return ground, basis, grid_zones_of(ground, basis, time_limit_s=20)


def fewest_of_all(ground: np.ndarray, widest: np.ndarray) -> int:
    """Brute force: blocks of columns, in each bands of rows, in each band rectangles; over all cuts."""
    n_row, n_column = ground.shape

    def cuts(n):
        for inner in itertools.product((False, True), repeat=n - 1):
            at = [0, *(one + 1 for one, cut in enumerate(inner) if cut), n]
            yield list(zip(at[:-1], at[1:], strict=True))

    def band(rows, columns):
        """Rectangles of a band, by trying all ways to part its columns."""
        best = np.inf
        for parts in cuts(columns[1] - columns[0]):
            count = 0
            for first, last in parts:
                mine = np.flatnonzero(ground[rows[0]:rows[1], columns[0] + first:columns[0] + last].any(axis=0))
                if mine.size:
                    count += 1 if mine.max() + 1 - mine.min() <= widest[rows[0], rows[1] - 1] + 1e-9 else np.inf
            best = min(best, count)
        return best

    return min(sum(min(sum(band(rows, columns) for rows in bands) for bands in cuts(n_row)) for columns in blocks) for blocks in cuts(n_column))


@pytest.mark.parametrize("seed", range(12))
def test_no_layout_of_a_small_mesh_has_fewer_rectangles(seed):
    rng = np.random.default_rng(seed)
    n_row, n_column = 3, 5
    ground = rng.random((n_row, n_column)) < 0.8
    ground[rng.integers(n_row), rng.integers(n_column)] = True
    # Never wider for more rows, as tolerances are.
    by_rows = np.sort(rng.integers(1, 5, n_row))[::-1].astype(float)
    widest = np.array([[by_rows[last - first] if last >= first else -1.0 for last in range(n_row)] for first in range(n_row)])
    side = np.arange(n_column) + np.zeros((n_row, 1))
    up = np.arange(n_row)[:, None] + np.zeros((1, n_column))
    west, east, south, north = (np.where(ground, one, np.nan) for one in (side, side + 1, up, up + 1))
    found = fewest_rectangles(Mesh(1.0, 0.0, 0.0, west, east, south, north), widest)
    assert len(found) == fewest_of_all(ground, widest)
    held = np.zeros(ground.shape, int)
    for one in found:
        held[slice(*one.rows), slice(*one.columns)] += ground[slice(*one.rows), slice(*one.columns)]
        inside = np.flatnonzero(ground[slice(*one.rows), slice(*one.columns)].any(axis=0))
        assert inside.size and inside.max() + 1 - inside.min() <= widest[one.rows[0], one.rows[1] - 1]
    assert (held == ground).all()


def test_a_cell_too_wide_by_itself_has_no_layout():
    mesh = Mesh.of(cut_ground(shapely.box(10, 40, 10.4, 40.3), 0.1))
    assert fewest_rectangles(mesh, np.full((3, 3), 0.05)) is None and len(fewest_rectangles(mesh, np.full((3, 3), 0.2))) == 2


@pytest.mark.parametrize("parts", [1, 2, 3])
@pytest.mark.parametrize("tolerance", [(3.0, 6.0), (5.0, 5.0)])
def test_a_strip_along_a_parallel(parts, tolerance):
    """Closed form: 4 minutes a degree, so a strip takes ceil(4 W / (dark + excess)) zones; sides lie on lines 0.1 degree apart, which costs less than that each."""
    width = parts * (sum(tolerance) / 4 - 0.1) - 0.02
    plan = grid_zones_of(units(shapely.box(10, 40, 10 + width, 40.002)), basis_of(*tolerance, keypad=Keypad(0.02)), time_limit_s=20)
    assert plan.count == parts and plan.certified and plan.by == "grid"
    # The bound, before it is cut to what was found: no more than the closed form says that zones of any kind take.
    mesh = Mesh.of(cut_ground(shapely.box(10, 40, 10 + width, 40.2), 0.05))
    assert _at_least(mesh, "Etc/UTC", basis_of(*tolerance, keypad=Keypad(0.02)), 10.0) <= int(np.ceil(4 * width / sum(tolerance))) == parts


def test_the_bound_of_a_plain_square_is_met():
    """3 by 1 fields of a strip and some height: as many as side by side fit."""
    plan = grid_zones_of(units(shapely.box(10, 40, 14, 40.2)), basis_of(), time_limit_s=20)
    assert plan.count == 2 == plan.lower_bound and plan.proved


def test_seven_rectangles_for_the_ground_of_the_border_example(border):
    ground, basis, plan = border
    assert plan.count == 7 and 5 <= plan.lower_bound <= 7 and plan.certified and not plan.unserved
    whole = shapely.union_all(ground.geometry.to_numpy())
    outlines = [zone.outline for zone in plan.zones]
    assert shapely.union_all(outlines).symmetric_difference(whole).area < 1e-9 * whole.area
    assert sum(one.area for one in outlines) == pytest.approx(whole.area, rel=1e-9)
    for zone, (west, south, east, north) in zip(plan.zones, plan.sides, strict=True):
        assert np.allclose(np.array([west, south, east, north]) * 10, np.round(np.array([west, south, east, north]) * 10), atol=1e-6)
        assert shapely.box(west, south, east, north).buffer(1e-9).contains(zone.outline)
        clocks = {clock.offsets(ground["legal_zone"].iloc[row], 2027).key for row in zone.pieces}
        assert clocks == {clock.offsets(zone.setting.legal_zone, 2027).key}


def test_no_point_of_a_rectangle_is_beyond_tolerance(border):
    """Points all over the zones and in their corners."""
    _, basis, plan = border
    rng, tried = np.random.default_rng(3), 0
    for zone, sides in zip(plan.zones, plan.sides, strict=True):
        west, south, east, north = sides
        corners = np.array([(lon, lat) for lon in (west, east) for lat in (south, north)])
        near = (corners[:, None, :] + rng.normal(0, 0.02, (4, 300, 2))).reshape(-1, 2)
        some = np.concatenate([near, np.column_stack([rng.uniform(west, east, 1500), rng.uniform(south, north, 1500)])])
        at = some[shapely.contains_xy(zone.outline, some)]
        found = drift_at(at[:, 1], unwrapped_lon_deg(at[:, 0], zone.setting.legal_zone, 2027), zone.setting, basis)
        tried += len(at)
        assert (found.worst_dark_min <= basis.tolerance.dark_min).all() and (found.worst_excess_min <= basis.tolerance.excess_min).all()
    assert tried > 8000


def test_what_is_refused():
    with pytest.raises(ZonesRefusedError, match="only where the sun sets and rises"):
        grid_zones_of(units(shapely.box(10, 64, 12, 66)), basis_of())
    with pytest.raises(ZonesRefusedError, match="every night is judged"):
        grid_zones_of(units(shapely.box(10, 40, 12, 42)), basis_of(shallow_deg=1.0))
    with pytest.raises(ZonesRefusedError, match="too wide for zones on a grid"):
        grid_zones_of(units(shapely.box(0, 0, 60, 50)), basis_of())
    with pytest.raises(ZonesRefusedError, match="no rectangle on lines"):
        grid_zones_of(units(shapely.box(10.2, 40, 11, 40.5)), basis_of(1, 1, keypad=Keypad(5.0, offset_limit_min=0)), time_limit_s=5)


def test_lines_divide_outlines_and_nothing_is_lost():
    """Two crossing lines and one that ends inside; an outline that no line meets, with its island, stays one piece."""
    square, other = shapely.box(10, 40, 12, 42), shapely.MultiPolygon([shapely.box(14, 40, 15, 41), shapely.box(15.2, 40, 15.3, 40.1)])
    cross = [shapely.LineString([(9, 41), (13, 41)]), shapely.LineString([(11, 39), (11, 43)]), shapely.LineString([(10.2, 40.2), (10.5, 40.5)])]
    divided, of = line_pieces(units(square, other), cross)
    assert of.tolist() == [0, 0, 0, 0, 1] and divided["area"].tolist() == ["D0"] * 4 + ["D1"]
    assert shapely.area(divided.geometry.to_numpy()[:4]) == pytest.approx([1.0] * 4) and divided.geometry.iloc[4].equals(other)
    # A closed outline among the lines divides by its edge.
    ring, rows = line_pieces(units(square), [shapely.box(10.5, 40.5, 11, 41)])
    assert sorted(shapely.area(ring.geometry.to_numpy())) == pytest.approx([0.25, 3.75]) and rows.tolist() == [0, 0]
    with pytest.raises(InputError, match="holds no line"):
        line_pieces(units(square), [shapely.Point(11, 41)])


def test_an_outline_too_large_for_one_setting_is_served_once_lines_divide_it():
    """2.9 degrees from west to east at 3 and 6 minutes: one setting serves 2.25."""
    large = units(shapely.box(10, 40, 12.9, 40.3))
    whole = zones_of(large, basis_of(), time_limit_s=10)
    plan = line_zones_of(large, basis_of(), lines=[shapely.LineString([(11.5, 39), (11.5, 41)])], time_limit_s=10)
    assert len(whole.unserved) == 1 and not plan.unserved and plan.count == 2 and plan.proved and plan.by == "lines"
    assert [zone.pieces for zone in plan.zones] == [(0,), (0,)] and plan.certified


def test_too_many_pieces(monkeypatch):
    monkeypatch.setattr(linezones, "MOST_PIECES", 10)
    fine = [shapely.LineString([(10 + 0.1 * one, 39), (10 + 0.1 * one, 41)]) for one in range(1, 20)]
    with pytest.raises(ZonesRefusedError, match="too many pieces"):
        line_pieces(units(shapely.box(10, 40, 12, 40.3)), fine)


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """The border example along two roads."""
    folder = shutil.copytree(examples_folder() / "border", tmp_path_factory.mktemp("lines") / "border")
    text = (folder / "job.toml").read_text(encoding="utf-8")
    zones = '[zones]\nby = "lines"\nalong = "roads.geojson"\ntime_limit_s = 8\n'
    (folder / "job.toml").write_text(text[:text.index("[groups]")] + zones, encoding="utf-8")
    roads = gpd.GeoDataFrame(geometry=[shapely.LineString([(138, -35.3), (143, -35.3)]), shapely.LineString([(140.4, -38), (140.4, -33)])], crs=4326)
    roads.to_file(folder / "roads.geojson")
    job = read_job(folder / "job.toml")
    return job, run(job, folder / "out"), folder / "out"


def test_the_files_and_the_terminal_along_lines(finished):
    _, answers, out = finished
    figures = json.loads((out / "summary.json").read_text(encoding="utf-8"))["zones"]
    table = pd.read_csv(out / "zones.csv", encoding="utf-8-sig")
    assert figures["by"] == "lines" and figures["unserved"] == [] and figures["certified"] and len(table) == figures["count"] >= 6
    assert table["between"].isna().all() and table["areas"].str.contains("% of it").any()
    borders = pd.read_csv(out / "zone_borders.csv", encoding="utf-8-sig")
    # Borders run along a road, along an outline, or along the law's line.
    edges = shapely.union_all([*(shapely.boundary(one) for one in answers.area_pieces.geometry),
                               shapely.LineString([(138, -35.3), (143, -35.3)]), shapely.LineString([(140.4, -38), (140.4, -33)])])
    assert len(borders) and shapely.distance(edges, shapely.points(borders[["lon_deg", "lat_deg"]].to_numpy())).max() < 2e-5
    text = report(answers, out)
    assert f"{figures['count']} zones of pieces between outlines and lines for 6 outlines in 7 pieces of one clock each (" in text
    assert "it would be" not in text
    assert zone_lines(answers.zoning, words_in("en"))[0].startswith(f"{figures['count']} lighting zones of pieces between outlines and lines.")
    assert all(zone_lines(answers.zoning, words_in(language))[0] for language in ("de", "fr", "es"))


def test_a_grid_in_files_and_words(finished):
    job, _, _ = finished
    found = read(job)
    placed = place(found.sites, found.areas, job.basis.year)
    grid = job.model_copy(update={"zones": job.zones.model_copy(update={"by": "grid", "along": None, "compare": False})})
    zoning, columns, notes = planned_zones(grid, placed.sites, placed.pieces, None)
    assert zoning.headline == ("7 zones on a grid of meridians and parallels for 6 outlines in 7 pieces of one clock each "
                               "(at least 5 needed, with sides on the same lines).")
    assert zoning.zones["between"].str.fullmatch(r"[\d.]+ and [\d.]+ S, [\d.]+ and [\d.]+ E").all() and not any("it would be" in note for note in notes)
    # The words are the sides: each site of a zone lies between them.
    for row in zoning.zones.itertuples():
        south, north, west, east = (float(one) for one in row.between.replace(" S", "").replace(" E", "").replace(" and", ",").split(","))
        mine = placed.sites[columns["zone"] == row.zone]
        assert len(mine) == row.sites and mine["lat_deg"].between(-south, -north).all() and mine["lon_deg"].between(west, east).all()
    unused = job.model_copy(update={"zones": job.zones.model_copy(update={"by": "area", "compare": False})})
    assert planned_zones(unused, placed.sites, placed.pieces, None, along=found.along)[2][0].startswith("The lines of roads.geojson are not used: they divide")
    # What the other kinds would take.
    priced = job.model_copy(update={"zones": job.zones.model_copy(update={"by": "area", "compare": True, "time_limit_s": 3.0})})
    said = planned_zones(priced, placed.sites, placed.pieces, None, along=found.along)[2]
    assert said[0].startswith('With by = "lines" it would be ') and said[2].startswith('With by = "free" it would be ')
    assert said[1].startswith('With by = "grid" it would be 7 zones (at least 5, with sides on the same lines): zones on a grid are rectangles')
    # Far from the outlines, lines divide nothing.
    far = gpd.GeoDataFrame(geometry=[shapely.LineString([(0, 0), (1, 1)])], crs=4326)
    lines = job.model_copy(update={"zones": job.zones.model_copy(update={"compare": False})})
    zoning, _, notes = planned_zones(lines, placed.sites, placed.pieces, None, along=far)
    assert notes[0].startswith("No line of the file named as along runs through an outline") and len(zoning.zones) == 5


@pytest.mark.parametrize(("zones", "said"), [
    ('by = "lines"', "zones.along is missing"),
    ('by = "lines"\nalong = "none.gpkg"', "none.gpkg"), ('by = "circles"', "by")])
def test_a_job_that_asks_for_what_is_not(finished, tmp_path, zones, said):
    job, _, _ = finished
    folder = shutil.copytree(job.folder, tmp_path / "job", ignore=shutil.ignore_patterns("out"))
    text = (folder / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(text[:text.index("[zones]")] + f"[zones]\n{zones}\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        run(read_job(folder / "job.toml"), folder / "out")
    assert said in str(error.value) and "zones.zones" not in str(error.value) and not (folder / "out").exists()


def test_a_file_of_points_is_no_file_of_lines(finished, tmp_path):
    job, _, _ = finished
    folder = shutil.copytree(job.folder, tmp_path / "job", ignore=shutil.ignore_patterns("out"))
    gpd.GeoDataFrame(geometry=[shapely.Point(140, -35)], crs=4326).to_file(folder / "roads.geojson")
    with pytest.raises(InputError, match="holds only points"):
        read(read_job(folder / "job.toml"))


def test_a_clock_border_between_rectangles():
    """1.9 degrees that one rectangle would serve are cut by the clock."""
    west, east = shapely.box(10, 40, 11.3, 40.05), shapely.box(11.3, 40, 11.9, 40.05)
    one = grid_zones_of(units(west, east), basis_of(), time_limit_s=10)
    two = grid_zones_of(units(west, east, zone=["Europe/Berlin", "Europe/Athens"]), replace(basis_of(), switch_clock="master"), time_limit_s=10)
    assert one.count == one.lower_bound == 1 and two.count == two.lower_bound == 2
