"""Everything that a run found out, in one frozen record: what the writers of paper and screens are handed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd

from .grouping.grouptables import GroupAnswers
from .places.manners import PLAIN, Manner
from .places.whereabouts import Whereabouts
from .sharing.second_opinion import SecondOpinion
from .sharing.shared import FoundSetting
from .switching.programmeanswers import ProgrammeAnswers
from .trade.basis import Basis
from .trade.keypad import Keypad
from .trade.setting import Setting, Tolerance
from .zoning.zonetables import ZoneAnswers


@dataclass(frozen=True, eq=False)
class Answers:
    """The finished answers of one run. A writer draws or saves them and computes nothing.

    Two records are never compared: they hold tables, whose ``==`` is a table.

    Attributes
    ----------
    title : str
        The job's title, as the user wrote it: untrusted text.
    basis : Basis
        Year, dark threshold, tolerance, keypad and whose clock; `year`, `altitude_deg`, `threshold_text`, `tolerance`, `keypad`
        and `clock` read them from it.
    setting : Setting
        The shared setting under test, as the keypad holds it.
    search : FoundSetting or None
        What the search for the setting says; None where the job gave it.
    sites : geopandas.GeoDataFrame
        One row a site, EPSG:4326 points. Columns: site_id, name, lat_deg, lon_deg, legal_zone_given, load_w
        [watt, NaN = not given], row, area ("" = outside every area), legal_zone, legal_zone_source
        ("boundary data" | "site list"), clock_rule, boundary_m [metre, inf or NaN = none near], confirm_zone,
        solar_lon_deg, worst_dark_min, worst_dark_night ("2027-12-14" or ""), worst_dark_edge ("dusk" | "dawn" |
        "night" | ""), the same three for excess, nights_beyond, dark_year_min, excess_year_min, with a `shallow_deg` also
        nights_not_judged, dark_not_judged_min and excess_not_judged_min, tolerance_share,
        result ("within" | "beyond" | "other clock"), the user's own columns and, where groups were asked for, group
        ("" = none), group_dark_min, group_excess_min, proof_site.
    rejects : pandas.DataFrame
        Rows that could not be used: file, row, value, reason.
    areas : geopandas.GeoDataFrame
        Outlines: area, geometry.
    area_pieces : geopandas.GeoDataFrame
        Outlines cut along legal-zone boundaries: area, legal_zone, clock_rule_text, share (0..1), geometry.
    zones : geopandas.GeoDataFrame
        Legal zones around the sites: legal_zone, geometry.
    boundaries : geopandas.GeoDataFrame
        Borders between two legal zones: zone_a, zone_b, same_clock, geometry.
    drift_lines : geopandas.GeoDataFrame
        Lines: kind ("tolerance" | "drift" | "dusk"), factor (1.0 = tolerance; NaN for dusk), label, dusk (its date, time and
        offset from UTC in the manner of ISO 8601; "" for the others), geometry.
    lattice : geopandas.GeoDataFrame
        Points over the area: lat_deg, lon_deg, worst_dark_min, worst_excess_min, tolerance_share.
    spread : pandas.DataFrame
        One row a night: how far apart dusk and dawn are over the area.
    clock_rules : pandas.DataFrame
        Index clock_rule; text, legal_zones (list of str), sites (int); most sites first.
    backdrop : geopandas.GeoDataFrame or None
        The user's own drawing for orientation, for example roads.
    summary : dict
        What summary.json holds.
    notes : tuple of str
        What was guessed, mended or left out, in the order in which it happened.
    versions : dict of str to str
        geozone, tz database, boundary data and the libraries that matter.
    groups : GroupAnswers or None
        The fewest settings; None = not asked for.
    programmes : ProgrammeAnswers or None
        What the switching programmes do; None = not asked for.
    zoning : ZoneAnswers or None
        The lighting zones of the area; None = not asked for.
    manner : Manner
        How CSV files are written.
    where : Whereabouts or None
        Where the sites lie.
    outlined : bool
        False where no outlines were given: the one area is then the ground round the sites.
    listed : bool
        False where the job had no site list: the sites are then stand-in points inside the outlines, see `places.standins`.
    opinion : SecondOpinion or None
        The second calculation of a sample of the run's times.
    """

    title: str
    basis: Basis
    setting: Setting
    search: FoundSetting | None
    sites: gpd.GeoDataFrame
    rejects: pd.DataFrame
    areas: gpd.GeoDataFrame
    area_pieces: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    boundaries: gpd.GeoDataFrame
    drift_lines: gpd.GeoDataFrame
    lattice: gpd.GeoDataFrame
    spread: pd.DataFrame
    clock_rules: pd.DataFrame
    backdrop: gpd.GeoDataFrame | None
    summary: dict[str, Any]
    notes: tuple[str, ...]
    versions: dict[str, str]
    groups: GroupAnswers | None = None
    programmes: ProgrammeAnswers | None = None
    zoning: ZoneAnswers | None = None
    manner: Manner = PLAIN
    where: Whereabouts | None = None
    outlined: bool = True
    listed: bool = True
    opinion: SecondOpinion | None = None

    @property
    def year(self) -> int:
        """The year that was computed."""
        return self.basis.year

    @property
    def altitude_deg(self) -> float:
        """Dark threshold: altitude of the sun's centre [degree], negative below the horizon."""
        return self.basis.altitude_deg

    @property
    def threshold_text(self) -> str:
        """The same in words, for example "sun 4 degrees below the horizon"."""
        return self.basis.dark.words

    @property
    def tolerance(self) -> Tolerance:
        """Largest dark and largest excess minutes allowed at any one switching."""
        return self.basis.tolerance

    @property
    def keypad(self) -> Keypad:
        """What the switches can hold."""
        return self.basis.keypad

    @property
    def clock(self) -> str:
        """"own": every switch runs its own legal clock; "master": one switch commands all."""
        return self.basis.switch_clock

    @property
    def one_master(self) -> bool:
        """True where the shared setting is keyed into one switch that commands all sites; a plan's settings are keyed at their own sites."""
        return self.clock == "master" and self.groups is None
