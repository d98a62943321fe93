"""The job file of a plan as it lies on the disk: read with its sum, and written only over what was read."""

from __future__ import annotations

import difflib
import hashlib
import os
import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import OutputError
from ..places import limits

_BOM = "\ufeff"


@dataclass(frozen=True)
class SavedJob:
    """A job file as it was read.

    Attributes
    ----------
    text : str
        Without a byte order mark, ends of lines as they are; "" where the file cannot be read as text.
    sum : str
        Of its bytes: whoever saves says with it what was seen.
    marked : bool
        Whether it began with a byte order mark.
    trouble : str
        Why it is not shown; "" where it is.
    """

    text: str
    sum: str
    marked: bool = False
    trouble: str = ""

    @property
    def data(self) -> dict[str, Any] | None:
        """What it says, its keys not looked at; None where it is no TOML."""
        try:
            return tomllib.loads(self.text)
        except (ValueError, RecursionError, OverflowError):
            return None

    @property
    def shown(self) -> str:
        """The text as a page holds it: ends of lines are one character."""
        return self.text.replace("\r\n", "\n")


def read_saved(path: Path) -> SavedJob:
    """The job file as it is now; never raises."""
    try:
        if path.stat().st_size > limits.MOST_JOB_BYTES:
            return SavedJob("", "", trouble=f"the job file is larger than {limits.MOST_JOB_BYTES / 1e6:.0f} MB")
        data = path.read_bytes()
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return SavedJob("", sum_of_bytes(data), trouble="the job file is not UTF-8 text: save it as such with a text editor")
    except OSError as why:
        return SavedJob("", "", trouble=f"the job file cannot be read: {why.strerror}")
    return SavedJob(text.removeprefix(_BOM), sum_of_bytes(data), text.startswith(_BOM))


def sum_of_bytes(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def with_own_line_ends(text: str, old: str) -> str:
    """A text from a page with the ends of lines that the file had, line by line where it has both kinds."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    windows = old.count("\r\n")
    if not windows:
        return text
    if windows == old.count("\n"):
        return text.replace("\n", "\r\n")
    before, after = old.splitlines(keepends=True), text.splitlines(keepends=True)
    matcher = difflib.SequenceMatcher(None, [line.rstrip("\r\n") for line in before], [line.rstrip("\n") for line in after], autojunk=False)
    for kind, start, end, there, _ in matcher.get_opcodes():
        if kind == "equal":
            after[there:there + end - start] = before[start:end]
    return "".join(after)


def write_saved(path: Path, text: str, seen: SavedJob) -> bool:
    """Write a job file whole, if it still is what was seen; False, and nothing written, if somebody changed it meanwhile.

    Raises
    ------
    OutputError
        If the disk refuses; the file is as it was.
    """
    data = ((_BOM if seen.marked else "") + text).encode("utf-8")
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        mode = path.stat().st_mode & 0o777
        with part.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(part, mode)
        # As late as can be: what is between this look and the exchange is not seen.
        if sum_of_bytes(path.read_bytes()) != seen.sum:
            return False
        os.replace(part, path)
        return True
    except OSError as why:
        raise OutputError("the job file cannot be written", where=path.name, value=why.strerror or str(why), rule="it is as it was",
                          next_step="look for free space and who may write there") from why
    finally:
        part.unlink(missing_ok=True)
