"""Three hundred spoilt files and jobs end in an answer; and the counter counts what it is there for.

Ten thousand by one command: see `fuzz.py`.
"""

import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the counter of memory asks a system of another kind")


def test_three_hundred_cases_end_in_an_answer():
    # Three times the limit of the command: here other tests run beside it, on the threads of the same cores, also in the second try.
    done = subprocess.run([sys.executable, HERE / "fuzz.py", "--cases", "300", "--workers", "2", "--hang-s", "60"], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-3000:]
    result = json.loads(done.stdout)
    assert result["cases"] == 300
    # a fuzzer whose files are all refused at the door tests the door only
    read = result["read_of"]
    assert result["counts"]["read"] > 75 and read.get("run toml", 0) >= 3 and read.get("job toml", 0) >= 10
    assert all(sum(count for what, count in read.items() if what.split()[0] == family) >= 2 for family in ("found", "tz"))
    assert sum(count for what, count in read.items() if what.split()[1] in ("gpkg", "shp", "zip", "fgb")) >= 5


CASES = {"traceback": "raise ValueError('x')", "abort": "os.abort()", "hang": "time.sleep(60)", "busy": "while True: pass",
         "memory": "held.append(bytearray(200_000_000))", "lost rows": "return {'seed': seed, 'end': 'lost rows: 2 written, 1 used'}"}


@pytest.mark.parametrize("case", CASES)
def test_what_must_never_happen_is_counted(case, tmp_path, monkeypatch):
    """Each defect planted in the second of three cases."""
    (tmp_path / "planted.py").write_text(
        "import os, time\nheld = []\n\n\ndef trial(seed):\n    if seed == 1:\n        "
        + ("return {'seed': seed, 'end': 'traceback', 'text': 'x'}" if case == "traceback" else CASES[case])
        + "\n    return {'seed': seed, 'end': 'read'}\n")
    monkeypatch.syspath_prepend(HERE)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    import fuzz

    result = fuzz.fuzz(3, trial="planted:trial", hang_s=0.3, memory_mb=150)
    expected = {"busy": "hang"}.get(case, case)
    assert result["counts"][expected] == 1 and result["counts"]["read"] == 2 and result["cases"] == 3
    assert [f["seed"] for f in result["found"]] == [1]


def test_a_traceback_in_a_reader_is_seen(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(HERE)
    import trial

    from geozone.places import tables

    def broken(*_):
        raise KeyError("planted")

    monkeypatch.setattr(tables, "_from_rows", broken)
    ends = [trial.trial(seed, tmp_path) for seed in range(40)]
    found = [e for e in ends if e["end"] == "traceback"]
    assert found and all("KeyError" in e["text"] for e in found)


def test_a_lost_row_is_seen(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(HERE)
    import trial

    from geozone.places import tables

    whole = tables._from_rows
    monkeypatch.setattr(tables, "_from_rows", lambda rows, *more: whole(rows[:-1] if len(rows) > 3 else rows, *more))
    assert any(trial.trial(seed, tmp_path)["end"].startswith("lost rows") for seed in range(80))


def test_the_same_seed_makes_the_same_case(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(HERE)
    from random import Random

    import jobs
    import lists

    for number in range(3):
        made = [lists.write(Random(5), tmp_path, jobs.sites(Random(number))[0], "csv")[0].read_bytes() for _ in range(2)]
        assert made[0] == made[1]
