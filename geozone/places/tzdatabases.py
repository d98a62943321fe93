"""A tz database in any of the forms in which people have one: the installed one, a wheel, an archive, a folder, one text."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import posixpath
import re
import tarfile
import tempfile
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from ..errors import InputError
from ..numbers import clock
from .compiledzones import MAGIC, MOST_ZONE_BYTES, ZONE_NAME, compiled_zone
from .limits import check_size
from .zonesource import MOST_SOURCE_BYTES, SOURCES, WHOLE_SOURCE, compile_source

#: How the database that geozone works with is named.
INSTALLED = "installed"
#: A release has 600 zones, links included; with its code and its copies with leap seconds 2,000 files.
MOST_MEMBERS = 5_000
MOST_ARCHIVE_BYTES = 20_000_000
MOST_UNPACKED_BYTES = 60_000_000
#: Links in an archive that lead to links.
_MOST_HOPS = 4
#: Copies of the zones that count leap seconds, or are there twice.
_COPIES = ("right", "posix")
#: Where a release says which it is: a file that holds nothing else, the first line of the whole text, a module of the wheel.
_VERSIONS = {"version": r"\s*(\d{4}[a-z]{1,2})\s*$", "+VERSION": r"\s*(\d{4}[a-z]{1,2})\s*$", WHOLE_SOURCE: r"# version (\d{4}[a-z]{1,2})\s",
             "__init__.py": r"(?s).*?\bIANA_VERSION = ['\"](\d{4}[a-z]{1,2})['\"]"}
_FORMS = "installed, a tzdata wheel or source archive (.whl, .zip, .tar.gz, .tar.xz), a folder of compiled zones, or tzdata.zi"


@dataclass(frozen=True, eq=False)
class TzDatabase:
    """Legal time by one release of the tz database.

    Attributes
    ----------
    name : str
        The file or folder as messages call it.
    version : str
        Such as "2026b"; "" where it does not say.
    zones : dict of str to bytes
        Compiled zones by name.
    """

    name: str
    version: str
    zones: dict[str, bytes]
    _read: dict[str, ZoneInfo] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """Release and file."""
        return f"{self.version} ({self.name})" if self.version else self.name

    def offsets(self, legal_zone: str, year: int) -> clock.OffsetSequence:
        """As `clock.offsets`, by this release; InputError for a damaged zone, KeyError for one that it has not."""
        if legal_zone not in self._read:
            self._read[legal_zone] = compiled_zone(self.zones[legal_zone], legal_zone, self.name)
        return clock.offsets_in(self._read[legal_zone], year)


def open_database(path: str | Path) -> TzDatabase:
    """A tz database.

    Parameters
    ----------
    path : str or path-like
        "installed" for the one that geozone works with.

    Raises
    ------
    InputError
        If it is none, is damaged or larger than one can be; if a source cannot be compiled here. Nothing is written outside
        folders of our own.
    """
    if str(path) == INSTALLED:
        return _installed()
    path = Path(path)
    name = path.name or str(path)
    if path.is_dir():
        return _database(name, _in_folder(path))
    check_size(path, MOST_ARCHIVE_BYTES, f"give one of: {_FORMS}")
    try:
        data = path.read_bytes()
    except OSError as why:
        raise InputError("the tz database cannot be read", where=name, value=why.strerror, next_step="check the name and who may read it") from None
    try:
        if data[:4] == b"PK\x03\x04":
            return _database(name, _in_zip(data, name))
        if data[:2] == b"\x1f\x8b" or data[:3] == b"BZh" or data[:6] == b"\xfd7zXZ\x00" or data[257:262] == b"ustar":
            return _database(name, _in_tar(_inflated(data, name), name))
    except (zipfile.BadZipFile, zipfile.LargeZipFile, tarfile.TarError, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError, OSError,
            ValueError) as why:
        raise InputError("the archive of the tz database is damaged", where=name, value=str(why) or type(why).__name__, next_step="fetch it again") from None
    if data[:1000].lstrip().startswith((b"# version", b"# redo", b"R ", b"Rule", b"Z ", b"Zone")):
        return _database(name, [(WHOLE_SOURCE, data)])
    raise _none(name)


def _none(name: str) -> InputError:
    return InputError("this is no tz database that can be read", where=name, rule=_FORMS, next_step="fetch tzdata-*.whl or tzdata*.tar.gz of the release that is meant")


def _installed() -> TzDatabase:
    from importlib import resources

    root = resources.files("tzdata") / "zoneinfo"
    zones = {}
    for name in sorted(clock.zone_names()):
        try:
            zones[name] = root.joinpath(*name.split("/")).read_bytes()
        except OSError:  # a name without a file of its own
            continue
    return TzDatabase(INSTALLED, clock.tz_version(), zones)


def _database(where: str, members: Iterable[tuple[str, bytes]]) -> TzDatabase:
    """From files by name, of which any may be something else."""
    zones: dict[str, bytes] = {}
    texts: dict[str, bytes] = {}
    version = ""
    for path, data in members:
        parts = path.split("/")
        if data.startswith(MAGIC):
            name = _zone_name(parts)
            if name:
                zones.setdefault(name, data)
        elif parts[-1] in (*SOURCES, WHOLE_SOURCE):
            texts.setdefault(parts[-1], data)
        if parts[-1] in _VERSIONS and not version:
            said = re.match(_VERSIONS[parts[-1]], data[:2000].decode("utf-8", "replace"))
            version = said[1] if said else ""
    if not zones and texts:
        chosen = {name: texts[name] for name in SOURCES if name in texts} or texts
        with tempfile.TemporaryDirectory(prefix="geozone-") as folder:
            compile_source(chosen, where, Path(folder) / "zones")
            zones = {name: data for name, data in _in_folder(Path(folder) / "zones") if data.startswith(MAGIC)}
    if not zones:
        raise _none(where)
    return TzDatabase(where, version, zones)


def _zone_name(parts: list[str]) -> str:
    """The zone whose file has this path; "" for a copy with leap seconds and for what no zone is called."""
    if "zoneinfo" in parts:
        parts = parts[len(parts) - parts[::-1].index("zoneinfo"):]
    name = "/".join(parts)
    return name if parts and parts[0] not in _COPIES and ZONE_NAME.fullmatch(name) else ""


def _wanted(path: str) -> int:
    """How much of a file of an archive is read: nothing of what can be no part of a database [byte]."""
    return MOST_SOURCE_BYTES if path.rsplit("/", 1)[-1] in (*SOURCES, WHOLE_SOURCE) else MOST_ZONE_BYTES


def _too_much(where: str, files: int, size: int) -> InputError:
    return InputError("the archive unpacks to more than a tz database can be", where=where, value=f"{files:,} files, {size / 1e6:,.0f} MB",
                      rule=f"at most {MOST_MEMBERS:,} files and {MOST_UNPACKED_BYTES / 1e6:.0f} MB", next_step="fetch it again from where releases are published")


def _in_zip(data: bytes, where: str) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        members = packed.infolist()
        if len(members) > MOST_MEMBERS or sum(m.file_size for m in members) > MOST_UNPACKED_BYTES:
            raise _too_much(where, len(members), sum(m.file_size for m in members))
        for member in members:
            if member.is_dir() or member.flag_bits & 1 or member.file_size > _wanted(member.filename):
                continue
            with packed.open(member) as source:
                held = source.read(_wanted(member.filename) + 1)
            if len(held) <= _wanted(member.filename):
                yield member.filename, held


def _inflated(data: bytes, where: str) -> bytes:
    """The tar file in a packed one, no more of it than a database can have."""
    if data[257:262] == b"ustar":
        return data
    opener = gzip.open if data[:2] == b"\x1f\x8b" else bz2.open if data[:3] == b"BZh" else lzma.open
    with opener(io.BytesIO(data)) as source:
        held = source.read(MOST_UNPACKED_BYTES + 1)
    if len(held) > MOST_UNPACKED_BYTES:
        raise _too_much(where, 0, len(held))
    return held


def _in_tar(data: bytes, where: str) -> list[tuple[str, bytes]]:
    held: dict[str, bytes] = {}
    links: dict[str, str] = {}
    with tarfile.open(fileobj=io.BytesIO(data), mode="r:") as packed:
        for count, member in enumerate(packed):
            if count >= MOST_MEMBERS:
                raise _too_much(where, count, len(data))
            name = posixpath.normpath(member.name)
            if member.issym():
                links[name] = posixpath.normpath(posixpath.join(posixpath.dirname(name), member.linkname))
            elif member.islnk():
                links[name] = posixpath.normpath(member.linkname)
            elif member.isreg() and member.size <= _wanted(name):
                held[name] = packed.extractfile(member).read()
    # A link counts where it leads to a file of the same archive.
    for _ in range(_MOST_HOPS):
        held |= {name: held[target] for name, target in links.items() if name not in held and target in held}
    return list(held.items())


def _in_folder(folder: Path) -> list[tuple[str, bytes]]:
    held, count = [], 0
    root = folder.resolve()
    try:
        for above, folders, files in os.walk(root):
            folders[:] = sorted(one for one in folders if one not in _COPIES)
            for one in sorted(files):
                count += 1
                if count > MOST_MEMBERS:
                    raise InputError("the folder holds more files than a tz database has", where=str(folder), value=f"more than {MOST_MEMBERS:,}",
                                     rule="a folder of compiled zones and nothing else", next_step="name the folder in which Africa, America and Asia lie")
                try:
                    path = (Path(above) / one).resolve()
                except RuntimeError:  # Python up to 3.12 for links in a ring
                    continue
                # What leads out of the folder (a machine's own "localtime") is not part of it.
                if not path.is_relative_to(root) or not path.is_file() or path.stat().st_size > _wanted(one):
                    continue
                held.append(((Path(above) / one).relative_to(root).as_posix(), path.read_bytes()))
    except OSError as why:
        raise InputError("the folder of the tz database cannot be read", where=str(folder), value=why.strerror, next_step="check who may read it") from None
    return held
