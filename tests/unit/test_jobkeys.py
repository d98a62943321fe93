"""Every key of the job file: one place says its type, default and sentence, and every mistake in it is told in four parts."""

import re
import tomllib

import pytest

from geozone.errors import InputError
from geozone.jobs.job import Job, JobFile, read_job
from geozone.jobs.keys import Key, keys_of, sections_in, toml_of
from geozone.numbers.daylight import THRESHOLDS, TWILIGHT
from geozone.paper.sizes import ORIENTATIONS, SIZES_MM
from geozone.switching.timetable import PERIODS, ROUNDINGS_MIN
from geozone.trade.programme import DAY_NAMES, NIGHT_RULES

KEYS = keys_of(JobFile)
# The dark threshold is one of three, and a job needs this much.
LEFT_OUT = {f"dark.{kind}" for kind in THRESHOLDS if kind != "altitude_deg"}


def whole_job() -> list[str]:
    """A job file made of nothing but the examples of all keys, a section each; events that turn on and off."""
    lines = []
    for section in dict.fromkeys(key.section for key in KEYS):
        mine = [key for key in KEYS if key.section == section]
        lines.append(f"[[{section}]]" if mine[0].many else f"[{section}]")
        lines += [key.example for key in mine if key.dotted not in LEFT_OUT and key.name != "saving_rule"]
        if section == "programme.event":
            lines += ["[[programme.event]]", 'turn = "off"', 'at = "dawn"']
        if section == "keypad.saving_rule":
            change = '{ month = 10, nth = 1, weekday = "sun", at = "02:00" }'
            lines = [line for line in lines if not line.startswith(("start =", "end ="))] + [f"start = {change}", f"end = {change}"]
    return lines


def read(tmp_path, lines):
    path = tmp_path / "job.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_job(path)


def test_the_examples_of_all_keys_make_one_job(tmp_path):
    job = read(tmp_path, whole_job())
    assert job.job.year == 2027 and job.programme[0].event[0].season.first == 1001
    assert job.basis.keypad.clocks.standard_min == (570, 600) and job.cards.first_day == "2027-06-21"
    for key in KEYS:
        assert key.example or key.name in ("start", "end"), key.dotted
        assert key.sentence and not key.sentence.endswith(".") and key.kind, key.dotted


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.dotted)
def test_a_wrong_value_names_its_line_value_rule_and_next_step(tmp_path, key: Key):
    lines = whole_job()
    if key.dotted in LEFT_OUT:
        lines = [key.example if line.startswith("altitude_deg =") else line for line in lines]
    start = lines.index(f"[[{key.section}]]" if key.many else f"[{key.section}]")
    place = next(i for i in range(start, len(lines)) if lines[i].startswith(f"{key.name} = "))
    lines[place] = f"{key.name} = 1979-05-27T07:32:00"  # a moment: no key takes one
    with pytest.raises(InputError) as error:
        read(tmp_path, lines)
    assert error.value.where.endswith(f"job.toml, line {place + 1}")
    assert error.value.value is not None and error.value.rule and error.value.next_step
    lines[place] = f"{key.name}x = 1"
    with pytest.raises(InputError, match=f"unknown key {key.dotted}x") as error:
        read(tmp_path, lines)
    assert error.value.where.endswith(f"job.toml, line {place + 1}") and error.value.next_step.startswith("did you mean ")
    assert key.name in error.value.rule.split(": ")[1].split(", ")


@pytest.mark.parametrize("added, value, rule, step", [
    ("[tolerance]\ndark_min = true\n", True, "a number greater than 0 and at most 120", "for example dark_min = 5"),
    ("[keypad]\noffset_limit_min = 1000\n", 1000, "a whole number from 0 to 720", "for example offset_limit_min = 99"),
    ("[shared]\nclock = 'mastr'\n", "mastr", '"own" or "master"', "did you mean master?"),
    ("[groups]\noffsets = 1\n", 1, "true or false", "for example offsets = true"),
    ("[[groups]]\n", None, "a section starts with [groups]", "write [groups] on a line of its own"),
    ("[programme]\n", None, "each starts with [[programme]], in double brackets", "write [[programme]]"),
    ("[holidays]\ndates = [2027-01-01,\n 'x']\n", "x", "year-month-day", "for example dates"),
    ("[keypad]\nutc_offsets = ['+09:30',\n '9']\n", "9", 'texts such as "+09:30", at most 14 hours', "for example"),
    ("[keypad]\ndaylight_saving = ['southern australa']\n", "southern australa", "one of none,", "did you mean southern australia?"),
    ("[timetable]\nrounding_min = 7\n", 7, "1, 5 or 10", "for example rounding_min = 5"),
    ("[tariff]\nper_kwh = '0,30'\n", "0,30", "a number, 0 or more", "for example per_kwh = 0.30"),
])
def test_messages_say_what_would_be_right(tmp_path, added, value, rule, step):
    head = ["[job]", 'title = "t"', "year = 2027", 'sites = "s.csv"', "[dark]", "altitude_deg = -4"]
    with pytest.raises(InputError) as error:
        read(tmp_path, [*head, added])
    found = error.value
    assert found.value == value and rule in found.rule and step in found.next_step, str(found)
    # The faulty value stands on the last line of what was added.
    assert found.where.endswith(f"line {len(head) + added.rstrip().count(chr(10)) + 1}")


def test_the_words_of_the_job_file_are_those_of_the_program():
    kinds = {key.dotted: [part.strip('"') for part in re.split(", | or ", key.kind)] for key in KEYS}
    assert kinds["timetable.period"] == list(PERIODS) and kinds["timetable.rounding_min"] == [str(one) for one in ROUNDINGS_MIN]
    assert kinds["programme.night_rule"] == list(NIGHT_RULES) and kinds["holidays.counts_as"] == list(DAY_NAMES)
    assert set(kinds["dark.twilight"]) < set(TWILIGHT) and set(kinds["sheet.size"]) == set(SIZES_MM)
    assert set(kinds["sheet.orientation"]) == set(ORIENTATIONS)


def test_defaults_are_told_as_the_file_spells_them():
    told = {key.dotted: key.default for key in KEYS}
    assert told["tolerance.dark_min"] == "5" and told["shared.clock"] == '"own"' and told["job.year"] == "required"
    assert told["groups.offsets"] == "true" and told["keypad.event_limit"] == ""
    for key in KEYS:
        if key.default not in ("required", ""):
            assert toml_of(tomllib.loads(f"x = {key.default}")["x"]) == key.default


def test_a_section_that_no_file_may_set_is_unknown(tmp_path):
    for name in set(Job.model_fields) - set(JobFile.model_fields):
        with pytest.raises(InputError, match=f"unknown key {name}"):
            read(tmp_path, ["[job]", 'title = "t"', "year = 2027", 'sites = "s"', "[dark]", "altitude_deg = -4", f"[{name}]"])
    assert ("programme", "event") in sections_in(JobFile)
