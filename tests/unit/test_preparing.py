"""Kernels are compiled in processes of their own, so that a first run writes what every later run writes."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from geozone.desk.jobtext import JobText
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.screens import preparing

ROOT = Path(__file__).parents[2]


class Helper:
    def __init__(self, ends=None):
        self.ends, self.killed = ends, False

    def wait(self, timeout=None):
        if self.ends is not None and not self.killed:
            raise self.ends

    def kill(self):
        self.killed = True


@pytest.fixture
def started(monkeypatch, tmp_path):
    calls = []
    monkeypatch.setattr(preparing.compiled, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(preparing, "_started", lambda parts: calls.append(tuple(parts)) or Helper())
    monkeypatch.setattr(preparing, "prepare_here", lambda part: pytest.fail("compiled in the process that computes"))
    monkeypatch.setattr(preparing.os, "cpu_count", lambda: 2)
    return calls


@pytest.mark.parametrize("parts, expected", [
    (("sun",), [("sun",)]), (("sun", "groups"), [("sun",), ("groups",)]),
    (("sun", "groups", "programmes"), [("sun", "programmes"), ("groups",)]), ((), []),
])
def test_nothing_is_compiled_in_the_process_that_computes(started, parts, expected):
    preparing.prepare(parts)
    assert started == expected


@pytest.mark.parametrize("sections", ["[groups]\n", "[zones]\n"])
def test_groups_and_zones_both_need_the_search(tmp_path, sections):
    path = tmp_path / "job.toml"
    path.write_text('[job]\ntitle = "x"\nyear = 2027\nsites = "a.csv"\n[dark]\naltitude_deg = -4\n' + sections, encoding="utf-8")
    assert "groups" in preparing.parts_of(read_job(path))


def test_the_whole_search_is_compiled_beforehand():
    """A kernel that is left out takes its seconds from the search's own, and the first run on a machine finds less than the next."""
    told = subprocess.run([sys.executable, "-c", "from geozone.screens import preparing as p; p._sun(); p._groups(); "
                           "from geozone.grouping import alone as a; from geozone.setcover import bits as b, localsearch as s; "
                           "from geozone.numbers import shallow as n; "
                           "print(*(len(k.signatures) for k in (a._least_factor, b._essential, s._local_search, n._judged)))"],
                          check=True, capture_output=True, text=True, cwd=ROOT).stdout
    assert all(int(n) >= 1 for n in told.split()) and len(told.split()) == 4


def test_one_processor_compiles_one_after_the_other(started, monkeypatch):
    monkeypatch.setattr(preparing.os, "cpu_count", lambda: 1)
    preparing.prepare(("sun", "groups"))
    assert started == [("sun", "groups")]


def test_what_is_compiled_is_not_compiled_again(started, tmp_path):
    preparing._mark(tmp_path, "sun").touch()
    assert preparing.missing(("sun", "groups")) == ("groups",)
    preparing.prepare(("sun", "groups"))
    assert started == [("groups",)]


@pytest.mark.parametrize("ends", [KeyboardInterrupt(), subprocess.TimeoutExpired("x", 1)])
def test_no_helper_outlives_the_run(started, monkeypatch, ends):
    helpers = []
    monkeypatch.setattr(preparing, "_started", lambda parts: helpers.append(Helper(ends)) or helpers[-1])
    if isinstance(ends, KeyboardInterrupt):
        with pytest.raises(KeyboardInterrupt):
            preparing.prepare(("sun", "groups"))
    else:
        preparing.prepare(("sun", "groups"))
    assert len(helpers) == 2 and all(helper.killed for helper in helpers)


def test_a_first_run_writes_the_bytes_of_the_second(tmp_path):
    """With a cache of its own. It differed in the last binary digit, in two files. Without groups and programmes, which take a minute to compile."""
    shutil.copytree(examples_folder() / "template", tmp_path / "job")
    job = tmp_path / "job" / "job.toml"
    job.write_text(JobText(job.read_text(encoding="utf-8")).without_section(("groups",)).text, encoding="utf-8")
    cache = tmp_path / "cache"
    for name in ("first", "second"):
        subprocess.run([sys.executable, "-m", "geozone", "run", str(tmp_path / "job" / "job.toml"), "-q", "-o", str(tmp_path / name)],
                       check=True, capture_output=True, cwd=ROOT, env={**os.environ, "NUMBA_CACHE_DIR": str(cache)})
    assert list(cache.rglob("*.nbc")), "nothing was compiled"
    files = {p.relative_to(tmp_path / "first") for p in (tmp_path / "first").rglob("*") if p.is_file()}
    assert len(files) > 5
    for name in files:
        assert (tmp_path / "first" / name).read_bytes() == (tmp_path / "second" / name).read_bytes(), name
