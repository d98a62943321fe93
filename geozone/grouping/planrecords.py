"""Frozen records of a grouping: what `fewest_groups` hands out."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..trade.setting import Setting


@dataclass(frozen=True)
class GroupSetting:
    """One setting of the plan and how its sites fare.

    Attributes
    ----------
    name : str
        A, B, C ... in reading order from the north-west.
    setting : Setting
        What is keyed.
    clock_rule : int
        The clock rule of all its sites.
    within : str
        The value that the group does not leave ("" where no such column was given).
    sites : int
    worst_dark_min, worst_excess_min : float [minute]
        The most minutes at any one switching, over all sites and nights.
    worst_dark_site, worst_excess_site : object
        The site id where that happens; None if it is never dark (or lit) at the wrong time.
    worst_dark_night, worst_excess_night : str
        ISO date that names the night, "" if none.
    worst_dark_edge, worst_excess_edge : str
        "dusk", "dawn", "night" (a whole night without light, or with it, where the sun does not cross) or "".
    tolerance_factor : float
        Worst drift in units of the tolerance; 1 is just within.
    """

    name: str
    setting: Setting
    clock_rule: int
    within: str
    sites: int
    worst_dark_min: float
    worst_dark_site: object
    worst_dark_night: str
    worst_dark_edge: str
    worst_excess_min: float
    worst_excess_site: object
    worst_excess_night: str
    worst_excess_edge: str
    tolerance_factor: float


@dataclass(frozen=True)
class Witnesses:
    """Why fewer settings will not do.

    Attributes
    ----------
    site_ids : tuple
        The witness sites.
    kind : str
        "apart": no two of them can share a setting. "together": no plan with fewer settings serves just these.
        "weights": no setting can serve more than weight 1 of them; the sentence says what follows from that.
        "none": the bound is trivial.
    weight : tuple of float
        One each; all 1 unless `kind` is "weights".
    sentence : str
        The same in plain words.
    apart_by : tuple of str
        What parts them, of "tolerance", "clock", "within": sites on two clocks or of two values of `within` share no
        setting, whatever the tolerance; "tolerance" if there are two that only the tolerance parts.
    units : bool
        True if a site may stand for a unit that shares one setting.
    """

    site_ids: tuple = ()
    kind: str = "none"
    weight: tuple = ()
    sentence: str = ""
    apart_by: tuple = ()
    units: bool = False


@dataclass(frozen=True)
class CurvePoint:
    """The smallest worst drift that k settings can reach.

    Attributes
    ----------
    k : int
    factor : float
        Worst drift in units of the tolerances; NaN if k settings cannot serve all clock rules.
    worst_min : float [minute]
        The larger of the worst dark and the worst excess minutes of the plan found.
    worst_dark_min, worst_excess_min : float [minute]
    bound_factor : float
        No plan with k settings has a smaller factor.
    proved : bool
        True if `factor` is within 0.1 minute of `bound_factor`, on the larger of the two tolerances.
    settings : tuple of Setting
    """

    k: int
    factor: float
    worst_min: float
    worst_dark_min: float
    worst_excess_min: float
    bound_factor: float
    proved: bool
    settings: tuple[Setting, ...] = ()


@dataclass(frozen=True)
class ExistingGroup:
    """A group that exists already.

    Attributes
    ----------
    name : str
    clock_rule : int
        A group that spans clock rules appears once for each.
    sites : int
    setting : Setting
        The best that the keypad holds for it: smallest worst drift in units of the tolerances.
    served : bool
        Whether that setting keeps every site within tolerance.
    tolerance_factor : float
        Its worst drift in units of the tolerances.
    worst_dark_min, worst_excess_min : float [minute]
    settings_needed : int
        Settings that this group's sites need on their own (1 if served).
    """

    name: str
    clock_rule: int
    sites: int
    setting: Setting
    served: bool
    tolerance_factor: float
    worst_dark_min: float
    worst_excess_min: float
    settings_needed: int


@dataclass(frozen=True)
class ExistingComparison:
    """The plan against the groups that exist already.

    Attributes
    ----------
    groups : tuple of ExistingGroup
    settings_needed : int
        Settings that the existing grouping needs for every site to be within tolerance, as far as any can.
    settings_saved : int
        `settings_needed` less the settings that the plan gives to the same sites.
    without : int
        Sites that name no group; they are left out on both sides.
    proved : bool
        False if the time limit came first somewhere, so that fewer than `settings_needed` may do.
    """

    groups: tuple[ExistingGroup, ...]
    settings_needed: int
    settings_saved: int
    without: int = 0
    proved: bool = True


@dataclass(frozen=True)
class Unserved:
    """Sites for which no setting of this keypad was found that keeps them within tolerance.

    Attributes
    ----------
    unit : str
        The site's id, or the unit's name where sites stay together.
    site_ids : tuple
    setting : Setting
        The best found for it: every night looked at, keyed near its middle.
    tolerance_factor : float
        Tolerances so many times as large would do with it.
    dark_min, excess_min : float [minute]
        The tolerances at that factor.
    proved : bool
        True if no setting of the keypad does, however far its longitude is off.
    """

    unit: str
    site_ids: tuple
    setting: Setting
    tolerance_factor: float
    dark_min: float
    excess_min: float
    proved: bool = True


@dataclass(frozen=True)
class LaterYear:
    """How a plan fares in a later year, by the same settings.

    Attributes
    ----------
    year : int
    groups_beyond, sites_beyond : int
        Groups and sites with a night beyond the tolerance.
    nights_beyond : int
        The most such nights at any site.
    over_min : float [minute]
        By how much the tolerance is passed at most; 0 where it is kept.
    site, night : object, str
        Where and when; None and "" where it is kept.
    """

    year: int
    groups_beyond: int
    sites_beyond: int
    nights_beyond: int
    over_min: float
    site: object = None
    night: str = ""


@dataclass(frozen=True, eq=False)
class Groups:
    """The fewest settings, which site belongs to which, and why fewer will not do.

    Attributes
    ----------
    count : int
        Settings in the plan, for all sites that can be served.
    lower_bound : int
        No plan on this keypad has fewer.
    proved : bool
        True if both are equal.
    gap : int
        count - lower_bound.
    settings : tuple of GroupSetting
    group_of_site : (n,) ndarray of object
        Group names in the order of the input; "" for unserved sites.
    witnesses : Witnesses
    curve : tuple of CurvePoint
    existing : ExistingComparison or None
    unserved : tuple of Unserved
    later : tuple of LaterYear
        The three years after the plan's own, or as many as it was to hold for.
    years_searched : int
        Of how many years the nights are that the settings were found for and that the worst minutes are of.
    seconds : float
    notes : tuple of str
    """

    count: int
    lower_bound: int
    proved: bool
    gap: int
    settings: tuple[GroupSetting, ...]
    group_of_site: np.ndarray
    witnesses: Witnesses
    curve: tuple[CurvePoint, ...] = ()
    existing: ExistingComparison | None = None
    unserved: tuple[Unserved, ...] = ()
    later: tuple[LaterYear, ...] = ()
    seconds: float = 0.0
    notes: tuple[str, ...] = field(default_factory=tuple)
    years_searched: int = 1

    @property
    def worst_dark_min(self) -> float:
        """The most dark minutes at any switching of any served site."""
        return max((s.worst_dark_min for s in self.settings), default=0.0)

    @property
    def worst_excess_min(self) -> float:
        """The most excess minutes at any switching of any served site."""
        return max((s.worst_excess_min for s in self.settings), default=0.0)
