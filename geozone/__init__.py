"""Where one shared dusk-to-dawn setting is good enough for outdoor lighting, and where it is not.

Names are loaded on first use, so that `import geozone` and `geozone --help` answer at once. What each does stands in
README.md beside this file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

# The modules of the public functions and records. Functions over tables are public, those over arrays that stand behind
# them (`fewest_groups`, `programme_drift`) are found in their modules.
_NAMES = {
    "errors": "GeozoneError InputError OutputError",
    "grouping.grouphulls": "group_hulls",
    "grouping.groups": "groups_of",
    "jobs.job": "Job read_job",
    "jobs.plan": "compute run",
    "jobs.whichplace": "which",
    "numbers.daylight": "altitude_deg_for illuminance_lx",
    "numbers.sun": "State switch_times SwitchTimes",
    "places.areas": "hull_area read_areas sites_in_areas",
    "places.lattice": "solar_lattice",
    "places.legalzones": "add_legal_time clock_rules",
    "places.sites": "read_sites SiteReading",
    "places.zonepieces": "cut_areas zone_boundaries",
    "places.zoneshapes": "zone_polygons",
    "screens.webmap": "write_map",
    "sharing.drift": "Drift setting_drift",
    "sharing.shared": "best_shared_setting",
    "sharing.spread": "area_spread drift_field drift_lines dusk_lines",
    "switching.conditions": "Conditions",
    "switching.cure": "cure_of",
    "switching.foolish": "foolish_nights Switch",
    "switching.hours": "site_hours",
    "switching.programme_year": "lit_hours",
    "switching.sitedrift": "site_drift",
    "switching.tariff": "Tariff",
    "switching.timetable": "dated_timetable",
    "trade.basis": "Basis DarkThreshold",
    "trade.keypad": "Keypad",
    "trade.programme": "Event Holidays Programme Season",
    "trade.setting": "Setting Tolerance",
    "trade.switchclock": "best_keying",
    "zoning.zones": "ground_units zones_of",
}
_HOME = {name: module for module, names in _NAMES.items() for name in names.split()}

if TYPE_CHECKING:  # for editors and type checkers, which do not run the look-up below
    from .errors import GeozoneError as GeozoneError
    from .errors import InputError as InputError
    from .errors import OutputError as OutputError
    from .grouping.grouphulls import group_hulls as group_hulls
    from .grouping.groups import groups_of as groups_of
    from .jobs.job import Job as Job
    from .jobs.job import read_job as read_job
    from .jobs.plan import compute as compute
    from .jobs.plan import run as run
    from .jobs.whichplace import which as which
    from .numbers.daylight import altitude_deg_for as altitude_deg_for
    from .numbers.daylight import illuminance_lx as illuminance_lx
    from .numbers.sun import State as State
    from .numbers.sun import SwitchTimes as SwitchTimes
    from .numbers.sun import switch_times as switch_times
    from .places.areas import hull_area as hull_area
    from .places.areas import read_areas as read_areas
    from .places.areas import sites_in_areas as sites_in_areas
    from .places.lattice import solar_lattice as solar_lattice
    from .places.legalzones import add_legal_time as add_legal_time
    from .places.legalzones import clock_rules as clock_rules
    from .places.sites import SiteReading as SiteReading
    from .places.sites import read_sites as read_sites
    from .places.zonepieces import cut_areas as cut_areas
    from .places.zonepieces import zone_boundaries as zone_boundaries
    from .places.zoneshapes import zone_polygons as zone_polygons
    from .screens.webmap import write_map as write_map
    from .sharing.drift import Drift as Drift
    from .sharing.drift import setting_drift as setting_drift
    from .sharing.shared import best_shared_setting as best_shared_setting
    from .sharing.spread import (
        area_spread as area_spread,
    )
    from .sharing.spread import (
        drift_field as drift_field,
    )
    from .sharing.spread import (
        drift_lines as drift_lines,
    )
    from .sharing.spread import (
        dusk_lines as dusk_lines,
    )
    from .switching.conditions import Conditions as Conditions
    from .switching.cure import cure_of as cure_of
    from .switching.foolish import Switch as Switch
    from .switching.foolish import foolish_nights as foolish_nights
    from .switching.hours import site_hours as site_hours
    from .switching.programme_year import lit_hours as lit_hours
    from .switching.sitedrift import site_drift as site_drift
    from .switching.tariff import Tariff as Tariff
    from .switching.timetable import dated_timetable as dated_timetable
    from .trade.basis import Basis as Basis
    from .trade.basis import DarkThreshold as DarkThreshold
    from .trade.keypad import Keypad as Keypad
    from .trade.programme import Event as Event
    from .trade.programme import Holidays as Holidays
    from .trade.programme import Programme as Programme
    from .trade.programme import Season as Season
    from .trade.setting import Setting as Setting
    from .trade.setting import Tolerance as Tolerance
    from .trade.switchclock import best_keying as best_keying
    from .zoning.zones import ground_units as ground_units
    from .zoning.zones import zones_of as zones_of

__all__ = ["__version__", *sorted(_HOME)]


def __getattr__(name: str):
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f".{_HOME[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__():
    return __all__
