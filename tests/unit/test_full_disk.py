"""A disk that runs full while a real run is written: a small disk in memory, mounted by the superuser."""

import os
import subprocess
import sys

import pytest

from geozone.errors import OutputError
from geozone.files.folder import whole_folder
from geozone.files.outputs import write_outputs
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.screens.webmap import draw_map


@pytest.fixture(scope="module")
def finished():
    answers = compute(read_job(examples_folder() / "template" / "job.toml"))
    return answers, draw_map(answers)


@pytest.fixture
def small_disk(tmp_path):
    """A function that gives a folder on a disk of so many bytes."""
    mounted = []

    def disk(size):
        if sys.platform != "linux" or os.geteuid() != 0:
            pytest.skip("mounting a disk is for the superuser of a Linux machine")
        folder = tmp_path / f"disk{len(mounted)}"
        folder.mkdir()
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size // 4096 * 4096}", "none", folder], capture_output=True, text=True)
        if done.returncode:
            pytest.skip(f"this machine lets nobody mount a disk: {done.stderr.strip()}")
        mounted.append(folder)
        return folder

    yield disk
    for folder in mounted:
        # Lazily: the failure that pytest keeps holds the half-written workbook open.
        subprocess.run(["umount", "--lazy", folder], check=True)


# Map, GeoPackage and workbook are written in this order, by the standard library, GDAL and SQLite, and a zip writer.
@pytest.mark.parametrize("which, share", [("map.html", .5), ("geozone.gpkg", .1), ("geozone.gpkg", .6), ("geozone.gpkg", .95),
                                          ("sites.xlsx", .5), ("spread.csv", .5)])
def test_a_full_disk_leaves_the_old_result_and_no_litter(finished, small_disk, tmp_path, which, share):
    answers, page = finished
    write_outputs(answers, tmp_path / "whole", page)
    order = ["map.html", "geozone.gpkg", "sites.csv", "sites.xlsx", "groups.csv", "curve.csv", "rejects.csv", "spread.csv"]
    pages = {name: -(-(tmp_path / "whole" / name).stat().st_size // 4096) * 4096 for name in order if (tmp_path / "whole" / name).exists()}
    before = sum(size for name, size in pages.items() if order.index(name) < order.index(which))
    disk = small_disk(before + int(share * pages[which]) + 5 * 4096)
    with whole_folder(disk / "out") as part:
        (part / "map.html").write_text("old")
    with pytest.raises(OutputError) as stopped:
        write_outputs(answers, disk / "out", page)
    assert "cannot be written" in str(stopped.value) and "free space" in str(stopped.value)
    assert sorted(p.name for p in disk.iterdir()) == ["out"]
    assert sorted(p.name for p in (disk / "out").iterdir()) == ["map.html", "summary.json"]
    assert (disk / "out" / "map.html").read_text() == "old"


def test_a_full_disk_is_one_message_on_the_command_line(geozone, small_disk):
    disk = small_disk(200_000)
    code, out, err = geozone("run", examples_folder() / "template" / "job.toml", "-o", disk / "out", "--quiet")
    assert (code, out) == (2, "") and "the output folder cannot be written" in err and list(disk.iterdir()) == []
