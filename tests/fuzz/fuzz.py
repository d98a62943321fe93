"""Thousands of spoilt files and jobs, each read in a process that may die: counts what must never happen.

What takes too long beside other workers is tried once more alone; only what takes too long then is a hang.

    python tests/fuzz/fuzz.py --cases 10000            all of it, about an hour
    python tests/fuzz/fuzz.py --case 4711 --keep DIR   one case again, its files kept in DIR

Everything follows from the seed. The exit code is 1 if anything was found.
"""

from __future__ import annotations

import argparse
import collections
import json
import os
import queue
import subprocess
import sys
import threading
import time
from pathlib import Path

# What `ru_maxrss` counts in: bytes on macOS, kilobytes elsewhere.
_PER_MB = 1e6 if sys.platform == "darwin" else 1e3
COUNTED = ("traceback", "abort", "hang", "memory", "lost rows")
HANG_S, MEMORY_MB = 20.0, 2000.0
# `_loop_s` of a core that is shared with nobody, on the machine on which HANG_S was set.
_LOOP_S = 0.24


class Worker:
    """A process that works through seeds, and is watched."""

    def __init__(self, trial: str):
        self.process = subprocess.Popen([sys.executable, __file__, "--work", trial], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        stderr=subprocess.DEVNULL, text=True, cwd=Path(__file__).parent)
        self.lines: queue.Queue = queue.Queue()
        self.listening = threading.Thread(target=self._listen, daemon=True)
        self.listening.start()
        self.lines.get()  # it says when it has loaded what it needs: loading is not the case's time

    def _listen(self):
        for line in self.process.stdout:
            self.lines.put(line)
        self.lines.put(None)

    def answer(self, seed: int, hang_s: float, memory_mb: float) -> dict:
        """What came of one case; the worker is of no use after an abort or a hang."""
        try:
            self.process.stdin.write(f"{seed}\n")
            self.process.stdin.flush()
            line = self._line(hang_s)
        except queue.Empty:
            self.stop()
            return {"seed": seed, "end": "hang", "text": f"no answer in {hang_s:g} s"}
        except OSError:
            line = None
        if line is None:
            self.stop()
            return {"seed": seed, "end": "abort", "text": f"the process ended, code {self.process.returncode}"}
        found = json.loads(line)
        if found["memory_mb"] > memory_mb:
            found |= {"end": "memory", "text": f"{found['memory_mb']:.0f} MB"}
            self.stop()
        return found

    def _line(self, hang_s: float):
        """The next line; `queue.Empty` after so many seconds of work, or ten times as many on a machine that others use too."""
        before, started = self._worked_s(), time.monotonic()
        while True:
            try:
                return self.lines.get(timeout=min(hang_s, 1.0))
            except queue.Empty:
                waited, worked = time.monotonic() - started, self._worked_s()
                if waited > 10 * hang_s or waited > hang_s and (worked is None or worked - before > hang_s):
                    raise

    def _worked_s(self) -> float | None:
        """Processor time of the worker and of what it started and saw end [s]; None where the system does not tell."""
        try:
            fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
            return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")
        except (OSError, ValueError):
            return None

    def stop(self):
        self.process.kill()
        self.process.wait()
        self.listening.join()
        self.process.stdout.close()
        try:
            self.process.stdin.close()
        except OSError:  # a line that the process did not live to read
            pass


def work(name: str) -> None:
    """The loop of a worker: a seed a line in, an answer a line out."""
    import resource

    out = os.fdopen(os.dup(1), "w")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # nothing that a case prints may look like an answer
    module, _, function = name.partition(":")
    trial = getattr(__import__(module), function)
    if module == "trial":
        import geozone.jobs.plan  # noqa: F401
        from geozone.screens.preparing import PARTS, prepare
        prepare(PARTS)
    print("ready", file=out, flush=True)
    for line in sys.stdin:
        found = trial(int(line))
        # of this process and of those that it started, each at its largest
        found["memory_mb"] = max(_largest_mb(), resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / _PER_MB)
        print(json.dumps(found), file=out, flush=True)


