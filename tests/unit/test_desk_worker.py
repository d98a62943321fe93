"""The worker as the desk uses it: a run writes what the command line writes, cancel leaves the old answer, and nothing outlives the desk."""

import asyncio
import os
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from geozone.desk.jobtext import JobText
from geozone.desk.runs import Runs
from geozone.files.leftovers import turn_taken
from geozone.jobs.examples import examples_folder


@pytest.fixture
def plan(tmp_path):
    """The small example, without the search for groups: what is tested is who runs it, and how it ends."""
    shutil.copytree(examples_folder() / "template", tmp_path / "a plan")
    job = tmp_path / "a plan" / "job.toml"
    job.write_text(JobText(job.read_text(encoding="utf-8")).without_section(("groups",)).text, encoding="utf-8")
    return tmp_path / "a plan"


def files_of(out):
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}


async def done(runs, name):
    while runs.of[name].state == "running":
        await runs.news(5)
    return runs.of[name]


def test_look_run_cancel_and_run_again(geozone, plan):
    """One worker for all of it, as in a desk: it is started once."""
    async def all_of_it():
        runs = Runs()
        job, text = plan / "job.toml", (plan / "job.toml").read_text(encoding="utf-8")
        try:
            seen = await runs.ask({"do": "look", "folder": str(plan), "sites": "sites.csv", "areas": "areas.geojson", "reading": {}, "year": 2027})
            assert seen["done"]["areas"]["count"] == 2 and seen["done"]["list"]["used"] == len(seen["done"]["map"]["points"]) > 5
            wrong = await runs.ask({"do": "look", "folder": str(plan), "sites": "none.csv", "reading": {}, "year": 2027})
            assert wrong["done"]["list"]["error"]["what"] == "there is no such file"

            run = runs.begin("a", job)
            assert runs.begin("a", job) is run and runs.busy("a")
            await done(runs, "a")
            assert run.state == "done", run.error
            assert "reading the site list" in run.said and "writing" in run.said and "Result" in run.report
            first = files_of(plan / "out")

            again = runs.begin("a", job)
            while "computing dusk and dawn over the area" not in again.said:
                await runs.news(5)
            assert turn_taken(plan / "out")  # a second desk, or a command, is told that this one is at work
            began = time.monotonic()
            await runs.cancel("a")
            assert again.state == "cancelled" and time.monotonic() - began < 1.0
            assert files_of(plan / "out") == first and not list(plan.glob(".*"))

            await what_if(runs, job, text)
            run = runs.begin("a", job, hint="these files")
            await done(runs, "a")  # by the process that keeps what was read
            assert run.state == "done" and "reading the site list" not in run.said and "writing" in run.said and files_of(plan / "out") == first

            job.write_text(text.replace("lat_deg = -34.6", "lat_deg = 51.5"), encoding="utf-8")
            run = runs.begin("a", job)
            await done(runs, "a")
            assert run.state == "failed" and run.error["what"] and run.error["next_step"] and files_of(plan / "out") == first
            job.write_text(text, encoding="utf-8")
            return first
        finally:
            folder = runs._folder
            await runs.close()
            assert not folder.exists() and runs._process.returncode is not None

    # In a thread of its own: tests of pages leave a loop running in theirs.
    with ThreadPoolExecutor(1) as apart:
        first = apart.submit(lambda: asyncio.run(all_of_it())).result()
    assert geozone("run", plan / "job.toml", "-o", plan.parent / "by command", "--quiet")[0] == 0
    assert files_of(plan.parent / "by command") == first


async def answered(runs, trial):
    while not trial.done:
        await runs.news(5)
    return trial


async def what_if(runs, job, text):
    """The newest question is answered, older ones are dropped; one whose process dies is told so, and the next is answered again."""
    def ask(minutes, hint="these files"):
        return runs.try_out("a", job, text.replace("dark_min = 5 ", f"dark_min = {minutes} "), hint, {}, (1.0,))

    dropped, asked = ask(3), ask(4)
    await answered(runs, asked)
    assert dropped.cancelling and not dropped.error and asked.heard == 2 and asked.parts["settings"] is None, asked.error
    one = asked.parts["verdicts"]
    assert one["within"] + one["beyond"] + one["other_clock"] > 5
    keeper, = children(runs._process.pid)
    assert (await answered(runs, ask(1))).parts["verdicts"]["within"] < one["within"] and children(runs._process.pid) == [keeper]
    wrong = await answered(runs, runs.try_out("a", job, text.replace("lat_deg = -34.6", "lat_deg = 51.5"), "these files", {}, (1.0,)))
    assert wrong.error["next_step"] and not wrong.parts
    os.kill(keeper, signal.SIGKILL)
    await answered(runs, ask(4, "as changed meanwhile"))
    again, = children(runs._process.pid)
    assert again != keeper
    os.kill(again, signal.SIGSTOP)
    lost = ask(4, "as changed meanwhile")
    while not lost.number:
        await asyncio.sleep(0.02)
    os.kill(again, signal.SIGKILL)
    assert (await answered(runs, lost)).error["what"] == "the part that computes ended before it was done"
    assert (await answered(runs, ask(4))).parts["verdicts"] == one


_DESK = """
import asyncio, sys
from pathlib import Path
from geozone.desk.runs import Runs
async def work():
    runs = Runs()
    run = runs.begin("a", Path(sys.argv[1]))
    while "writing" not in run.said and run.state == "running":
        await runs.news(30)
    print(runs._process.pid, runs._folder, run.state, flush=True)
    await asyncio.sleep(60)
asyncio.run(work())
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks at processes as Linux shows them")
def test_nothing_outlives_a_desk_that_is_killed_in_the_middle_of_writing(plan):
    desk = subprocess.Popen([sys.executable, "-c", _DESK, plan / "job.toml"], stdout=subprocess.PIPE, text=True,
                            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))})
    worker, folder, state = desk.stdout.readline().split()
    assert state == "running"
    mine = [int(worker), *children(int(worker))]
    assert len(mine) > 1
    desk.send_signal(signal.SIGKILL)
    desk.wait()
    desk.stdout.close()
    until = time.monotonic() + 5
    while any(Path(f"/proc/{pid}/cmdline").exists() and Path(f"/proc/{pid}/cmdline").read_bytes() for pid in mine) and time.monotonic() < until:
        time.sleep(0.05)
    assert not [pid for pid in mine if Path(f"/proc/{pid}/cmdline").exists() and Path(f"/proc/{pid}/cmdline").read_bytes()]
    assert not (plan / "out").exists()
    from geozone.desk.plans import Plans

    Plans(plan.parent).put_in_order()  # as the next desk does when it opens
    assert sorted(path.name for path in plan.iterdir()) == ["areas.geojson", "job.toml", "sites.csv"]
    shutil.rmtree(folder)


def children(pid):
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(one) for one in found]
