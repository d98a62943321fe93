"""What a run finds out about switching programmes, in one record of tables: what writers of paper and screens are handed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ..numbers import clock
from ..numbers.clock import OffsetSequence
from ..plurals import counted
from ..trade.basis import Basis
from ..trade.keyedevents import events_to_key
from ..trade.programme import DUSK_TO_DAWN, Programme
from ..trade.setting import Setting
from ..trade.switchclock import ClockKeypad, Keying, best_keying
from .assigned import Assigned
from .conditions import Conditions
from .cure import Cure, cure_of
from .datedtables import DatedTable, dated_tables
from .foolish import Finding, Switch, findings_table, foolish_nights
from .hours import comparison_of_settings, energy_per_area_kwh_m2, hours_by, hours_summary, site_hours
from .programme_year import delivered, intended

# Pictures of a year: one a programme and group, as far as a person will look.
PICTURES_AT_MOST = 40


@dataclass(frozen=True, eq=False)
class YearOfLight:
    """What one programme does at one kind of switch over a year.

    Attributes
    ----------
    programme, group : str
        `group` is the label of the setting.
    clock : OffsetSequence
        The legal clock there; `clock_text` says it in words.
    clock_text : str
    sites : int
    lit, dark : (2, n) float64
        Starts and stops [minutes since 1 January 00:00 UTC]: lamps burning as delivered; the sun below the threshold at
        the keyed position.
    """

    programme: str
    group: str
    clock: OffsetSequence
    clock_text: str
    sites: int
    lit: np.ndarray
    dark: np.ndarray


@dataclass(frozen=True, eq=False)
class ProgrammeAnswers:
    """The programmes of a run.

    Attributes
    ----------
    programmes : tuple of Programme
    settings : dict of str to Setting
        What is keyed, by label: the plan's groups, or "shared".
    sites : pandas.DataFrame
        Index-identical with the site table: as `site_hours`, setting_label and key_events (what its switch has to do, with the
        setting's offsets added to the programme's shifts); with a timetable also
        timetable_dark_min and timetable_excess_min.
    hours : pandas.DataFrame
        level ("programme" | "group" | "programme and group" | "site"), programme, group, site_id, sites, lit_h (of one
        site), site_h (of all), sites_with_load, kwh, cost, dark_h, excess_h (of all), lit_01_h .. lit_12_h (of one),
        and kwh_per_m2 where lit areas are known.
    comparison : pandas.DataFrame
        A row a way to set the switches, see `comparison_of_settings`.
    clocks : pandas.DataFrame
        A row a clock rule: clock, sites, keyed (words), exact, wrong_weeks, wrong (words), dark_h, excess_h (what the
        wrong weeks cost at all its sites).
    findings : tuple of Finding
    foolish : pandas.DataFrame
        The same as a table, with `what` in plain words.
    cures : dict of str to Cure
        By programme.
    years : tuple of YearOfLight
    timetables : tuple of DatedTable
    currency : str
    notes : tuple of str
    summary : dict
        The `hours`, `foolish`, `clocks` and `timetable` parts of summary.json.
    """

    programmes: tuple[Programme, ...]
    settings: dict[str, Setting]
    sites: pd.DataFrame
    hours: pd.DataFrame
    comparison: pd.DataFrame
    clocks: pd.DataFrame
    findings: tuple[Finding, ...]
    foolish: pd.DataFrame
    cures: dict[str, Cure]
    years: tuple[YearOfLight, ...]
    timetables: tuple[DatedTable, ...]
    currency: str
    notes: tuple[str, ...]
    summary: dict


def keyed_clocks(clock_rules: pd.DataFrame, year: int, keypad: ClockKeypad) -> dict[int, tuple[OffsetSequence, Keying]]:
    """For each clock rule its legal clock and the best that can be keyed."""
    found = {}
    for rule, row in clock_rules.iterrows():
        legal = clock.offsets(row["legal_zones"][0], year)
        found[int(rule)] = legal, best_keying(legal, year, keypad)
    return found


def wall_clocks(keyed: Mapping[int, tuple[OffsetSequence, Keying]]) -> dict | None:
    """What `programme_year` calls wall_clocks: only clocks that are wrong at some time."""
    return {legal.key: keying.sequence for legal, keying in keyed.values() if not keying.exact} or None


def programme_answers(sites: pd.DataFrame, assigned: Assigned, conditions: Conditions, clock_rules: pd.DataFrame, keyed, *,
                      lit_area_m2=None, timetable: tuple[str, int] | None = None, title: str = "") -> ProgrammeAnswers:
    """Hours, comparison, foolish nights with cures, pictures' data and timetables of a run.

    Parameters
    ----------
    sites : GeoDataFrame
        As the run has it: site_id, lat_deg, lon_deg, solar_lon_deg, legal_zone, clock_rule, load_w.
    assigned : Assigned
        Programme and setting of each site.
    conditions : Conditions
    clock_rules, keyed
        As `clock_rules` and `keyed_clocks` make them.
    lit_area_m2 : (n,) array_like, optional
        Lit area of each site, NaN where unknown.
    timetable : (str, int), optional
        Period and rounding [minute].
    title : str
        Of calendars.
    """
    programmes, settings = assigned.programmes, assigned.settings
    assigned = replace(assigned, setting_of=pd.Series(np.asarray(assigned.setting_of, dtype=object), index=sites.index))
    label, way = assigned.setting_of, "groups" if assigned.groups else "one shared setting"
    table = site_hours(sites, programmes, conditions, programme=assigned.programme_of, settings=settings, setting_of=label)
    table.insert(1, "setting_label", label)
    named = {one.name: one for one in programmes}
    to_key = {pair: "; ".join(one.text() for one in events_to_key(named[pair[0]], settings[pair[1]], conditions.keypad.offset_limit_min))
              for pair in set(zip(table["programme"], label))}
    table["key_events"] = [to_key[pair] for pair in zip(table["programme"], label)]
    clocks = _clocks_table(sites, assigned, conditions, clock_rules, keyed)
    switches = _switches(sites, assigned, conditions)
    findings, cures, foolish_h = [], {}, 0.0
    for programme in programmes:
        found = foolish_nights(programme, switches[programme.name], conditions)
        findings += found
        foolish_h += sum(one.counted_hours * len(one.switch.sites) for one in found)
        if not all(one.harmless for one in found):
            cure = cure_of(programme, switches[programme.name], conditions)
            cures[programme.name] = replace(cure, clock_note=_clock_note(programme, switches[programme.name], keyed))
    burning = sorted({one.programme for one in findings if one.wrong_light})
    comparison = comparison_of_settings(sites, assigned, conditions, foolish=burning, known={way: table})
    foolish = findings_table(findings, programmes, conditions.year)
    foolish.insert(3, "what", [finding.text for finding in findings])
    hours = _hours_table(sites, table, lit_area_m2)
    timetables, notes = (), _notes(clocks, timetable is not None)
    if timetable is not None:
        timetables, drift, said = dated_tables(sites, assigned, conditions, timetable, title)
        table = pd.concat([table, drift], axis=1)
        notes += said
    years = _years(programmes, conditions, switches, clock_rules, sites)
    if len(years) > PICTURES_AT_MOST:
        notes += (f"{len(years)} pairs of programme and group: the {PICTURES_AT_MOST} with most sites have a picture of the year.",)
        most = sorted(range(len(years)), key=lambda i: (-years[i].sites, i))[:PICTURES_AT_MOST]
        years = tuple(years[i] for i in sorted(most))
    summary = {"hours": {**hours_summary(table, comparison), "foolish_h": foolish_h,
                         "currency": conditions.tariff.currency},
               "foolish": foolish.drop(columns="event").to_dict("records"),
               "cures": {name: {"verified": cure.verified, "changes": list(cure.changes), "lines": cure.toml,
                                "sites": cure.sites, "wrong_before_h": cure.wrong_before_h, "wrong_after_h": cure.wrong_after_h,
                                "dark_after_min": cure.dark_after_min, "dark_after_h": cure.dark_after_h,
                                "dark_one_h": cure.dark_one_h, "left": list(cure.left), "clock_note": cure.clock_note}
                         for name, cure in cures.items()},
               "clocks": clocks.to_dict("records")}
    if lit_area_m2 is not None:
        summary["hours"]["kwh_per_m2"] = _per_m2(table["kwh"], lit_area_m2)
    if timetable is not None:
        # A programme that burns all day does so under any times; that says nothing about these.
        sound = table[~table["programme"].isin(burning)]
        summary["timetable"] = {"period": timetable[0], "rounding_min": timetable[1],
                                "worst_dark_min": float(sound["timetable_dark_min"].max()),
                                "worst_excess_min": float(sound["timetable_excess_min"].max()),
                                "sites": len(sound), "sites_with_foolish_programmes": len(table) - len(sound),
                                "periods_not_kept": int(sum((~one.timetable.kept).sum() for one in timetables))}
    return ProgrammeAnswers(tuple(programmes), settings, table, hours, comparison, clocks, tuple(findings), foolish, cures,
                            years, timetables, conditions.tariff.currency, notes, summary)


def _switches(sites, assigned: Assigned, conditions: Conditions) -> dict[str, list[Switch]]:
    """Switches that act alike, by programme: one a setting and legal clock."""
    wall, settings = conditions.wall_clocks or {}, assigned.settings
    found: dict[str, list[Switch]] = {}
    keys = [np.asarray(assigned.programme_of, dtype=object), assigned.setting_of.to_numpy(object), sites["clock_rule"].to_numpy()]
    for (programme, name, _), rows in sites.groupby(keys, sort=True):
        zone = rows["legal_zone"].mode().iloc[0]
        shown_zone = settings[name].legal_zone if conditions.switch_clock == "master" else zone
        found.setdefault(programme, []).append(Switch(str(name), settings[name], zone, tuple(rows["site_id"].astype(str)),
                                                      wall.get(clock.offsets(shown_zone, conditions.year).key)))
    return found


def _clock_note(programme: Programme, switches, keyed) -> str:
    """For which clocks the cure of a programme was run, where one of them is not legal time and clock times depend on it."""
    if all(event.by_sun for event in programme.events):
        return ""
    walls = {switch.wall.key for switch in switches if switch.wall is not None}
    said = [keying.switch_clock.text() for _, keying in keyed.values() if keying.sequence.key in walls]
    if not said:
        return ""
    return f"Holds only for switches whose clock is keyed as {' or '.join(dict.fromkeys(said))}, which is not always legal time."


def _clocks_table(sites, assigned: Assigned, conditions: Conditions, clock_rules, keyed) -> pd.DataFrame:
    rows = []
    for rule, (_, keying) in keyed.items():
        mine = (sites["clock_rule"] == rule).to_numpy()
        dark = excess = 0.0
        if not keying.exact and mine.any():
            # At each site's own position, so that the clock alone makes the difference.
            with_it, without = (site_hours(sites[mine], assigned.programmes, one, programme=np.asarray(assigned.programme_of, dtype=object)[mine])
                                for one in (conditions, replace(conditions, wall_clocks=None)))
            dark, excess = ((with_it[side] - without[side]).sum() for side in ("dark_h", "excess_h"))
        rows.append([clock_rules.loc[rule, "text"], int(mine.sum()), keying.switch_clock.text(), keying.exact,
                     round(keying.wrong_weeks, 2), wrong_text(keying), float(dark), float(excess)])
    return pd.DataFrame(rows, columns=["clock", "sites", "keyed", "exact", "wrong_weeks", "wrong", "dark_h", "excess_h"])


def wrong_text(keying: Keying) -> str:
    """When a keyed clock is wrong, in words; the hours between two changes of one day are left out where there is more."""
    spans = [span for span in keying.wrong if span.weeks > 0.1] or list(keying.wrong)
    return "; ".join(span.text() for span in spans)


def clock_words(keying: Keying) -> str:
    """Standard time and summer-time rule to key, and when that is not legal time."""
    return keying.switch_clock.text() + ("" if keying.exact else f"; not legal time: {wrong_text(keying)}")


def clock_to_key(legal_zone: str, basis: Basis) -> str:
    """The same for a legal zone and a plan's keypad."""
    return clock_words(best_keying(clock.offsets(legal_zone, basis.year), basis.year, basis.keypad.clocks))


