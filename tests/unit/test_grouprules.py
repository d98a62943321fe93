"""What a plan says of its own rules: which pairs only the tolerance parts, and which a rule parts.

Checked against the drift itself: every position of a coarse keypad with every offset, night by night, for each pair of
witnesses. Nothing of the search is used there.
"""

import itertools

import numpy as np
import pytest

from geozone.grouping.grouprules import GroupRules, headline, kept_apart_by, what_keeps_apart
from geozone.grouping.groups import fewest_groups
from geozone.grouping.siteparts import GroupSites
from geozone.grouping.witnesses import told
from geozone.numbers.sun import switch_times
from geozone.trade.basis import Basis
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance

YEAR, ALTITUDE, STEP, LIMIT = 2027, -4.0, 0.5, 2
TOLERANCE = Tolerance(3, 6)
LAT = np.array([-35.0, -35.01, -35.5, -36.4, -34.2, -35.02, -36.39, -34.21, -35.0, -35.3])
LON = np.array([140.0, 140.01, 141.8, 143.2, 144.5, 141.75, 143.25, 144.52, 146.0, 140.6])
ZONE = np.where(LON < 141, "Australia/Adelaide", "Australia/Melbourne")
DISTRICT = np.array(["w", "e", "w", "w", "e", "e", "e", "w", "e", "w"], dtype=object)
CABINET = np.array(["", "", "c1", "", "c2", "", "", "", "c2", ""], dtype=object)


@pytest.fixture(scope="module")
def extremes():
    """Of every keyed position and site: the latest and earliest dusk and dawn over the year, offsets nought [minute]."""
    lat, lon = (axis.ravel() for axis in np.meshgrid(np.arange(-38.0, -32.0, STEP), np.arange(137.0, 149.5, STEP)))
    keyed = switch_times(lat_deg=lat, lon_deg=lon, year=YEAR, altitude_deg=ALTITUDE)
    own = switch_times(lat_deg=LAT, lon_deg=LON, year=YEAR, altitude_deg=ALTITUDE)
    found = []
    for key, site in ((keyed.dusk_utc_min, own.dusk_utc_min), (keyed.dawn_utc_min, own.dawn_utc_min)):
        late = key[:, None, :] - site[None, :, :]
        found += [late.max(axis=2), late.min(axis=2)]
    return found


def one_setting_serves(sites, extremes, offsets) -> bool:
    """Whether some position and some whole offsets keep all these sites within tolerance on every night."""
    limit = LIMIT if offsets else 0
    dusk_most, dusk_least, dawn_most, dawn_least = (values[:, sites] for values in extremes)
    can = np.ones(len(dusk_most), bool)
    for most, least, late, early in ((dusk_most, dusk_least, TOLERANCE.dark_min, TOLERANCE.excess_min),
                                     (dawn_most, dawn_least, TOLERANCE.excess_min, TOLERANCE.dark_min)):
        low = np.maximum(np.ceil((-early - least).max(axis=1) - 1e-6), -limit)
        high = np.minimum(np.floor((late - most).min(axis=1) + 1e-6), limit)
        can &= low <= high
    return bool(can.any())


def unit_of(site: int, together: bool) -> list[int]:
    mates = np.flatnonzero(CABINET == CABINET[site]) if together and CABINET[site] else [site]
    return [int(one) for one in mates]


# Half of the sixteen combinations, in which every three of the rules still meet in all ways.
@pytest.mark.parametrize("clocks, within, together, offsets",
                         [(*three, sum(three) % 2 == 0) for three in itertools.product((False, True), repeat=3)])
