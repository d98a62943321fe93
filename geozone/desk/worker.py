"""The process that computes for the desk: tasks come in as lines of JSON, what they say goes out as lines, results as files.

    python -m geozone.desk.worker FOLDER

It stays warm: libraries are loaded and compiled code is at hand. On Linux each task is a fork of it, which starts at once and can be
killed without losing the warmth; elsewhere each is a process of its own. It ends, and ends what it started, when the desk is gone.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

#: How long a cancelled task may take to clean up before it is killed [s].
GRACE_S = 0.4
_POLL_S = 0.03
_FORKS = sys.platform.startswith("linux")
_LONGEST_LINE = 3000


class _Out:
    """Lines to the desk: each short enough to be written in one piece, whoever else writes."""

    def __init__(self) -> None:
        self._fd = os.dup(1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # whatever prints, prints to nobody

    def send(self, **message) -> None:
        line = (json.dumps(message)[:_LONGEST_LINE] + "\n").encode()
        try:
            os.write(self._fd, line)
        except OSError:
            _end()


def _end() -> None:
    """Nobody is left to work for: end at once, with all that was started here."""
    if _FORKS and os.getpgid(0) == os.getpid():
        os.killpg(0, signal.SIGKILL)
    os._exit(1)


def main(folder: str) -> None:
    """Take tasks until the desk is gone."""
    out, lines = _Out(), queue.SimpleQueue()
    threading.Thread(target=_listen, args=(0, lines), daemon=True).start()
    _load()
    out.send(ready=True)
    _serve(lines, out, folder, _steps_to_warm())


def _serve(lines: queue.SimpleQueue, out: _Out, folder: str, colder: list[Callable[[], None]], kept=None) -> None:
    """Tasks as they come in; those that say what they could keep go to the process that keeps it, and the others are forked here."""
    running: dict[int, _Child] = {}
    keepers: list[_Keeper] = []
    while True:
        try:
            message = lines.get(timeout=_POLL_S if running else 0.2 if colder or keepers else None)
        except queue.Empty:
            message = {}
        if message is None:
            for child in running.values():
                child.kill()
            for keeper in keepers:
                keeper.kill()
            return
        if "do" in message:
            keeper = _keeper_for(message, keepers, out, folder) if _FORKS and kept is None else None
            if keeper is not None:
                keeper.send(message)
            else:
                running[message["number"]] = _Child({**message, "kept": kept}, out, folder)
        if message.get("cancel") in running:
            running[message["cancel"]].stop()
        for keeper in keepers:
            if "cancel" in message:
                keeper.send(message)
        for number, child in list(running.items()):
            if (code := child.ended()) is not None:
                del running[number]
                out.send(number=number, ended=code)
        keepers = [keeper for keeper in keepers if keeper.alive(out)]
        if "leave" in message or kept is not None and kept.leaving:
            kept.leaving = True
            if not running:
                os._exit(0)
        if colder and not running and not message:
            colder.pop(0)()


def _keeper_for(message: dict, keepers: list[_Keeper], out: _Out, folder: str) -> _Keeper | None:
    """The process that keeps a plan's files as they are now; one is made for a question, not for a run, which reads them itself."""
    hint = message.get("keep")
    if not hint:
        return None
    there = next((one for one in keepers if one.hint == hint), None)
    if there is None and message["do"] != "run":
        for one in keepers:
            one.send({"leave": True})  # when what it does is done
            one.hint = ""
        there = _Keeper(hint, message["job"], out, folder)
        keepers.append(there)
    return there


def _listen(source: int, lines: queue.SimpleQueue) -> None:
    rest = b""
    while data := os.read(source, 65536):
        *whole, rest = (rest + data).split(b"\n")
        for line in whole:
            lines.put(json.loads(line))
    lines.put(None)
    # The main thread may be loading; it must not outlive the desk for that.
    time.sleep(0.5)
    _end()


def _load() -> None:
    """The libraries that every task needs."""
    import geopandas  # noqa: F401
    import pyogrio  # noqa: F401

    from . import tasks  # noqa: F401


def _steps_to_warm() -> list[Callable[[], None]]:
    """What brings compiled code and the rest of the program into memory, in steps between which a task need not wait."""
    if not _FORKS:
        return []  # a process of its own would not have it
    from ..screens.preparing import PARTS

    return [_import_plan, *(partial(_fetch, part) for part in PARTS)]


def _import_plan() -> None:
    from ..jobs import plan  # noqa: F401


def _fetch(part: str) -> None:
    """The compiled code of a part of the arithmetic; what was not compiled yet is not compiled here (see `screens.preparing`)."""
    from ..screens.preparing import missing, prepare_here

    if not missing((part,)):
        prepare_here(part)


