"""A run that is killed at any moment leaves the old output folder or the new one, whole.

GEOZONE_KILLS=30 in the environment kills 30 times instead of a few (see DEVELOPERS.md).
"""

import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from geozone.jobs.examples import examples_folder

KILLS = int(os.environ.get("GEOZONE_KILLS", "0"))
ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals")

WRITER = textwrap.dedent("""
    import os, signal, sys, time
    from dataclasses import replace
    from pathlib import Path
    from random import Random
    sys.path.insert(0, sys.argv[1])
    from geozone.jobs.job import read_job
    from geozone.jobs.plan import compute
    from geozone.files.outputs import write_outputs
    from geozone.screens.webmap import draw_map

    answers = compute(read_job(sys.argv[2]))
    both = {name: replace(answers, title=name) for name in "AB"}
    pages = {name: draw_map(one) for name, one in both.items()}
    print("ready", flush=True)

    def write(name, folder):
        child = os.fork()
        if child == 0:
            status = 1
            try:
                write_outputs(both[name], Path(folder), pages[name])
                status = 0
            finally:
                os._exit(status)
        return child

    for line in sys.stdin:
        name, folder, after_s = line.split()
        child = write(name, folder)
        if float(after_s) >= 0:
            time.sleep(float(after_s))
            os.kill(child, signal.SIGKILL)
        status = os.waitpid(child, 0)[1]
        print("killed" if os.WIFSIGNALED(status) else os.WEXITSTATUS(status), flush=True)
""")


def tree(folder):
    """One sum over the names and bytes of everything in a folder."""
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    return hashlib.sha256(b"\0".join(str(p.relative_to(folder)).encode() + b"\0" + p.read_bytes() for p in files)).hexdigest()


def test_kills_while_writing(tmp_path):
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(ROOT), str(examples_folder() / "template" / "job.toml")],
                              stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def write(name, folder, after_s=-1.0):
        writer.stdin.write(f"{name} {folder} {after_s}\n")
        writer.stdin.flush()
        return writer.stdout.readline().strip()

    with writer:
        assert writer.stdout.readline() == "ready\n"
        started = time.perf_counter()
        assert [write(name, tmp_path / name) for name in "AB"] == ["0", "0"]
        takes_s = (time.perf_counter() - started) / 2
        whole = {tree(tmp_path / name): name for name in "AB"}
        assert len(whole) == 2
        target = tmp_path / "here" / "out"
        assert write("A", target) == "0" and whole[tree(target)] == "A"
        there, caught, ends = "A", 0, []
        chance = random.Random(30)
        for _ in range(KILLS or 10):
            new = "B" if there == "A" else "A"
            end = write(new, target, chance.uniform(0.0, 1.2 * takes_s))
            assert end in ("killed", "0")
            caught += any(p.name.endswith(".part") for p in target.parent.iterdir())
            assert tree(target) in whole, "a folder that is neither the old nor the new one"
            there = whole[tree(target)]
            ends.append((end, there == new))
        # The moments were spread over the writing: folders were caught half-written, and not every run was.
        assert caught >= len(ends) // 5 and ("killed", False) in ends
        assert write("A", target) == "0" and whole[tree(target)] == "A"
        assert [p.name for p in target.parent.iterdir()] == ["out"]
        writer.stdin.close()


def test_kills_of_whole_runs(tmp_path):
    """Reading and computing leave nothing either."""
    shutil.copytree(examples_folder() / "template", tmp_path / "job")
    command = [sys.executable, "-m", "geozone.cli", "run", str(tmp_path / "job" / "job.toml"), "--quiet"]
    started = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    takes_s = time.perf_counter() - started
    old = tree(tmp_path / "job" / "out")
    chance = random.Random(3)
    for _ in range(KILLS or 1):
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT)
        time.sleep(chance.uniform(0.3, 1.05) * takes_s)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert tree(tmp_path / "job" / "out") == old  # the same job: old and new are the same bytes
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    assert sorted(p.name for p in (tmp_path / "job").iterdir()) == ["areas.geojson", "job.toml", "out", "sites.csv"]
