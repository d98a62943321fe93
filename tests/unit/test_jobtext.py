"""Edits of a job file's text: they say what was meant, and no other line is touched."""

import difflib
import tomllib

import pytest
import tomlkit

from geozone.desk.jobtext import JobText, empty_job
from geozone.errors import InputError
from geozone.jobs.examples import examples_folder

DEMO, TEMPLATE = ((examples_folder() / name / "job.toml").read_text(encoding="utf-8") for name in ("border", "template"))


def differences(old, new):
    """Lines that went and came; nothing else differs."""
    lines = [line for line in difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=0)][2:]
    return [line[1:] for line in lines if line[0] == "-"], [line[1:] for line in lines if line[0] == "+"]


def test_a_value_changes_its_line_and_the_remark_stays_in_its_column():
    made = JobText(DEMO).with_value(("tolerance", "dark_min"), 3.25)
    (gone,), (came,) = differences(DEMO, made.text)
    assert gone.index("#") == came.index("#") and came.startswith("dark_min = 3.25 ") and gone.split("#")[1] == came.split("#")[1]
    made = JobText(DEMO).with_value(("programme", 1, "event", 1, "days"), ["mon", "tue"])
    assert differences(DEMO, made.text) == (['days = ["sun", "mon", "tue", "wed", "thu"]'], ['days = ["mon", "tue"]'])


def test_a_key_that_stands_as_a_remark_is_used_and_one_taken_out_becomes_one():
    made = JobText(TEMPLATE).with_value(("columns", "lat"), "breite")
    (gone,), (came,) = differences(TEMPLATE, made.text)
    assert gone.startswith('# lat = "lat"') and came.startswith('lat = "breite"') and gone[30:] == came[30:]
    back = made.without(("columns", "lat"))
    assert tomllib.loads(back.text) == tomllib.loads(TEMPLATE) and '# lat = "breite"' in back.text
    again = JobText(DEMO).without(("shared", "clock")).with_value(("shared", "clock"), "master")
    assert differences(DEMO, again.text)[1] == ['clock = "master"                  # "own": every switch runs its own clock; "master": one switch commands all']


def test_sections_come_out_of_remarks_and_go_back():
    made = JobText(TEMPLATE).with_value(("zones", "by"), "free")
    gone, came = differences(TEMPLATE, made.text)
    assert len(gone) == len(came) == 2 and came[0].startswith("[zones] ") and came[1].startswith('by = "free"')
    off = JobText(DEMO).without_section(("tariff",))
    assert "tariff" not in off.data and off.text.count("\n") == DEMO.count("\n") and '# currency = "AUD"' in off.text


def test_remarks_stay_with_their_programme():
    """A remark above [[programme]] goes with it; those of its neighbours stay where they are."""
    text = ('[job]\ntitle = "x"\n\n# first\n[[programme]]\nname = "a"\n# of its event\n[[programme.event]]\nturn = "on"\nat = "dusk"\n\n# second\n'
            '[[programme]]\nname = "b"\n[[programme.event]]\nturn = "off"\nat = "dawn"\n\n# third, above\n[[programme]]\nname = "c"\n\n# the end\n')
    made = JobText(text).without_table(("programme", 1))
    assert differences(text, made.text) == (["# second", "[[programme]]", 'name = "b"', "[[programme.event]]", 'turn = "off"', 'at = "dawn"', ""], [])
    made = JobText(text).with_table(("programme", 0, "event"), {"turn": "off", "at": "23:00"})
    assert made.text.index("23:00") < made.text.index("# second") and made.data["programme"][0]["event"][1] == {"turn": "off", "at": "23:00"}
    none = JobText(text).without_table(("programme", 2)).without_table(("programme", 1)).without_table(("programme", 0))
    assert "programme" not in none.data and "# the end" in none.text


def test_remarks_inside_a_list_stay():
    text = '[holidays]\ndates = [\n  "2027-01-01",  # new year\n  "2027-12-27",\n]\n'
    made = JobText(text).with_value(("holidays", "dates"), ["2027-01-01", "2027-12-27", "2027-12-28"])
    assert "# new year" in made.text and made.data["holidays"]["dates"][2] == "2027-12-28"


def test_ends_of_lines_stay_those_of_the_file():
    text = DEMO.replace("\n", "\r\n")
    made = JobText(text).with_value(("sheet", "owner"), "Town").with_table(("tariff", "band"), {"name": "late", "per_kwh": 0.1, "from": "01:00", "to": "02:00"})
    assert made.text.count("\r\n") == made.text.count("\n") > text.count("\n")


@pytest.mark.parametrize("text, path", [("job = 3\n", ("job", "title")), ('job = { title = "x" }\n', ("job", "year")), ('[[job]]\ntitle = "x"\n', ("job", "year"))])
def test_what_the_text_does_not_allow_is_refused_and_nothing_is_made_up(text, path):
    with pytest.raises(InputError, match="cannot make this change"):
        JobText(text).with_value(path, 2027)


def test_chains_of_edits_say_what_was_meant():
    """Every step is checked by Python's reader inside; here tomlkit reads the end as well."""
    job = JobText(empty_job(TEMPLATE, 'North "bank"\nand more', 2030))
    steps = [lambda j: j.with_value(("job", "sites"), "list.csv"), lambda j: j.with_table(("programme",), {"name": "p", "event": [{"turn": "on", "at": "dusk"}]}),
             lambda j: j.with_value(("tariff", "per_kwh"), 0.3), lambda j: j.with_table(("sheet", "revisions"), {"index": "A"}),
             lambda j: j.with_value(("keypad", "utc_offsets"), ["+09:30"]), lambda j: j.without_table(("sheet", "revisions", 0)),
             lambda j: j.with_value(("programme", 0, "event", 0, "season"), {"from": "10-01", "to": "03-31"}), lambda j: j.without_section(("groups",)),
             lambda j: j.with_section(("groups",)), lambda j: j.without(("job", "sites"))]
    for step in steps:
        job = step(job)
    read = tomlkit.parse(job.text).unwrap()
    assert read == job.data and read["job"] == {"title": 'North "bank"\nand more', "year": 2030} and read["groups"] == {}
    assert read["programme"][0]["event"][0]["season"] == {"from": "10-01", "to": "03-31"} and "sheet" not in read
