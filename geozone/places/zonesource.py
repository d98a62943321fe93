"""The source of a tz database, compiled by the program that the database itself brings (zic); names are looked at first.

zic writes a file for each name in the text, so a name that leads out of its folder would be written there, and a link's target
read there. It runs in a folder of its own with limits on time and memory.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping
from pathlib import Path

from ..errors import InputError
from .compiledzones import ZONE_NAME

#: The files of a release that hold rules in force (tz database, Makefile: PRIMARY_YDATA and backward), and all of it in one.
SOURCES = ("africa", "antarctica", "asia", "australasia", "etcetera", "europe", "northamerica", "southamerica", "backward")
WHOLE_SOURCE = "tzdata.zi"
#: The largest has 190 kB; all together 900 kB.
MOST_SOURCE_BYTES = 3_000_000
_MOST_LINES = 100_000
_LONGEST_LINE = 2_000
#: A release takes about half a second.
_MOST_S = 60
_MOST_MEMORY_BYTES = 1_000_000_000
_MOST_WRITTEN_BYTES = 10_000_000


def compile_source(texts: Mapping[str, bytes], where: str, into: Path) -> None:
    """Compile the texts of a release into a folder.

    Parameters
    ----------
    texts : mapping of str to bytes
        By name: of `SOURCES`, or `WHOLE_SOURCE` alone.
    where : str
        What messages call the database.
    into : path-like
        A folder to be made.

    Raises
    ------
    InputError
        If a text is none, names files of others, or cannot be compiled; if this machine has no zic.
    """
    for name, text in texts.items():
        _check(text, f"{where}, {name}")
    zic = shutil.which("zic", path=os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/sbin"]))
    if zic is None:
        raise InputError("this is the source of a tz database, and the program that compiles it (zic) is not on this machine", where=where,
                         rule="compiled zones, or their source and zic",
                         next_step="give the tzdata wheel of that release (tzdata-*.whl), or compile it elsewhere and give the folder; on most systems zic comes with "
                                   "the package tzdata or libc")
    with tempfile.TemporaryDirectory(prefix="geozone-") as folder:
        for name, text in texts.items():
            (Path(folder) / name).write_bytes(text)
        try:
            done = subprocess.Popen([zic, "-d", str(into), *texts], cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                                    env={"PATH": os.defpath, "LC_ALL": "C"})
            _limit(done.pid)
            try:
                said = done.communicate(timeout=_MOST_S)[1]
            finally:
                done.kill()
                done.wait()
        except (OSError, subprocess.TimeoutExpired) as why:
            raise _refused(where, str(why)) from None
        if done.returncode:
            lines = said.decode("utf-8", "replace").strip().splitlines() or [f"zic ended with {done.returncode}"]
            raise _refused(where, lines[0])


def _refused(where: str, why: str) -> InputError:
    return InputError("the source of this tz database cannot be compiled", where=where, value=why, rule="rules, zones and links as zic reads them",
                      next_step="fetch the release again, or give its tzdata wheel")


def _check(text: bytes, where: str) -> None:
    """Refuse a text whose lines name files that are no zones."""
    try:
        lines = text.decode("utf-8").splitlines()
    except UnicodeDecodeError as why:
        raise _refused(where, str(why)) from None
    if len(lines) > _MOST_LINES or max(map(len, lines), default=0) > _LONGEST_LINE:
        raise _refused(where, f"{len(lines):,} lines, the longest of {max(map(len, lines), default=0):,} characters")
    for number, line in enumerate(lines, 1):
        words = line.split("#", 1)[0].split()
        if not words:
            continue
        # In quotation marks a name could hold anything; no release has any.
        bad = '"' in line.split("#", 1)[0]
        # zic takes any beginning of its words, in either case.
        if "zone".startswith(words[0].casefold()):
            bad |= not all(ZONE_NAME.fullmatch(name) for name in words[1:2])
        elif "link".startswith(words[0].casefold()):
            bad |= not all(ZONE_NAME.fullmatch(name) for name in words[1:3])
        if bad:
            raise InputError("the source of this tz database names what can be no zone", where=f"{where}, line {number}", value=line.strip()[:200],
                             rule="names of letters, digits, - + _ in one to three parts", next_step="fetch the release again; this one was not compiled")


def _limit(pid: int) -> None:
    try:
        import resource

        for limit, most in ((resource.RLIMIT_AS, _MOST_MEMORY_BYTES), (resource.RLIMIT_FSIZE, _MOST_WRITTEN_BYTES), (resource.RLIMIT_CPU, _MOST_S)):
            resource.prlimit(pid, limit, (most, most))
    except (ImportError, AttributeError, ValueError, OSError):  # not on this system, or it has ended; the limits on size remain
        pass
