"""The desk's side of the worker: tasks handed out, what they say, and the state of every plan's run."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from ..files.leftovers import sweep

RUNNING, DONE, FAILED, CANCELLED = "running", "done", "failed", "cancelled"


@dataclass
class Run:
    """One run of a plan, as long as the desk is open.

    Attributes
    ----------
    number : int
    state : {"running", "done", "failed", "cancelled"}
    said : list of str
        What it was doing, the latest last.
    error : dict or None
        As `tasks.fault`.
    report : str
        What `geozone run` prints.
    seconds : float
        How long it took, or has taken so far.
    before : dict
        Summary of the answers that it replaces; empty where there were none.
    """

    number: int
    state: str = RUNNING
    said: list[str] = field(default_factory=list)
    error: dict | None = None
    report: str = ""
    began: float = field(default_factory=time.monotonic)
    took: float | None = None
    before: dict = field(default_factory=dict)
    cancelling: bool = False

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.began if self.took is None else self.took


@dataclass
class Trial:
    """A question "what if", and what is known of its answer.

    Attributes
    ----------
    number : int
        Of the task; 0 until it is handed out.
    posted : dict
        The fields of the question; none for what a run will find first.
    of : str
        Sum of the job file that it was asked about: where that was changed since, the answer is an old one.
    parts : dict
        As `jobs.trial.trial` tells them.
    error : dict or None
        As `tasks.fault`.
    done : bool
    """

    number: int = 0
    posted: dict = field(default_factory=dict)
    of: str = ""
    parts: dict = field(default_factory=dict)
    error: dict | None = None
    done: bool = False
    cancelling: bool = False
    heard: int = 0


class Runs:
    """The worker and what it is asked; all calls come from one event loop."""

    def __init__(self) -> None:
        self.of: dict[str, Run] = {}
        self.trials: dict[str, Trial] = {}
        self._ready = ""
        self._folder = Path(tempfile.mkdtemp(prefix="geozone-desk-"))
        self._process: asyncio.subprocess.Process | None = None
        self._reader: asyncio.Task | None = None
        self._number = 0
        self._waiting: dict[int, asyncio.Future] = {}
        self._say: dict[int, Run | Trial] = {}
        self._news = asyncio.Event()
        self._tasks: set[asyncio.Task] = set()

    async def start(self) -> None:
        """Start the worker, unless it is at work."""
        if self._process is not None and self._process.returncode is None:
            return
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, "-P", "-m", "geozone.desk.worker", str(self._folder), stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))})
        self._reader = asyncio.create_task(self._listen(self._process))

    async def close(self) -> None:
        """End the worker with all that it does, and take its results away."""
        if self._process is not None and self._process.returncode is None:
            self._process.stdin.close()
            try:
                await asyncio.wait_for(self._process.wait(), 3.0)
            except TimeoutError:
                self._process.kill()
                await self._process.wait()
        shutil.rmtree(self._folder, ignore_errors=True)

    async def ask(self, task: dict) -> dict:
        """One task: its result as `tasks.perform` gives it, or {"ended": code} where it was stopped or died."""
        return await self._asked(task, None)

    def begin(self, plan: str, job: Path, before: dict | None = None, hint: str = "", do: str = "run") -> Run:
        """Start a plan's run, or another long task of it under a name of its own, unless one is at work.

        Parameters
        ----------
        plan : str
        job : Path
        before : dict, optional
            Summary of the answers that it replaces.
        hint : str
            What the files of the plan are called in the state in which they are: what was read of them then is not read again.
        do : str
            Name of the task.
        """
        if plan in self.of and self.of[plan].state == RUNNING:
            return self.of[plan]
        run = self.of[plan] = Run(0, before=before or {})
        self._go_on(self._run(run, job, hint, do))
        return run

    def try_out(self, plan: str, job: Path, text: str, hint: str, posted: dict, limits_s: tuple[float, ...]) -> Trial:
        """Ask what a plan would answer if its job were another. An older question about the plan is dropped."""
        old = self.trials.get(plan)
        trial = self.trials[plan] = Trial(posted=posted)
        task = {"do": "try", "job": str(job), "text": text, "limits_s": limits_s, "keep": hint}
        self._go_on(self._try(trial, task, old))
        return trial

    def forget_trial(self, plan: str) -> None:
        """Drop what was tried last."""
        old = self.trials.pop(plan, None)
        if old is not None and not old.done:
            self._go_on(self._drop(old))

    def _go_on(self, work) -> None:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def cancel(self, plan: str) -> None:
        """Stop a plan's run; the answers of the one before stay."""
        run = self.of.get(plan)
        if run is None or run.state != RUNNING:
            return
        run.cancelling = True
        if run.number:
            await self._send({"cancel": run.number})
        for _ in range(40):
            if run.state != RUNNING:
                return
            await asyncio.sleep(0.025)

    async def news(self, seconds: float) -> None:
        """Wait until any run says something, or some seconds."""
        try:
            await asyncio.wait_for(self._news.wait(), seconds)
        except TimeoutError:
            pass

    def renamed(self, old: str, new: str) -> None:
        for name in [name for name in self.of if _of(name, old)]:
            self.of[new + name[len(old):]] = self.of.pop(name)
        if old in self.trials:
            self.trials[new] = self.trials.pop(old)

    def forget(self, plan: str) -> None:
        """Drop what is known of a plan that is gone."""
        for name in [name for name in self.of if _of(name, plan)]:
            del self.of[name]
        self.forget_trial(plan)

    def busy(self, plan: str) -> bool:
        return plan in self.of and self.of[plan].state == RUNNING

    def at_work(self, plan: str) -> bool:
        """Whether a run of a plan, or another task of it, is at work in its folder."""
        return any(_of(name, plan) and run.state == RUNNING for name, run in self.of.items())

    def _tell(self) -> None:
        self._news.set()
        self._news = asyncio.Event()

    async def _try(self, trial: Trial, task: dict, old: Trial | None) -> None:
        if old is not None:
            await self._drop(old)
        result = await self._asked(task, trial)
        trial.done, self._ready = True, task["keep"] if "done" in result else self._ready
        trial.parts.update(result.get("done") or {})
        if "done" not in result and not trial.cancelling:
            trial.error = error_of(result)
        self._tell()

    async def _drop(self, trial: Trial) -> None:
        trial.cancelling = True
        if trial.number and not trial.done:
            await self._send({"cancel": trial.number})

    async def _run(self, run: Run, job: Path, hint: str, do: str) -> None:
        result = await self._asked({"do": do, "job": str(job), **({"keep": hint} if hint and hint == self._ready else {})}, run)
        run.took = run.seconds
        if "done" in result:
            run.state, run.report = DONE, result["done"]["report"]
        elif run.cancelling:
            run.state = CANCELLED
            await asyncio.to_thread(sweep, job.parent)
        else:
            run.state, run.error = FAILED, error_of(result)
            await asyncio.to_thread(sweep, job.parent)
        self._tell()

    async def _asked(self, task: dict, run: Run | Trial | None) -> dict:
        self._number += 1
        number = self._number
        future = self._waiting[number] = asyncio.get_running_loop().create_future()
        if run is not None:
            run.number, self._say[number] = number, run
        try:
            await self.start()
            if run is not None and run.cancelling:
                return {"ended": 143}
            await self._send({**task, "number": number})
            return await future
        except OSError as why:
            return {"error": {"what": "the part that computes cannot be started", "value": why.strerror, "text": str(why)}}
        finally:
            self._waiting.pop(number, None)
            self._say.pop(number, None)

    async def _send(self, message: dict) -> None:
        try:
            self._process.stdin.write(json.dumps(message).encode() + b"\n")
            await self._process.stdin.drain()
        except (ConnectionError, RuntimeError):
            pass  # its end is heard by the reader, which answers all who wait

    async def _listen(self, process) -> None:
        while line := await process.stdout.readline():
            try:
                message = json.loads(line)
            except ValueError:
                continue
            number = message.get("number")
            told = self._say.get(number)
            if "say" in message and isinstance(told, Run):
                told.said.append(message["say"])
                self._tell()
            if "part" in message and isinstance(told, Trial):
                told.parts.update(message["part"])
                told.heard += 1
                self._tell()
            if "ended" in message and number in self._waiting and not self._waiting[number].done():
                self._waiting[number].set_result(self._result(number, message["ended"]))
        await process.wait()
        for future in self._waiting.values():
            if not future.done():
                future.set_result({"ended": process.returncode})

    def _result(self, number: int, code: int) -> dict:
        path = self._folder / f"{number}.json"
        try:
            return json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {"ended": code}
        finally:
            path.unlink(missing_ok=True)


def _of(name: str, plan: str) -> bool:
    """Whether a task is of a plan: it has its name, or that and more behind a stroke."""
    return name.partition("/")[0] == plan


def error_of(result: dict) -> dict:
    """What is told of a task that gave nothing."""
    if "error" in result:
        return result["error"]
    if "defect" in result:
        return {"what": "geozone broke off: this is a defect of the program and not of your files", "value": result["defect"]["what"],
                "next_step": "tell those who gave you geozone, with the lines below", "trace": result["defect"]["trace"]}
    return {"what": "the part that computes ended before it was done", "value": f"code {result.get('ended')}",
            "rule": "nothing was left half-written; an earlier result is as it was",
            "next_step": "run it again; if it ends again, the plan may need more memory than there is"}