def _largest_mb() -> float:
    """This process at its largest. Linux counts what a process was before it became this one in `ru_maxrss`: its parent's size."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
        return int(status.split("VmHWM:")[1].split()[0]) / 1e3
    except (OSError, IndexError, ValueError):
        import resource

        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _PER_MB


def fuzz(cases: int, first: int = 0, workers: int = 1, trial: str = "trial:in_a_folder", hang_s: float = HANG_S,
         memory_mb: float = MEMORY_MB, tell=lambda found: None) -> dict:
    """Counts over `cases` seeds from `first`, and what was found."""
    todo, done, lock = iter(range(first, first + cases)), [], threading.Lock()

    def loop():
        worker = Worker(trial)
        while True:
            with lock:
                seed = next(todo, None)
            if seed is None:
                worker.stop()
                return
            found = worker.answer(seed, hang_s, memory_mb)
            if worker.process.poll() is not None:
                worker = Worker(trial)
            with lock:
                done.append(found)
                if len(done) % 500 == 0:
                    print(f"{len(done):,} done", file=sys.stderr, flush=True)

    threads = [threading.Thread(target=loop) for _ in range(workers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if workers > 1:
        done = [_alone(found, trial, hang_s, memory_mb) if found["end"] == "hang" else found for found in done]
    for found in done:
        tell(found)
    ends = [next((name for name in COUNTED if f["end"].startswith(name)), f["end"]) for f in done]
    counts = {**dict.fromkeys(("read", "refused", *COUNTED), 0), **collections.Counter(ends)}
    bad = sorted((f for f, end in zip(done, ends) if end in COUNTED), key=lambda f: f["seed"])
    return {"cases": len(done), "counts": counts, "what": dict(sorted(collections.Counter(f.get("what", "?") for f in done).items())),
            "read_of": dict(sorted(collections.Counter(f.get("what", "?") for f in done if f["end"] == "read").items())), "found": bad}


def _alone(found: dict, trial: str, hang_s: float, memory_mb: float) -> dict:
    """A case once more with nothing beside it: two processes on one processor's threads each take up to twice the processor time."""
    worker = Worker(trial)
    # Shared machines drift by half. A second is one of a core at the speed at which the limit was set.
    slower = max(1.0, sum(_loop_s() for _ in range(5)) / 5 / _LOOP_S)
    again = worker.answer(found["seed"], hang_s * slower, memory_mb)
    worker.stop()
    return again | {"limit_s": round(hang_s * slower, 1)}


def _loop_s() -> float:
    """Processor time of a loop of fixed length [s]."""
    begin, total = time.process_time(), 0
    for i in range(3_000_000):
        total += i * i % 7
    return time.process_time() - begin


def main() -> int:
    parser = argparse.ArgumentParser(description="Thousands of spoilt files and jobs; counts what must never happen.")
    parser.add_argument("--cases", type=int, default=300)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--hang-s", type=float, default=HANG_S, help="processor time after which a case counts as a hang")
    parser.add_argument("--case", type=int, help="one case again, in this process")
    parser.add_argument("--keep", type=Path, help="with --case: the folder for its files")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.work:
        work(given.work)
        return 0
    if given.case is not None:
        from trial import in_a_folder, trial
        if given.keep:
            given.keep.mkdir(parents=True, exist_ok=True)
        found = trial(given.case, given.keep) if given.keep else in_a_folder(given.case)
        print(found.pop("trace", ""))
        print(json.dumps(found, indent=1))
        return int(found["end"] not in ("read", "refused"))
    started = time.time()

    def tell(found):
        if found["end"] not in ("read", "refused"):
            print(f"{found['seed']}: {found['end']}: {found.get('what', '')} {found.get('text', '')}", file=sys.stderr, flush=True)

    result = fuzz(given.cases, given.first, given.workers, hang_s=given.hang_s, tell=tell)
    result["seconds"] = round(time.time() - started)
    for found in result["found"]:
        found.pop("trace", None)
    print(json.dumps(result, indent=1))
    return int(any(result["counts"][name] for name in COUNTED))


if __name__ == "__main__":
    sys.exit(main())
