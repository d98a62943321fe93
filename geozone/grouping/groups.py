"""The fewest settings for a list of sites: the public functions."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from ..places.legalzones import with_legal_time
from ..places.located import column_of
from ..sharing.drift import drift_at
from ..sharing.envelope import envelope
from ..trade.basis import Basis
from .allowedshifts import AllowedShifts
from .checkedgroups import checked_groups
from .curve import part_curve, proved, shared_out
from .existinggroups import existing_groups
from .fewestsettings import fewest
from .hurried import in_a_hurry
from .keylattice import KeyLattice
from .lateryears import YEARS_AFTER, later_years, said, said_of_all
from .planrecords import CurvePoint, Groups, Witnesses
from .siteparts import GroupSites, hurried_part, most_common, parts_of, without_unserved
from .witnesses import proof_rows, told


def fewest_groups(sites: GroupSites, basis: Basis, *, offsets: bool = True, curve_to: int = 0, time_limit_s: float = 60.0, after: int | None = None,
                  hurry: bool = True, count_only: bool = False) -> Groups:
    """The fewest settings that keep every site within tolerance on every night, with the proof.

    Parameters
    ----------
    sites : GroupSites
        With the units, borders and groups of today that are to be kept to or compared with.
    basis : Basis
        "Fewest" is a statement about its keypad: the steps of position, the whole minutes and their limit. Whose clock it is
        does not matter: all sites of a group are on one. Of `years` all nights count.
    offsets : bool
        Whether dusk and dawn offsets may be keyed.
    curve_to : int
        Points of the curve; 0 for none.
    time_limit_s : float [second]
        When it strikes, the best plan found is given with its bound. Where it is too short for sites as far apart as these to be searched, a
        plan that is quick to find is given, without a curve and a comparison with the groups of today.
    after : int, optional
        Years after its own in which the plan is tried (`Groups.later`); left out: three, and a note says where it does not hold.
    hurry : bool
        Whether a short limit may be kept by a quick plan; if not, the search takes what it needs at the least.
    count_only : bool
        Whether only the number of settings and its bound are asked for: the worst minutes are not made smaller then, and there are no
        witnesses and no later years but those of the basis.

    Returns
    -------
    Groups

    Raises
    ------
    InputError
        For a unit that spans two clock rules or `within` values.
    PlanCheckError
        If the plan fails its verification in a way that cannot be mended: a defect of geozone.

    Notes
    -----
    A night on which only the site or only the setting has darkness is judged whole: all minutes of the site's own
    night are dark minutes if the setting never lights, all minutes of the given night are excess if the site wants
    none, exactly as in `drift_at`.

    Examples
    --------
    >>> from geozone import Tolerance
    >>> sites = GroupSites([-35.0, -35.1], [141.0, 147.0], 2027)
    >>> plan = fewest_groups(sites, Basis(2027, -4.0, Tolerance(5, 5)))
    >>> plan.count, plan.proved, list(plan.group_of_site)
    (2, True, ['A', 'B'])
    """
    begun = time.monotonic()
    basis = replace(basis, switch_clock="own")
    lattice = KeyLattice.of(basis.keypad, offsets)
    parts, unserved = [], []
    in_hurry = hurry and in_a_hurry(sites.lat, sites.lon, basis, lattice, time_limit_s)
    for part in parts_of(sites, basis, lattice):
        part, without = hurried_part(part, sites, 0.5 * time_limit_s) if in_hurry else without_unserved(part, sites)
        parts.append(part)
        unserved += without
    share = 0.5 if curve_to else 0.93
    for number, part in enumerate(parts):
        if part.served.any() and not in_hurry:
            # Time that one part leaves over goes to those that follow.
            left = begun + share * time_limit_s - time.monotonic()
            weight = part.shifts.n / sum(later.shifts.n for later in parts[number:])
            found = fewest(part.shifts, np.flatnonzero(part.served), part.zone, max(0.2, left * weight), tidy=not count_only)
            parts[number] = replace(part, found=found)
    parts, settings, group_of_site, failed, mended = checked_groups(parts, sites, basis)
    solved = [part for part in parts if part.found is not None]
    unserved += failed
    count = len(settings)
    # A row that is taken out of a plan makes it smaller by one setting at most.
    lower = min(count, max(sum(part.found.lower_bound for part in solved) - len(failed), min(count, 1)))
    curve = _curve(parts, curve_to, 0.35 * time_limit_s, sites, basis.tolerance) if curve_to and not in_hurry else ()
    compared = None
    named = sites.compared and (sites.group != "").any()
    if named and not in_hurry:
        theirs = {one for one, name in zip(np.asarray(group_of_site, dtype=object)[sites.back], sites.group) if one and name}
        compared = _compared(parts, sites, basis, lattice, len(theirs), 0.15 * time_limit_s)
    later = later_years(sites, group_of_site[sites.back], settings, basis, (0 if count_only else YEARS_AFTER) if after is None else after)
    ruled = not offsets or sites.ruled
    notes = _notes(solved, unserved, count, lower, lattice, ruled, mended)
    if in_hurry:
        left_out = " and ".join(words for words, asked in (("the curve", curve_to), ("the comparison with the groups of today", named)) if asked)
        notes += ("The time limit is too short for sites as far apart as these to be searched: this is a quick plan, and fewer settings may well do."
                  + (f" It left no time for {left_out}." if left_out else ""),)
    if sites.compared and not named:
        notes += ("No site names a group of today: there is nothing to compare the plan with.",)
    notes += tuple(filter(None, (_white_note(sites, group_of_site, basis), said(later, basis.year, count) if after is None else None)))
    witnesses = Witnesses() if count_only else _witnesses(solved, sites, time.monotonic() + max(min(1.0, 0.1 * time_limit_s), 0.05 * time_limit_s))
    return Groups(count, lower, count == lower, count - lower, settings, group_of_site, witnesses, curve, compared,
                  tuple(unserved), later, time.monotonic() - begun, notes, basis.years)


def groups_of(sites, basis: Basis, *, keep_together=None, within=None, existing=None, **options) -> Groups:
    """The fewest settings that keep every site of a table within tolerance on every night, with the proof.

    Parameters
    ----------
    sites : GeoDataFrame
        Points in any coordinate system. Legal time is added where it is missing; site_id names the sites in the answer,
        left out: 0, 1, 2, ...
    basis : Basis
    keep_together, within, existing : str, optional
        Column names, see `GroupSites`.
    **options
        offsets, curve_to, time_limit_s: see `fewest_groups`.
    """
    sites = with_legal_time(sites, basis.year)

    def column(name):
        return None if name is None else column_of(sites, name, "sites")

    def present(name):
        return sites[name].to_numpy() if name in sites.columns else None

    lon = present("solar_lon_deg")
    grouped = GroupSites(sites["lat_deg"].to_numpy(), present("lon_deg") if lon is None else lon, basis.year,
                         legal_zone=present("legal_zone"), clock_rule=present("clock_rule"), site_id=present("site_id"),
                         keep_together=column(keep_together), within=column(within), existing=column(existing))
    return fewest_groups(grouped, basis, **options) if basis.years == 1 else lasting_groups(grouped, basis, **options)


def lasting_groups(sites: GroupSites, basis: Basis, **options) -> Groups:
    """The fewest settings that hold for all years of a basis, with the proof.

    Away from white nights dusk and dawn of a date come back within a second, so settings are found for the first year and tried in
    the others; only where they do not hold are they found for the nights of all years together.

    Parameters
    ----------
    sites : GroupSites
    basis : Basis
        With `years`.
    **options
        offsets, curve_to, time_limit_s: see `fewest_groups`; each of two searches may take as long.

    Notes
    -----
    The number that is needed at least in one year is needed for several. Where legal clocks part in a later year no setting mends it: that is said.
    """
    after = basis.years - 1
    plan = fewest_groups(sites, replace(basis, years=1), after=after, **options)
    together = any(one.groups_beyond for one in plan.later)
    if together:
        plan = fewest_groups(sites, basis, after=after, **options)
    if not plan.settings or not plan.later:
        return plan
    return replace(plan, notes=(*plan.notes, said_of_all(plan.later, basis.year, plan.count, together)))


def _curve(parts, curve_to: int, seconds: float, sites: GroupSites, tolerance) -> tuple[CurvePoint, ...]:
    most = curve_to - (len(parts) - 1)
    curves = []
    for part in parts if most >= 1 else []:
        known = part.found.cover if part.found is not None and part.served.all() else None
        margin_min = None if part.found is None else part.found.problem.margin_min
        curves.append(part_curve(part.shifts, part.zone, most, seconds / len(parts), known, margin_min))
    points = []
    for k in range(1, curve_to + 1):
        shared = shared_out(curves, k) if most >= 1 else None
        if shared is None:
            points.append(CurvePoint(k, np.nan, np.nan, np.nan, np.nan, np.inf, True))
            continue
        chosen, bound = shared
        factor = max(point.cover.factor for point in chosen)
        dark, excess = _worst(parts, chosen, sites)
        points.append(CurvePoint(k, factor, max(dark, excess), dark, excess, bound, proved(factor, bound, tolerance),
                                 tuple(setting for point in chosen for setting in point.cover.settings)))
    return tuple(points)


def _worst(parts, chosen, sites: GroupSites):
    dark = excess = 0.0
    for part, point in zip(parts, chosen):
        of_row = np.zeros(part.shifts.n, np.int64)
        of_row[point.cover.rows] = point.cover.of_row
        for c, setting in enumerate(point.cover.settings):
            index = part.sites[of_row[part.shifts.unit] == c]
            if index.size:
                worst = drift_at(sites.lat[index], sites.lon[index], setting, part.shifts.basis)
                dark = max(dark, float(worst.worst_dark_min.max()))
                excess = max(excess, float(worst.worst_excess_min.max()))
    return dark, excess


def _compared(parts, sites: GroupSites, basis: Basis, lattice, count, seconds):
    several, names, rules, zones, servable = [], [], [], [], []
    can = np.zeros(sites.n, bool)
    for part in parts:
        can[part.sites[np.isin(part.shifts.unit, np.flatnonzero(part.served))]] = True
    for rule in sorted(set(sites.rule.tolist())):
        index = np.flatnonzero((sites.rule == rule) & (sites.group != ""))
        if index.size == 0:
            continue
        same = [part.shifts for part in parts if np.array_equal(part.sites, index) and part.shifts.n == index.size]
        # A part of the plan that has the same sites, each a row of its own, has the numbers already.
        several.append(same[0] if same else AllowedShifts(sites.lat[index], sites.lon[index], np.arange(index.size), basis, lattice))
        names.append(sites.group[index])
        rules.append(rule)
        zones.append(most_common(sites.zone[index]))
        servable.append(can[index])
    return existing_groups(several, names, rules, zones, servable, count, seconds, int((sites.group == "").sum()))


def _witnesses(solved, sites: GroupSites, deadline: float):
    ids, weights, kinds, bounds = [], [], [], []
    together = False
    for part in solved:
        rows, weight, kind = proof_rows(part.found, deadline)
        first = [int(np.flatnonzero(part.shifts.unit == row)[0]) for row in rows]
        ids.append([sites.ids[part.sites[i]] for i in first])
        together = together or bool((part.shifts.sizes[rows] > 1).any() and (sites.unit[part.sites[first]] != "").any())
        weights.append(weight)
        kinds.append(kind)
        bounds.append(part.found.lower_bound)
    return told(ids, weights, kinds, bounds, [(part.rule, part.value) for part in solved], together)


def _notes(solved, unserved, count: int, lower: int, lattice: KeyLattice, ruled: bool, mended: int) -> tuple[str, ...]:
    settings = f"{count:,} setting{'' if count == 1 else 's'}"
    if count == 0:
        notes = ["No setting was found that serves any of the sites."]
    elif count == lower:
        notes = [f"{settings}, proved: no plan with fewer exists on this keypad{' under the rules that were asked for' if ruled else ''}."]
    else:
        why = ("was not closed within the time limit" if any(part.found.out_of_time for part in solved) else
               "stays, though the search ended before the time limit: the proof cannot rule out settings that make use of a far "
               "longitude or of nights on which the sun grazes the threshold")
        notes = [f"{settings} found; at least {lower:,} {'is' if lower == 1 else 'are'} needed. The gap of {count - lower:,} {why}."]
    without = "" if lattice.offsets else " without offsets"
    proved, found = (sum(one.proved is kind for one in unserved) for kind in (True, False))
    if proved:
        notes.append(f"No setting{without} of this keypad serves {_units(proved)}: in no group.")
    if found:
        notes.append(f"No setting{without} was found that serves {_units(found)}: in no group. Beside nights on which the sun grazes "
                     "the threshold this is not proved.")
    if mended:
        notes.append(f"The plan's own check, night by night, took {_units(mended)} out of a group; a setting of their own was "
                     "looked for.")
    if lattice.blur_min:
        notes.append("The keypad is finer than the search's raster of 1/25 minute; the number that is needed at least allows for that.")
    return tuple(notes)


def _units(count: int) -> str:
    return f"{count:,} site{'' if count == 1 else 's'} (or sites that must stay together)"


def _white_note(sites: GroupSites, group_of_site, basis: Basis) -> str | None:
    """What is judged on nights without dusk, if the plan's sites or settings have any that count."""
    mine = np.flatnonzero(group_of_site[sites.back] != "")
    if not mine.size:
        return None
    without = envelope(lat_deg=sites.lat[mine], lon_deg=sites.lon[mine], year=basis.year, altitude_deg=basis.altitude_deg,
                       shallow_deg=basis.tolerance.shallow_deg).sites_without
    if without.any():
        return (f"On {int((without > 0).sum())} nights some sites have no dusk or no dawn: where the site or its setting has no "
                "night at all, that night is judged by all its minutes unlit or lit too long.")
    return None
