"""Some files of a result replaced: a process killed at any moment leaves all the old ones or all the new ones."""

import hashlib
import json
import random
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from geozone.files.folder import whole_folder
from geozone.files.renewal import renewed
from geozone.files.sums import changed_files

ROOT = Path(__file__).parents[2]
WRITER = textwrap.dedent("""
    import os, signal, sys, time
    sys.path.insert(0, sys.argv[1])
    from geozone.files.renewal import renewed

    for line in sys.stdin:
        letter, after_s = line.split()
        child = os.fork()
        if child == 0:
            try:
                with renewed(sys.argv[2], lambda name: name.startswith("sheet")) as part:
                    for i in range(5):
                        (part / f"sheet-{i}").write_bytes(letter.encode() * 300_000)
            finally:
                os._exit(0)
        time.sleep(float(after_s))
        os.kill(child, signal.SIGKILL)
        print("killed" if os.WIFSIGNALED(os.waitpid(child, 0)[1]) else "done", flush=True)
""")


def state(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def write(folder, letter):
    with renewed(folder, lambda name: name.startswith("sheet")) as part:
        for i in range(5):
            (part / f"sheet-{i}").write_bytes(letter * 300_000)


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_killed_at_any_moment(tmp_path):
    out, answers = tmp_path / "out", []
    with whole_folder(out) as part:
        for i in range(20):
            (part / f"table-{i}.csv").write_bytes(b"x" * 50_000)
    started = time.perf_counter()
    write(out, b"A")
    took_s, one = time.perf_counter() - started, state(out)
    write(out, b"B")
    other, r = state(out), random.Random(2)
    assert one != other and len(one) == 26
    with subprocess.Popen([sys.executable, "-c", WRITER, ROOT, out], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as writer:
        for _ in range(60):
            writer.stdin.write(f"{'B' if state(out) == one else 'A'} {r.uniform(0, 1.5 * took_s)}\n")
            writer.stdin.flush()
            answers.append(writer.stdout.readline().strip())
            assert state(out) in (one, other)
            assert changed_files(out, json.loads((out / "summary.json").read_text())) == []
        writer.stdin.close()
    assert "killed" in answers
    write(out, b"A")  # takes away what the killed ones left
    assert state(out) == one and [path.name for path in tmp_path.iterdir()] == ["out"]


def test_files_that_are_not_written_again_are_gone_and_others_keep_their_names_and_links(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as part:
        for name in ("sheet-1", "sheet-2", "table.csv"):
            (part / name).write_text(name)
        (part / "empty").mkdir()
    (out / "mine").symlink_to("table.csv")
    with renewed(out, lambda name: name.startswith("sheet")) as part:
        (part / "sheet-1").write_text("new")
    assert sorted(path.name for path in out.iterdir()) == ["empty", "mine", "sheet-1", "summary.json", "table.csv"]
    assert (out / "mine").is_symlink() and (out / "sheet-1").read_text() == "new"
    assert json.loads((out / "summary.json").read_text())["files"] == ["empty/", "sheet-1", "summary.json", "table.csv"]
