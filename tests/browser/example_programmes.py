"""Programmes run through the year at invented sites: the figures are geozone's own, the sites and programmes made up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from geozone.answers import Answers
from geozone.switching.assigned import Assigned
from geozone.switching.conditions import Conditions
from geozone.switching.programmeanswers import keyed_clocks, programme_answers, wall_clocks
from geozone.switching.tariff import Tariff
from geozone.trade.programme import DAY_SETS, Event, Programme
from geozone.trade.setting import Setting
from geozone.trade.switchclock import ClockKeypad

WORKDAYS = frozenset((6, 0, 1, 2, 3))
ALL_NIGHT = Programme("all night", (Event("on", "dusk"), Event("off", "dawn")))
PART_NIGHT = Programme("part of the night", (
    Event("on", "dusk"), Event("off", 1410, days=WORKDAYS), Event("off", 60, days=DAY_SETS["weekend"] ^ {6} | {4}),
    Event("on", 315, days=WORKDAYS), Event("off", "dawn")))
# In summer dawn comes before 06:15 and nothing switches the lamps off again until the evening.
BAKERS = Programme("bakers' lane", (Event("on", "dusk"), Event("off", 1320), Event("on", 375), Event("off", "dawn")))


def with_programmes(answers: Answers, programmes=(ALL_NIGHT, PART_NIGHT, BAKERS), *, rarely=4, currency="AUD", price=0.31,
                    settings: dict[str, Setting] | None = None, keypad: ClockKeypad = ClockKeypad(),
                    timetable=("fortnight", 5), event_limit=None) -> Answers:
    """The same answers with programmes.

    The last programme runs at `rarely` sites, the others take turns. `settings` by label, one for each legal zone, whose
    sites get it (zones without one get the last); left out, the shared setting is keyed everywhere.
    """
    sites, n = answers.sites, len(answers.sites)
    turn = np.arange(n) % max(1, len(programmes) - 1)
    if len(programmes) > 1:
        turn[np.linspace(0, n - 1, rarely).astype(int)] = len(programmes) - 1
    programme_of = pd.Series([programmes[k].name for k in turn], index=sites.index)
    keyed = keyed_clocks(answers.clock_rules, answers.year, keypad)
    basis = replace(answers.basis, keypad=replace(answers.keypad, event_limit=event_limit, clocks=keypad))
    conditions = Conditions.of(basis, tariff=Tariff(price, currency=currency), wall_clocks=wall_clocks(keyed))
    if settings is None:
        label, keyed_settings = np.full(n, "shared", dtype=object), {"shared": answers.setting}
    else:
        by_zone = {one.legal_zone: name for name, one in settings.items()}
        label = sites["legal_zone"].map(lambda zone: by_zone.get(zone, list(settings)[-1])).to_numpy(object)
        keyed_settings = settings
    assigned = Assigned(tuple(programmes), programme_of, keyed_settings, label, answers.setting, settings is not None)
    found = programme_answers(sites, assigned, conditions, answers.clock_rules, keyed, timetable=timetable, title=answers.title)
    return replace(answers, programmes=found, notes=(*answers.notes, *found.notes))
