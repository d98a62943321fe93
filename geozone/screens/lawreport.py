"""What a change of law means, said on the terminal."""

from __future__ import annotations

import sys
from pathlib import Path

from ..errors import visible
from ..plurals import counted

#: Zones that are said one by one; all are in the files.
_SHOWN = 12


def law_report(done, out: Path, quiet: bool = False) -> str:
    """The answer of a comparison of two laws in one screen of plain words."""
    where = str(out) if not sys.stdout.isatty() else visible(str(out))
    if quiet:
        return where
    figures = done.summary["rules"]
    count, visits = figures["changes"], figures["visits"]
    names = [f"{one['version']} ({one['name']})" if one["version"] else one["name"] for one in (figures["from"], figures["to"])]
    lines = [f"{done.title} ({done.year}): change of law", "",
             f"Compared    {names[0]} with {names[1]}, the years {figures['first_year']} to {figures['last_year']}",
             f"Same        {counted(count['same'], 'site')} of {figures['sites']:,}"]
    changed = [zone for zone in figures["zones"] if zone["change"] in ("visit", "stays")]
    if count["visit"]:
        whom = f"the one switch that commands {counted(count['visit'], 'site')}" if visits["one_switch"] else (
            f"{counted(count['visit'], 'site')} on {counted(visits['days'], 'day')}, the first")
        lines.append(f"Visit       {whom} by {visits['first_date']}; see rules.csv")
    lines += [line for zone in changed[:_SHOWN] for line in zone_lines(zone)]
    if len(changed) > _SHOWN:
        lines.append(f"            and {counted(len(changed) - _SHOWN, 'more zone')} in summary.json")
    if count["not known"]:
        lines.append(f"Not known   {counted(count['not known'], 'site')}: see the notes")
    if count["visit"]:
        lines.append("Lamps       " + done.summary["cautions"][1])
        if visits["clock_events"]:
            lines.append(f"            Events at a clock time: {counted(visits['clock_events'], 'site')} of these")
    lines += [f"Note        {note}" for note in done.notes]
    # As long as there is somebody to send out.
    lines += [f"Caution     {done.summary['cautions'][place]}" for place in (0, 3)] if count["visit"] else []
    return "\n".join(map(visible, lines)) + f"\nWritten     {where}"


def zone_lines(zone: dict) -> list[str]:
    """What changes in one legal zone, from the summary's record of it."""
    off = f"{abs(zone['clock_off_min']):g} min {'ahead of' if zone['clock_off_min'] > 0 else 'behind'} legal time"
    since = "at the latest " if zone["since_before"] else ""
    head = f"            {zone['legal_zone']} ({counted(zone['sites'], 'site')}): from {since}{zone['from_date']} a clock keyed to {zone['clock_before']} is {off}"
    if zone["change"] == "stays":
        return [head + f", {zone['wrong_weeks']:.1f} weeks of the year from then; no clock of the keypad does better over that year, so it stays keyed"]
    early = f"; it shows legal time from {zone['right_from']} already, so a visit between these dates is in time" if zone["right_from"] < zone["from_date"] else ""
    left = f"; it is wrong for {zone['key_wrong_weeks']:.1f} weeks of the year from then as well" if zone["key_wrong_weeks"] else ""
    return [head, f"              key {zone['key_clock']}{early}{left}"]