def test_every_pair_of_witnesses_is_parted_by_what_is_said(extremes, clocks, within, together, offsets):
    zone = ZONE if clocks else np.full(len(LAT), "Australia/Melbourne")
    sites = GroupSites(LAT, LON, YEAR, legal_zone=zone, within=DISTRICT if within else None, keep_together=CABINET if together else None,
                       site_id=np.arange(len(LAT)))
    plan = fewest_groups(sites, Basis(YEAR, ALTITUDE, TOLERANCE, Keypad(STEP, LIMIT)), offsets=offsets)
    rules = GroupRules("cabinet" if together else "", "district" if within else "", offsets)
    witnesses, said = plan.witnesses, what_keeps_apart(plan.witnesses, rules)
    assert witnesses.kind == "apart" and len(witnesses.site_ids) == plan.lower_bound
    parted, free = set(), 0
    for a, b in itertools.combinations(witnesses.site_ids, 2):
        served = one_setting_serves(unit_of(a, together) + unit_of(b, together), extremes, offsets)
        if zone[a] != zone[b]:
            parted.add("clock")
        elif within and DISTRICT[a] != DISTRICT[b]:
            parted.add("within")
        else:
            parted.add("tolerance")
            assert not served, (a, b)
            continue
        free += served
    assert set(witnesses.apart_by) == parted
    assert ("holds one clock" in said) == ("clock" in parted)
    assert ("No group leaves its “district”" in said) == ("within" in parted)
    assert ("would break the tolerance" in said) == ("tolerance" in parted)
    words = {"clock": "their clocks", "within": "leaves its “district”", "tolerance": "the tolerance"}
    assert {name for name, text in words.items() if text in kept_apart_by(witnesses, rules)} == parted
    if within:
        assert free, "two witnesses that one setting serves: only the rule parts them"
    if free:
        assert "Any two of them" not in said
    assert ("each with the sites of its “cabinet”" in said) <= together
    # "Fewer cannot" is said under the rules that were asked for, and no others.
    text = headline(plan.count, plan.lower_bound, len(LAT), 0, rules)
    assert ("leaves its “district”" in text, "“cabinet” stays together" in text, "no offsets" in text) == (within, together, not offsets)
    assert ("under the rules" in plan.notes[0]) == (within or together or not offsets)


@pytest.mark.parametrize("rules, sentence", [
    (GroupRules(), "7 settings serve all 40 sites, and fewer cannot."),
    (GroupRules(within="district"), "7 settings serve all 40 sites, and fewer cannot if no group leaves its “district”."),
    (GroupRules("cabinet", "district", False), "7 settings serve all 40 sites, and fewer cannot if each “cabinet” stays together, "
                                               "no group leaves its “district” and no offsets are keyed."),
])
def test_the_headline_names_its_rules(rules, sentence):
    assert headline(7, 7, 40, 0, rules) == sentence


@pytest.mark.parametrize("count, lower, n, without, rules, sentence", [
    (7, 6, 40, 0, GroupRules(offsets=False), "7 settings serve all 40 sites; at least 6 are needed if no offsets are keyed."),
    (1, 1, 40, 0, GroupRules(within="d"), "One setting serves all 40 sites."),
    (2, 2, 40, 3, GroupRules("cabinet"), "2 settings serve 37 of 40 sites, and fewer cannot if each “cabinet” stays together; "
                                         "the other 3 are in no group."),
    (1, 1, 2, 1, GroupRules(offsets=False), "One setting serves 1 of 2 sites; no setting without offsets serves the other one."),
    (0, 0, 40, 40, GroupRules("cabinet"), "No setting that the keypad holds serves any “cabinet” of the 40 sites whole."),
    (0, 0, 1, 1, GroupRules("cabinet"), "No setting that the keypad holds serves the one site."),
    (0, 0, 5, 5, GroupRules(offsets=False), "No setting without offsets that the keypad holds serves any of the 5 sites."),
])
def test_the_headline_where_not_all_is_served(count, lower, n, without, rules, sentence):
    assert headline(count, lower, n, without, rules) == sentence


def test_weights_of_several_fields_are_not_added_up():
    """1.3 and 1.3 make 2.6, and yet four settings are needed, two for each clock."""
    found = told([["a", "b"], ["c", "d"]], [np.array([0.7, 0.6])] * 2, ["weights"] * 2, [2, 2], [(0, ""), (1, "")])
    assert "2.60" not in found.sentence and found.sentence.endswith("that makes at least 4 settings.")
    assert found.apart_by == ("tolerance", "clock") and what_keeps_apart(found, GroupRules()) == "A setting holds one clock."


def test_weights_that_fall_short_of_the_bound_are_not_said_to_prove_it():
    """An exact search may raise the bound above what the weights add up to."""
    found = told([["a", "b", "c"]], [np.array([0.5, 0.5, 0.5])], ["weights"], [3])
    assert "at least 2 settings are needed." in found.sentence and "plans with 2 settings found none" in found.sentence
    assert found.weight == (0.5, 0.5, 0.5)
    mixed = told([["a", "b", "c"], ["d", "e"]], [np.array([0.5, 0.5, 0.5]), np.ones(2)], ["weights", "together"], [2, 1],
                 [(0, ""), (1, "")])
    assert (mixed.kind, mixed.weight) == ("together", (1.0,) * 5) and "alone need 3 settings: 2 cannot" in mixed.sentence


def test_no_plan_needs_no_witness():
    assert told([], [], [], []).sentence == ""
