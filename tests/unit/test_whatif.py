"""What would be if the job were another: the figures are those of a run of that job, and only what was asked about changes in its text."""

import difflib
from pathlib import Path

import pytest

from geozone.desk.jobtext import JobText
from geozone.desk.whatif import asked_job, fields_of, rows_of, sentence_of
from geozone.errors import InputError
from geozone.jobs import plan
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import job_of_text, read_job
from geozone.jobs.kept import keep
from geozone.jobs.trial import trial

EXAMPLE = examples_folder() / "template" / "job.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")
SUMMARY = {"shared": {"lat_deg": -34.6, "lon_deg": 143.9, "legal_zone": "Australia/Sydney", "dusk_offset_min": 1, "dawn_offset_min": -1}}


def changes(old, new):
    return [line[2:] for line in difflib.ndiff(old.splitlines(), new.splitlines()) if line[0] in "+-"]


def asked(text=TEXT, summary=SUMMARY, **posted):
    names = {"dark": "tolerance.dark_min", "excess": "tolerance.excess_min", "kind": "dark.kind", "value": "dark.value", "lat": "shared.lat_deg",
             "lon": "shared.lon_deg", "dusk": "shared.dusk_offset_min", "dawn": "shared.dawn_offset_min"}
    job = JobText(text)
    return asked_job(job, {**fields_of(job.data, summary).values, **{names[key]: one for key, one in posted.items()}}, summary).text


def test_a_question_that_changes_nothing_leaves_the_text():
    assert asked() == TEXT
    for name in ("border", "town"):
        text = (examples_folder() / name / "job.toml").read_text(encoding="utf-8")
        assert asked(text) == text and asked(text, {}) == text


def test_only_what_was_asked_about_changes():
    assert [line.split("#")[0].strip() for line in changes(TEXT, asked(dark="2,5"))] == ["dark_min = 5", "dark_min = 2.5"]
    made = asked(lat="-34.9", dusk="-3")
    assert [line.split("#")[0].strip() for line in changes(TEXT, made)] == ["lat_deg = -34.6", "lat_deg = -34.9", "dusk_offset_min = 0", "dusk_offset_min = -3"]
    made = job_of_text(asked(kind="twilight", value="civil"), EXAMPLE)
    assert made.dark.given == ("twilight", "civil") and made.basis.altitude_deg == -6
    assert job_of_text(asked(kind="illuminance_lx", value="20"), EXAMPLE).dark.given == ("illuminance_lx", 20)


def test_a_setting_that_geozone_found_is_written_only_where_it_is_moved():
    text = JobText(TEXT)
    for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min"):
        text = text.without(("shared", name))
    shown = fields_of(text.data, SUMMARY)
    assert shown.found and shown.movable and shown.values["shared.lon_deg"] == "143.9"
    assert asked(text.text) == text.text and not fields_of(text.data, {}).movable
    moved = job_of_text(asked(text.text, lon="144.2"), EXAMPLE).shared
    assert (moved.lat_deg, moved.lon_deg, moved.legal_zone, moved.dusk_offset_min, moved.dawn_offset_min) == (-34.6, 144.2, "Australia/Sydney", 1, -1)
    assert asked(text.text, {}, lon="144.2") == text.text  # whose clock is not known


@pytest.fixture(scope="module")
def kept():
    return keep(read_job(EXAMPLE))


@pytest.mark.parametrize("posted", [{"dark": "2"}, {"lat": "-35.2", "lon": "143.1", "dusk": "4", "dawn": "-2"}])
def test_figures_are_those_of_a_run_of_that_job(kept, posted):
    job = job_of_text(asked(**posted), EXAMPLE)
    assert kept.fits(job, setting_too=False) and kept.fits(job) is ("lat" not in posted)
    parts = {}
    for part in trial(job, kept.placed, (5.0,)):
        parts.update(part)
    run = plan.compute(job, kept=kept).summary
    one, found = parts["verdicts"], parts["settings"]
    assert [one[key] for key in ("within", "beyond", "other_clock")] == [run["drift"][f"sites_{key}"] for key in ("within", "beyond", "other_clock")]
    assert [one[key] for key in ("dark_min", "excess_min")] == [run["drift"]["same_clock"][f"worst_{key}"] for key in ("dark_min", "excess_min")]
    assert one["setting"] == {key: run["shared"][key] for key in one["setting"]} and one["dark"] == run["job"]["dark_threshold"]
    assert (found["found"], found["at_least"], found["proved"]) == (run["groups"]["count"], run["groups"]["lower_bound"], run["groups"]["proved"])
    assert all(row.same or row.more for row in rows_of(run, parts)) and not any(row.more for row in rows_of(run, parts))


def test_what_was_kept_fits_as_long_as_the_files_say_the_same(tmp_path):
    for name in ("job.toml", "sites.csv", "areas.geojson"):
        (tmp_path / name).write_bytes((EXAMPLE.parent / name).read_bytes())
    job, said = read_job(tmp_path / "job.toml"), []
    once = keep(job, said.append)
    assert once.fits(job) and len(said) == 2
    for text in (TEXT.replace("dark_min = 5", "dark_min = 4"), TEXT.replace('title = "', 'title = "Another ')):
        assert once.fits(job_of_text(text, tmp_path / "job.toml"))
    for text in (TEXT.replace("year = 2027", "year = 2028"), TEXT.replace('# name = "name"', 'name = "site_id"'), TEXT.replace("lat_deg = -34.6", "lat_deg = -34.7")):
        assert not once.fits(job_of_text(text, tmp_path / "job.toml"))
    (tmp_path / "sites.csv").write_text((tmp_path / "sites.csv").read_text().replace("144.", "145.", 1))
    assert not once.fits(job)


def test_a_setting_of_another_place_is_refused_as_by_a_run(kept):
    job = job_of_text(asked(lat="51.5"), EXAMPLE)
    with pytest.raises(InputError) as said:
        list(trial(job, kept.placed, (1.0,)))
    with pytest.raises(InputError) as by_run:
        plan.compute(job)
    assert str(said.value) == str(by_run.value)


def test_words_say_no_more_than_is_known():
    one = {"verdicts": {"within": 3, "beyond": 1, "other_clock": 2}}

    def said(done=True, **more):
        return sentence_of({**one, "settings": {"found": 2, "at_least": 2, "proved": True, "last": True, "in_no_group": 0, **more}}, done)

    assert said() == "One setting: 3 within, 1 beyond, 2 on another clock. 2 settings; fewer will not do under this job's conditions."
    assert said(found=1, at_least=1).endswith("clock. 1 setting.")
    assert said(found=3, proved=False).endswith("3 settings found; at least 2 are needed.")
    assert "so far" in said(False, found=3, proved=False, last=False)
    assert said(found=0, at_least=0, in_no_group=6).endswith("No setting was found that serves any site.")
    assert said(in_no_group=1).endswith(" 1 site would be in no group.")
    assert sentence_of(one, True).endswith("another clock.") and sentence_of({**one, "settings": None}, True).endswith("another clock.")


def test_a_job_that_asks_for_no_groups_is_told_no_number(kept):
    job = job_of_text(JobText(TEXT).without_section(("groups",)).text, EXAMPLE)
    assert list(trial(job, kept.placed, (1.0,)))[-1] == {"settings": None}
    assert Path(job.called).name == "job.toml"
