"""The first run on a machine: compile what the job needs, in as many processes as there are parts and processors."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from .. import compiled

PARTS = ("sun", "groups", "shared", "programmes")
_HELP_AT_MOST_S = 300.0


def parts_of(job) -> tuple[str, ...]:
    """The parts of the arithmetic that a job needs."""
    asked = {"groups": job.groups is not None or job.zones is not None, "shared": not job.shared.given, "programmes": job.switching is not None}
    return ("sun", *(part for part, needed in asked.items() if needed))


def missing(parts: Sequence[str]) -> tuple[str, ...]:
    """The parts for which there is no compiled code from an earlier run."""
    folder = compiled.cache_folder()
    return tuple(part for part in parts if folder is None or not _mark(folder, part).exists())


def prepare(parts: Sequence[str]) -> None:
    """Compile parts, side by side where there are processors for it; what is compiled already is left alone.

    A part that could not be compiled in a process of its own is compiled later, when it is first used: nothing depends on
    this but the time that a first run takes, and the last binary digit of it (see Notes).

    Notes
    -----
    Never in this process: a kernel that was compiled here runs with the copies of other kernels that were made first, one
    that comes from the cache with copies of its own. Both round differently by one unit in the last place (3e-11 min), so
    a first run would not write the bytes that all later ones write.
    """
    wanted = missing(parts)
    if compiled.cache_folder() is None:
        return  # code that cannot be kept would be compiled twice
    # Two processes: a third would compile once more what the parts have in common.
    shares = [wanted[:1] + wanted[2:], wanted[1:2]] if (os.cpu_count() or 1) > 1 else [wanted]
    helpers = [_started(share) for share in shares if share]
    for helper in filter(None, helpers):
        try:
            helper.wait(_HELP_AT_MOST_S)
        except subprocess.TimeoutExpired:
            helper.kill()
            helper.wait()
        except BaseException:  # the user stops the run: no process of ours goes on
            for other in filter(None, helpers):
                other.kill()
            raise


def prepare_here(part: str) -> None:
    """Compile one part in this process, and remember it."""
    _WORK[part]()
    folder = compiled.cache_folder()
    if folder is not None:
        try:
            _mark(folder, part).touch()
        except OSError:
            pass  # said once more next time, that is all


def _started(parts: Sequence[str]):
    try:
        return subprocess.Popen([sys.executable, "-P", "-m", "geozone.screens.preparing", *parts], stdin=subprocess.DEVNULL,
                                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                                env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))})
    except OSError:
        return None


def _mark(folder: Path, part: str) -> Path:
    """A file that says "compiled", named by the content of every module: an update makes it stale."""
    content = b"\0".join(path.read_bytes() for path in sorted(Path(__file__).parents[1].rglob("*.py")))
    return folder / f"{part}-{hashlib.sha256(content).hexdigest()[:16]}.ready"


def _sun() -> None:
    from ..numbers import shallow, sun

    sun.prepare()
    shallow.judged_nights([63.0], [10.0], 2027, -4.0, 1.0)


def _shared() -> None:
    """The search for a shared setting: few sites and many, all served and not all."""
    import numpy as np

    from ..sharing.shared import searched_setting
    from ..trade.basis import Basis
    from ..trade.keypad import Keypad
    from ..trade.setting import Tolerance

    for sites, spread in ((4, 0.5), (4, 8.0), (60, 8.0)):
        lat = np.linspace(52.0, 52.0 + spread, sites)
        searched_setting(lat, np.linspace(9.0, 9.0 + spread, sites), "Europe/Berlin",
                         Basis(2027, -6.0, Tolerance(8.0, 12.0), Keypad(1.0, 20)))


def _groups() -> None:
    """Two towns on one clock, too far from each other for one setting, and a curve; ground for several settings; a unit that none serves."""
    import numpy as np

    from ..grouping.groups import fewest_groups
    from ..grouping.siteparts import GroupSites
    from ..trade.basis import Basis
    from ..trade.keypad import Keypad
    from ..trade.setting import Tolerance

    step = np.linspace(0.0, 1.0, 24)
    lat, lon = -35.0 + np.sin(9.0 * step), 140.0 + 3.0 * step
    sites = GroupSites(lat, lon, 2027, legal_zone=["Australia/Adelaide"] * 24, keep_together=[f"u{i // 2}" for i in range(24)],
                       existing=[f"g{i // 8}" for i in range(24)])
    fewest_groups(sites, Basis(2027, -4.0, Tolerance(2.0, 3.0), Keypad(0.2)), curve_to=2, time_limit_s=10)
    lon, lat = (axis.ravel() for axis in np.meshgrid(np.linspace(140.0, 142.0, 14), np.linspace(-36.0, -34.0, 14)))
    ground = GroupSites(lat, lon, 2027, legal_zone=["Australia/Adelaide"] * lat.size)
    fewest_groups(ground, Basis(2027, -4.0, Tolerance(2.0, 2.0)), time_limit_s=60)
    whole = GroupSites(lat, lon, 2027, legal_zone=["Australia/Adelaide"] * lat.size, keep_together=["u"] * lat.size)
    fewest_groups(whole, Basis(2027, -4.0, Tolerance(2.0, 2.0)), time_limit_s=60)


def _programmes() -> None:
    """One site with a programme of four events, compared, expanded and searched for foolish nights."""
    from ..numbers import clock
    from ..switching.conditions import Conditions
    from ..switching.foolish import Switch, foolish_nights
    from ..switching.programme_year import delivered, intended, programme_year
    from ..switching.timetable import dated_timetable, timetable_year
    from ..trade.programme import Event, Programme
    from ..trade.setting import Setting

    programme = Programme("p", (Event("on", "dusk"), Event("off", 1350), Event("on", 330), Event("off", "dawn")))
    setting, zone, conditions = Setting(-35.0, 140.0, "Australia/Adelaide"), "Australia/Adelaide", Conditions(2027, -4.0)
    where, sky = ([-35.0], [140.0], zone), {"year": 2027, "altitude_deg": -4.0}
    programme_year(*where, programme, conditions, setting=setting)
    programme_year(*where, programme, conditions)
    delivered(programme, clock.offsets(zone, 2027), conditions, setting)
    intended(programme, lat_deg=-35.0, lon_deg=140.0, legal_zone=zone, **sky)
    table = dated_timetable(lat_deg=[-35.0], lon_deg=[140.0], legal_zone=zone, **sky)
    foolish_nights(programme, [Switch("p", setting, zone)], conditions)
    timetable_year(table, *where, conditions, programme)


_WORK: dict[str, Callable[[], None]] = {"sun": _sun, "shared": _shared, "groups": _groups, "programmes": _programmes}

if __name__ == "__main__":
    for _part in sys.argv[1:]:
        prepare_here(_part)