def _notes(clocks: pd.DataFrame, dated: bool) -> tuple[str, ...]:
    return tuple(f"No clock of this keypad always shows the legal time {row.clock} ({counted(row.sites, 'site')}). Nearest: {row.keyed}; "
                 f"wrong {row.wrong}. Dusk and dawn are not affected, clock times are"
                 + (", and all times of a dated timetable." if dated else ".")
                 for row in clocks[~clocks["exact"]].itertuples())


def _hours_table(sites, table: pd.DataFrame, lit_area_m2) -> pd.DataFrame:
    levels = [("programme", ["programme"]), ("group", ["setting_label"]), ("programme and group", ["programme", "setting_label"])]
    parts = []
    area = None if lit_area_m2 is None else pd.Series(np.asarray(lit_area_m2, dtype=float), index=table.index)
    for level, keys in levels:
        joined = table[keys].apply(tuple, axis=1)
        by = hours_by(table, joined)
        found = by.reset_index(drop=True)
        for place, key in enumerate(keys):
            found[key] = [one[place] for one in by.index]
        if area is not None:
            found["kwh_per_m2"] = [_per_m2(table["kwh"][joined == one], area[joined == one]) for one in by.index]
        parts.append(found.assign(level=level))
    single = table[[c for c in table.columns if c.startswith("lit_")] +
                                      ["programme", "setting_label", "kwh", "cost", "dark_h", "excess_h"]].copy()
    single = single.assign(level="site", site_id=sites["site_id"], sites=1, site_h=single["lit_h"],
                           sites_with_load=single["kwh"].notna().astype(int))
    if area is not None:
        single["kwh_per_m2"] = np.where(area > 0, single["kwh"] / area.where(area > 0), np.nan)
    whole = pd.concat([*parts, single], ignore_index=True).rename(columns={"setting_label": "group"})
    first = ["level", "programme", "group", "site_id", "sites", "lit_h", "site_h", "sites_with_load", "kwh", "cost",
             "dark_h", "excess_h"]
    for name in ("programme", "group", "site_id"):
        whole[name] = whole[name].fillna("")
    return whole[first + [c for c in whole.columns if c not in first]]


