"""The form against the reader of the job: it covers every key, shows what the file says, and writes what the reader takes."""

import difflib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geozone.desk.fields import form, section_named
from geozone.desk.jobform import NEW_TABLES, _all_fields, changed, edited, shown_form
from geozone.desk.jobtext import JobText
from geozone.desk.labels import KEYS, SECTIONS
from geozone.errors import InputError
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import JobFile, all_faults, read_job
from geozone.jobs.keys import keys_of, sections_in

DEMO = (examples_folder() / "border" / "job.toml").read_text(encoding="utf-8")


def fields_in(section):
    yield from ((section.name, field) for field in section.fields)
    for inner in section.below:
        yield from fields_in(inner)


def shown(text, path="job.toml"):
    return shown_form(JobText(text).data, all_faults(text, Path(path)))


def test_the_form_has_every_key_of_the_job_and_no_other():
    have = {f"{name}.{field.path[0]}" for section in form() for name, field in fields_in(section)}
    assert have == {key.dotted for key in keys_of(JobFile)} and len(have) > 80
    assert set(KEYS) == have and set(SECTIONS) == {".".join(path) for path in sections_in(JobFile) if path and section_named(".".join(path))}
    assert all(field.sentence and field.label for section in form() for _, field in fields_in(section))
    for section in filter(None, map(section_named, SECTIONS)):
        assert section.many == (section.name in NEW_TABLES), section.name


def test_a_form_sent_back_as_it_was_changes_nothing():
    for name in ("border", "town", "template"):
        text = (examples_folder() / name / "job.toml").read_text(encoding="utf-8")
        sections, others = shown(text)
        assert not others and not sum(one.wrong for one in sections)
        posted = {one.name: one.text.replace("\n", "\r\n") for one in _all_fields(sections)}
        assert len(posted) > 60 and edited(JobText(text), posted).text == text


def test_one_edit_changes_one_line():
    made = edited(JobText(DEMO), {"tolerance.dark_min": "2,5", "tolerance.excess_min": "6", "nothing.at_all": "x"})
    lines = [line for line in difflib.ndiff(DEMO.splitlines(), made.text.splitlines()) if line[0] in "+-"]
    assert len(lines) == 2 and lines[1].startswith("+ dark_min = 2.5 ")


def test_what_is_invalid_is_said_at_its_field_in_the_words_of_the_command_line(tmp_path):
    job = edited(JobText(DEMO), {"tolerance.dark_min": "a few", "programme.1.event.1.at": "25:00", "holidays.dates": "2027-01-01\nsome day",
                                 "programme.2.event.0.season.from": "13-01", "dark.twilight": "civil", "job.title": ""})
    sections, others = shown(job.text)
    wrong = {one.name: str(one.error) for one in _all_fields(sections) if one.error}
    assert set(wrong) == {"tolerance.dark_min", "programme.1.event.1.at", "holidays.dates", "programme.2.event.0.season.from",
                          "programme.2.event.0.season.to", "job.title"} and not others
    assert next(one for one in sections if one.name == "dark").wrong == 1
    for name in ("tolerance.dark_min", "programme.1.event.1.at"):  # one alone: the command line says the very same
        one = edited(JobText(DEMO), {name: "a few" if "dark" in name else "25:00"})
        (tmp_path / "job.toml").write_text(one.text, encoding="utf-8")
        with pytest.raises(InputError) as said:
            read_job(tmp_path / "job.toml")
        assert str(said.value).replace(str(tmp_path / "job.toml"), "job.toml") == {f.name: str(f.error) for f in _all_fields(shown(one.text)[0])}[name]


def test_what_no_single_key_is_to_blame_for_is_said_too():
    sections, others = shown(DEMO.replace("coordinate_step_deg", "event_limit = 3\ncoordinate_step_deg"))
    assert len(others) == 1 and "event" in str(others[0])
    sections, others = shown('[job]\ntitle = "x"\nyear = 2027\nsites = "a.csv"\nsits = 3\n[dark]\ntwilight = "civil"\n')
    assert "unknown key job.sits" in str(next(one for one in sections if one.name == "job").errors[0])


def test_buttons_add_and_take_out_what_can_run():
    job = JobText(DEMO)
    for what in ("add programme", "add programme.4.event", "add tariff.band", "add keypad.saving_rule", "add sheet.revisions", "off zones", "on zones",
                 "off holidays", "remove programme.0", "remove programme.0.event.1"):
        job, at = changed(job, what)
        assert at and not [str(why) for key, why in all_faults(job.text, Path("job.toml")) if "saving" not in str(key)], what
    assert job.data["programme"][-1]["name"] == "programme" and len(job.data["programme"]) == 4
    for what in ("", "add", "add job", "remove programme", "remove programme.9", "on groups", "off job", "add programme.99.event", "drop table"):
        with pytest.raises(InputError):
            changed(job, what)


TEXTS = st.one_of(st.sampled_from(["", "3", "2,5", "-4", "1e-3", "true", "civil", "dusk", "mon, tue", "all", "own", "+09:30", "2027-01-01\n2027-12-27", "A3", "99"]),
                  st.text(max_size=12), st.integers(-9, 99).map(str), st.floats(allow_nan=False, allow_infinity=False, width=32).map(repr))


@settings(max_examples=60, deadline=None)
@given(st.dictionaries(st.sampled_from(sorted(one.name for one in _all_fields(shown(DEMO)[0]))), TEXTS, min_size=1, max_size=4))
def test_whatever_is_typed_is_kept_and_read_or_refused_at_a_place(posted):
    """Nothing that is typed is lost or breaks the file: it stands in the file, and the reader takes it or says what is wrong with it."""
    made = edited(JobText(DEMO), posted)
    faults = all_faults(made.text, Path("job.toml"))
    sections, others = shown_form(made.data, faults)
    assert sum(one.wrong for one in sections) + len(others) == len(faults)
    again = {one.name: one.text for one in _all_fields(sections)}
    assert edited(made, {name: text for name, text in again.items()}).text == made.text
