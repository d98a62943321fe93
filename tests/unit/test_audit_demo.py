"""The demo's as-found list: made again by its script, and every slip in it found by the audit, which knows nothing of the script."""

import csv
import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.jobs.asfound import found_at, nothing_found
from geozone.jobs.auditplan import audited, right_settings
from geozone.jobs.job import read_job
from geozone.jobs.logged import logged_at
from geozone.paper.carddata import keyed_of
from geozone.places.foundlists import read_found
from geozone.places.loglists import read_log
from geozone.screens.console import audit_report

DATA = Path(__file__).parents[2] / "data"
MADE = runpy.run_path(str(DATA / "make_found.py"))
LOG = runpy.run_path(str(DATA / "make_log.py"))


@pytest.fixture(scope="module")
def answers():
    return MADE["demo_answers"]()


def test_the_script_makes_the_list_again(answers):
    with open(DATA / "border" / "as_found.csv", encoding="utf-8", newline="") as file:
        shipped = list(csv.DictReader(file))
    assert [{name: str(value) for name, value in row.items()} for row in MADE["rows"](answers)] == shipped
    assert 115 <= len(shipped) <= 125


def test_every_slip_in_it_is_found(answers):
    job = read_job(DATA / "border" / "job.toml")
    settings, plain, keyings = right_settings(answers)
    ids = answers.sites["site_id"].tolist()
    rights = [keyed_of(*both, answers.altitude_deg) for both in zip(settings, keyings, strict=True)]
    found = found_at(read_found(DATA / "border" / "as_found.csv"), ids, rights, answers.keypad, answers.year)
    assert len(found.rejects) == 5
    done = audited(job, answers, settings, plain, keyings, found, lambda text: None)
    table = done.audit.set_index("site_id")
    kinds, wrong = set(), 0
    for row, slip in MADE["switches"](answers):
        if row["site_id"] in set(found.rejects["value"]):
            continue
        told = table.loc[row["site_id"]]
        if slip is None:
            assert told["reading"] == "agrees", row
            continue
        kinds.add(slip.key)
        assert told["reading"] in ("agrees", "differs"), row
        wrong += told["reading"] == "differs"
        # One that cannot be seen today is never passed for right without its name, unless it is in the clock and no watch was read.
        if told["reading"] == "agrees" and not (slip.about == "clock" and not row["true_time"]):
            assert told["fits_as_well"] or slip.key in ("last_year",) or "digit" in slip.key or "swapped" in slip.key or "offset" in slip.key, (row, slip.key)
    assert len(kinds) >= 40 and wrong >= 30
    # What the plan burns at each site is what the run itself says, way by way another piece of the program.
    own = answers.programmes.sites["kwh"].to_numpy()
    np.testing.assert_allclose(done.audit["plan_kwh"], own, rtol=1e-6)
    np.testing.assert_allclose(done.audit["plan_cost"], answers.programmes.sites["cost"], rtol=1e-6)
    figures, today = done.summary["audit"]["costs"], done.audit[done.audit["dark_h"].notna()]
    assert (figures["currency"], figures["sites"]) == ("AUD", len(today)) and figures["kwh"] == pytest.approx(today["kwh"].sum(), abs=0.1)
    assert figures["cost"] - figures["plan_cost"] == pytest.approx((today["cost"] - today["plan_cost"]).sum(), abs=0.02)
    assert figures["dark_h"] > 5 * figures["plan_dark_h"]
    agrees = done.audit[done.audit["reading"] == "agrees"]
    assert (agrees["kwh"] == agrees["plan_kwh"]).all() and done.audit.loc[done.audit["reading"] == "not read", ["kwh", "cost"]].isna().all().all()
    work = done.work
    assert len(work) == wrong and (work["dark_h"].diff().dropna() <= 1 / 60).all()
    assert work["work_day"].value_counts().max() <= 12 and work.loc[work["rank"] == 1, "work_day"].item() == 1
    said = audit_report(done, Path("audit"))
    assert f"Today       {figures['dark_h']:,.0f} h a year unlit at {len(today)} sites" in said and " AUD a year at " in said
    assert f"Work        {wrong} sites on " in said
    assert "Caution     Work at the supply is for qualified people under local rules, which prevail; isolate and prove dead first." in said
    assert "A lamp found unlit on a live road is reported at once." in said


#: What the log of each kind of site must come to, and a word of what is possible.
SAID = {"right": ("agrees", "the right setting"), "rule off, put right by hand": ("differs", "summer time off, clock put right by hand"),
        "rule off, clock on standard time": ("differs", "summer time off, clock left on standard time"), "longitude digit": ("differs", "longitude 1"),
        "latitude digit": ("differs", "latitude 2"), "clock fast": ("differs", "clock some minutes off"), "sensor": ("light sensor", "one sky"),
        "scatter": ("scatters", "for security"), "a few nights": ("too few nights", "too few")}


def test_the_demo_log_is_made_again_and_says_what_was_done(answers):
    with open(DATA / "border" / "switched.csv", encoding="utf-8", newline="") as file:
        shipped = list(csv.DictReader(file))
    assert LOG["rows"](answers) == shipped and len(shipped) < 700
    settings, plain, keyings = right_settings(answers)
    ids, zones = answers.sites["site_id"].tolist(), answers.sites["legal_zone"].astype(str).tolist()
    logged = logged_at(read_log(DATA / "border" / "switched.csv"), ids, zones, answers.year)
    assert len(logged.rejects) == 3 and logged.rows == len(shipped)
    done = audited(read_job(DATA / "border" / "job.toml"), answers, settings, plain, keyings, nothing_found(), lambda text: None, logged)
    told, audit = done.logs.set_index("site_id"), done.audit.set_index("site_id")
    for site, kind in LOG["watched"](answers):
        if kind in SAID:
            state, words = SAID[kind]
            assert told.loc[ids[site], "log"] == audit.loc[ids[site], "log"] == state, (ids[site], kind)
            assert words in told.loc[ids[site], "possible"], (ids[site], kind)
    assert "2027-04-12" in " ".join(told["clock_steps"]) and set(done.work["site_id"]) == set(told.index[told["log"].isin(["differs", "no known slip"])])