def _per_m2(kwh, area_m2) -> float:
    """Of the sites whose load and area are both known; NaN if there is none."""
    kwh, area = np.asarray(kwh, dtype=float), np.asarray(area_m2, dtype=float)
    known = np.isfinite(kwh) & (area > 0)
    return energy_per_area_kwh_m2(kwh[known].sum(), area[known].sum()) if known.any() else float("nan")


def _years(programmes, conditions: Conditions, switches, clock_rules, sites) -> tuple[YearOfLight, ...]:
    zone_text = {zone: row["text"] for _, row in clock_rules.iterrows() for zone in row["legal_zones"]}
    out = []
    for programme in programmes:
        for one in switches.get(programme.name, ()):
            legal = clock.offsets(one.legal_zone, conditions.year)
            union = delivered(programme, legal, conditions, one.setting)
            lon = one.setting.lon_deg
            dark = intended(DUSK_TO_DAWN, lat_deg=one.setting.lat_deg, lon_deg=lon, legal_zone=one.legal_zone,
                            year=conditions.year, altitude_deg=conditions.altitude_deg)
            out.append(YearOfLight(programme.name, one.label, legal, zone_text.get(one.legal_zone, one.legal_zone),
                                   len(one.sites), union.ends, dark.ends))
    return tuple(out)
