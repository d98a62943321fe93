"""Files that are dropped on a plan: only of kinds that are read, under a name made anew, and put there whole."""

from __future__ import annotations

import re
import secrets
import shutil
import unicodedata
import zipfile
from pathlib import Path

from ..errors import InputError, OutputError
from ..files.folder import is_device
from ..places.endings import ENDINGS, OLD_ENDINGS

#: What an archive or a workbook may unpack to behind a page [byte]; from the command line it is more.
MOST_UNPACKED_BYTES = 500_000_000
#: What files of a plan are for.
USES = ("sites", "areas", "backdrop")
_LONGEST_STEM = 60


def dropped_name(given: str) -> str:
    """The name that a dropped file gets: the last part of the given one, of letters, digits, blanks and - _ . only.

    Raises
    ------
    InputError
        For a kind of file that is not read.

    Examples
    --------
    >>> dropped_name("../../My list (2).CSV"), dropped_name("C:\\\\con.csv")
    ('My list 2.csv', 'list con.csv')
    """
    last = re.split(r"[/\\\x00]", given)[-1]
    stem, _, ending = last.rpartition(".")
    ending = "." + ending.lower()
    if ending not in ENDINGS:
        raise InputError("files of this kind are not read", value=last[:80], rule="one of " + " ".join(ENDINGS),
                         next_step="save it as .xlsx and drop that" if ending in OLD_ENDINGS else "export it as one of these and drop that")
    stem = "".join(c if c.isalnum() or c in "-_. " else " " for c in unicodedata.normalize("NFC", stem))
    stem = " ".join(stem.split()).strip(" .")[:_LONGEST_STEM].strip(" .")
    while len(stem.encode()) > 2 * _LONGEST_STEM:
        stem = stem[:-1]
    return (f"list {stem}" if is_device(stem) or stem.casefold() == "job" else stem or "list") + ending


def put_into(folder: Path, given: str, stream) -> str:
    """Put a dropped file into a plan's folder, whole; a file of its name that is there already is kept under another name.

    Returns
    -------
    str
        Its name there.

    Raises
    ------
    InputError, OutputError
    """
    name = dropped_name(given)
    part = folder / f".drop-{secrets.token_hex(4)}.part"
    try:
        with part.open("xb") as target:
            shutil.copyfileobj(stream, target, 1 << 20)
        _check(part, name)
        free = _free_name(folder, name, part)
        if free is None:
            return name  # the very same file is there
        part.replace(folder / free)
        return free
    except OSError as why:
        raise OutputError("the file cannot be put into the plan", where=name, value=why.strerror or str(why),
                          next_step="look for free space and who may write there") from why
    finally:
        part.unlink(missing_ok=True)


def _free_name(folder: Path, name: str, part: Path) -> str | None:
    """The name, or with a number behind it where another file has it; None where a file of the name has the same content."""
    stem, ending = name.rsplit(".", 1)
    taken = {path.name.casefold() for path in folder.iterdir()}
    for number in range(1, 10_000):
        one = name if number == 1 else f"{stem} {number}.{ending}"
        if one.casefold() not in taken:
            return one
        there = folder / one
        if number == 1 and there.is_file() and not there.is_symlink() and there.stat().st_size == part.stat().st_size and there.read_bytes() == part.read_bytes():
            return None
    raise InputError("there are too many files of this name", value=name, next_step="give it another name")


def _check(part: Path, name: str) -> None:
    if not part.stat().st_size:
        raise InputError("the file is empty", where=name, next_step="export it again")
    if not zipfile.is_zipfile(part):
        return
    try:
        with zipfile.ZipFile(part) as packed:
            unpacked = sum(member.file_size for member in packed.infolist())
    except (zipfile.BadZipFile, ValueError, NotImplementedError, OSError) as why:
        raise InputError("the file is damaged", where=name, value=str(why), next_step="export or pack it again") from None
    if unpacked > MOST_UNPACKED_BYTES:
        raise InputError("the file unpacks to more than the desk takes", where=name, value=f"{unpacked / 1e6:,.0f} MB",
                         rule=f"at most {MOST_UNPACKED_BYTES / 1e6:,.0f} MB", next_step="export only what is needed, or use geozone run")