class _Child:
    """One task at work."""

    def __init__(self, task: dict, out: _Out, folder: str):
        self._stop_at: float | None = None
        if _FORKS:
            self._process, self._pid = None, os.fork()
            if self._pid == 0:
                _work(task, out, folder)
            return
        self._process = subprocess.Popen([sys.executable, "-P", "-m", "geozone.desk.worker", folder, "--one"], stdin=subprocess.PIPE,
                                         stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))})
        self._process.stdin.write(json.dumps({**task, "kept": None}).encode() + b"\n")
        self._process.stdin.flush()  # and kept open: its end tells the task that this process is gone
        threading.Thread(target=self._pass_on, args=(out,), daemon=True).start()

    def _pass_on(self, out: _Out) -> None:
        for line in self._process.stdout:
            out.send(**json.loads(line))

    def stop(self) -> None:
        """Ask it to end; it cleans up, and is killed if that takes long."""
        if self._stop_at is None:
            self._stop_at = time.monotonic() + GRACE_S
            self._signal(signal.SIGTERM)

    def kill(self) -> None:
        self._signal(getattr(signal, "SIGKILL", signal.SIGTERM))

    def ended(self) -> int | None:
        """The exit code, negative for a signal; None while it works."""
        if self._stop_at is not None and time.monotonic() > self._stop_at:
            self.kill()
        if self._process is not None:
            return self._process.poll()
        pid, status = os.waitpid(self._pid, os.WNOHANG)
        if not pid:
            return None
        self.kill()  # what it started and left, such as a typesetter
        return os.waitstatus_to_exitcode(status)

    def _signal(self, number: int) -> None:
        try:
            if self._process is not None:
                self._process.send_signal(number)
            else:
                os.killpg(self._pid, number)
        except (OSError, ProcessLookupError):
            pass


class _Keeper:
    """A process that has read and placed a plan's files, and forks the tasks that can do with that; a newer one takes its place.

    Attributes
    ----------
    hint : str
        What the desk calls these files in this state; whether they really are as they were is asked again by their sums.
    """

    def __init__(self, hint: str, job: str, out: _Out, folder: str):
        self.hint, self._numbers = hint, set()
        source, self._pipe = os.pipe()
        self._pid = os.fork()
        if self._pid == 0:
            os.close(self._pipe)
            _kept_here(job, source, out, folder)
        os.close(source)

    def send(self, message: dict) -> None:
        if "number" in message:
            self._numbers.add(message["number"])
        try:
            os.write(self._pipe, json.dumps(message).encode() + b"\n")
        except OSError:
            pass  # `alive` says so

    def kill(self) -> None:
        try:
            os.kill(self._pid, signal.SIGKILL)  # those that it forked see that it is gone
        except ProcessLookupError:
            pass

    def alive(self, out: _Out) -> bool:
        """Whether it is; where it is not, tasks that it did not end are told to have ended."""
        pid, status = os.waitpid(self._pid, os.WNOHANG)
        if not pid:
            return True
        os.close(self._pipe)
        for number in self._numbers if status else ():
            out.send(number=number, ended=1)
        return False


@dataclass
class _KeptHere:
    """What this process keeps: an answer of `jobs.kept.keep`, or None where the files cannot be read, and whether it is to leave."""

    what: Any
    leaving: bool = False


def _kept_here(job: str, source: int, out: _Out, folder: str) -> None:
    """The forked keeper; never returns."""
    try:
        _apart()
        lines: queue.SimpleQueue = queue.SimpleQueue()
        threading.Thread(target=_listen, args=(source, lines), daemon=True).start()
        from .tasks import kept_of

        _serve(lines, out, folder, [], _KeptHere(kept_of(job)))
    finally:
        os._exit(1)


def _apart() -> None:
    """A forked process made one of its own: it ends when the one that forked it does."""
    os.setpgid(0, 0)
    parent = os.getppid()
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    signal.signal(signal.SIGTERM, _stopped)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_watch, args=(parent,), daemon=True).start()


def _work(task: dict, out: _Out, folder: str) -> None:
    """The forked task; never returns."""
    code = 1
    try:
        _apart()
        code = _perform(task, out, folder)
    except SystemExit:
        code = 143
    finally:
        os._exit(code)


def _stopped(number, frame) -> None:
    raise SystemExit(143)


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.1)
    _end()


def _perform(task: dict, out: _Out, folder: str) -> int:
    from .tasks import perform, written

    number, kept = task["number"], task.get("kept")

    def say(text: str | dict) -> None:
        if isinstance(text, dict):
            out.send(number=number, part=text)
        elif text:
            out.send(number=number, say=text[:500])

    written(Path(folder), number, perform({**task, "kept": None if kept is None else kept.what}, say))
    return 0


def _one(folder: str) -> None:
    """A task in a process of its own, where the system knows no fork."""
    out, lines = _Out(), queue.SimpleQueue()
    threading.Thread(target=_listen_for_end, args=(lines,), daemon=True).start()
    signal.signal(signal.SIGTERM, _stopped)
    os._exit(_perform(lines.get(), out, folder))


def _listen_for_end(lines: queue.SimpleQueue) -> None:
    rest = b""
    while data := os.read(0, 65536):
        rest += data
        if b"\n" in rest:
            lines.put(json.loads(rest.split(b"\n")[0]))
            rest = b""
    _end()


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C ends the desk, and its end ends this
    _one(sys.argv[1]) if "--one" in sys.argv[2:] else main(sys.argv[1])
