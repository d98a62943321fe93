"""Programme sections of a job: what is read, and what is refused with the line of the fault."""

import tomllib

import pytest

from geozone.errors import InputError
from geozone.jobs.jobplaces import Places
from geozone.jobs.keys import Refusal
from geozone.jobs.programme_models import days_of, minute_of
from geozone.jobs.programme_sections import read_clock_keypad, read_holidays, read_programmes, read_tariff
from geozone.trade.keypad import Keypad, check_programme
from geozone.trade.programme import DUSK_TO_DAWN, Event, Programme, Season

JOB = """# a job
[[programme]]
name = "part-night"
night_rule = "date"

[[programme.event]]
turn = "on"
at = "dusk"
shift_min = -5

[[programme.event]]
turn = "off"
at = "23:30"
days = ["mon", "tue", "wed", "thu", "sun"]

[[programme]]
name = "split"
areas = ["North"]

[[programme.event]]
turn = "on"
at = "05:00"
season = { from = "10-01", to = "03-31" }

[[programme.event]]
turn = "off"
at = "dawn"
"""


def read(text):
    return read_programmes(tomllib.loads(text)["programme"], Places("job.toml", text))


def test_a_job_is_read():
    first, second = read(JOB)
    assert first == Programme("part-night", (Event("on", "dusk", -5), Event("off", 1410, days=frozenset((0, 1, 2, 3, 6)))), "date")
    assert second.events[0] == Event("on", 300, season=Season(1001, 331)) and second.areas == ("North",)
    assert second.night_rule == "night" and "night that began" in second.night_rule_text
    assert first.events[1].place == "job.toml, line 11"


def test_toml_goes_round():
    for programme in (*read(JOB), DUSK_TO_DAWN, Programme('q"\\\x01 é', DUSK_TO_DAWN.events)):
        assert read_programmes(tomllib.loads(programme.toml())["programme"]) == (programme,)


@pytest.mark.parametrize("old, new, line, what", [
    ('at = "23:30"', 'at = "25:30"', 13, "impossible time"),
    ('at = "23:30"', 'at = "23:60"', 13, "impossible time"),
    ('at = "23:30"', "at = 23", 13, "impossible time"),
    ('at = "23:30"', "at = 23:30:15", 13, "impossible time"),
    ('"tue"', '"tues"', 14, "unknown day"),
    ("shift_min = -5", "shift_min = -721", 9, "programme.event.shift_min cannot be used"),
    ("shift_min = -5", "shift_min = 1.5", 9, "programme.event.shift_min cannot be used"),
    ("shift_min = -5", "shift_min = true", 9, "programme.event.shift_min cannot be used"),
    ('turn = "off"', 'turn = "dim"', 12, "programme.event.turn cannot be used"),
    ('night_rule = "date"', 'night_rule = "day"', 4, "programme.night_rule cannot be used"),
    ('from = "10-01"', 'from = "02-30"', 23, "no such day"),
    ("season = {", "seasons = {", 23, "unknown key"),
    ('name = "split"', 'name = "part-night"', 17, "same name"),
    ('at = "23:30"', 'at = "23:30"\nshift_min = 5', 14, "belongs to dusk or dawn"),
])
def test_faults_name_their_line(old, new, line, what):
    with pytest.raises(InputError) as caught:
        read(JOB.replace(old, new, 1))
    assert what in str(caught.value) and caught.value.where == f"job.toml, line {line}"
    assert caught.value.rule and caught.value.next_step


def test_nearest_day_is_named():
    with pytest.raises(InputError, match="did you mean tue"):
        read(JOB.replace('"tue"', '"tues"'))
    with pytest.raises(Refusal) as error:
        days_of(["mon", "tues"])
    assert error.value.next_step == "did you mean tue?" and error.value.at == (1,)


@pytest.mark.parametrize("sections", [[{"name": "a"}], [{"event": []}], [{"name": "", "event": [1]}], "x",
                                      [{"name": "a", "event": [{"turn": "on"}]}], [{"name": "a", "event": ["x"]}]])
def test_what_is_no_programme_is_refused(sections):
    with pytest.raises(InputError):
        read_programmes(sections)


def test_times():
    import datetime as dt

    assert minute_of("24:00") == 1440 and minute_of("0:05") == 5 and minute_of(dt.time(23, 30)) == 1410
    for bad in ("24:01", "dusk", "5", "-1:00", None, 5.5, dt.time(1, 2, 3)):
        with pytest.raises(Refusal):
            minute_of(bad)


def test_keypad_limits():
    programme = Programme("p", (Event("on", "dusk", 120), Event("off", "dawn")))
    with pytest.raises(InputError, match="beyond what the keypad holds"):
        check_programme(programme, Keypad())
    check_programme(programme, Keypad(offset_limit_min=120))
    with pytest.raises(InputError, match="more events than"):
        check_programme(programme, Keypad(offset_limit_min=120, event_limit=1))


def test_holidays():
    found = read_holidays({"dates": ["2027-12-25", "2027-01-01"], "counts_as": "sat"})
    assert [str(d) for d in found.dates] == ["2027-01-01", "2027-12-25"] and found.counts_as == 5
    for bad in ({"dates": ["2027-13-01"]}, {"dates": [5]}, {"counts_as": "holiday"}, {"day": 1}):
        with pytest.raises(InputError):
            read_holidays(bad)


def test_tariff():
    found = read_tariff({"per_kwh": 0.3, "currency": "AUD", "band": [{"name": "low", "per_kwh": 0.1, "from": "22:00", "to": "07:00",
                                                                      "days": "mon-fri"}]})
    assert found.prices.tolist() == [0.3, 0.1] and found.bands[0].days == frozenset(range(5))
    for bad in ({"per_kwh": -1}, {"per_kwh": "x"}, {"per_kwh": True}, {"band": [{"from": "07:00", "to": "07:00"}]}, {"price": 1}):
        with pytest.raises(InputError):
            read_tariff(bad)


def test_clock_keypad():
    found = read_clock_keypad({"utc_offsets": ["+09:30", "-03:30"], "daylight_saving": ["none", "own"], "saving_rule": [
        {"name": "own", "saving_min": 30, "start": {"month": 10, "nth": 1, "weekday": "sun", "at": "02:00"},
         "end": {"month": 4, "nth": -1, "weekday": "sun", "at": "02:00", "by": "wall"}}]})
    assert found.standard_min == (570, -210) and [s.name for s in found.savings] == ["none", "own"]
    for bad in ({"utc_offsets": ["9.5"]}, {"daylight_saving": ["mars"]}, {"saving_rule": [{"name": "x"}]},
                {"saving_rule": [{"name": "x", "start": {"month": 13, "nth": 1, "weekday": "sun", "at": "02:00"}}]}):
        with pytest.raises(InputError):
            read_clock_keypad(bad)


@pytest.mark.parametrize("turn, missing", [("on", "off"), ("off", "on")])
def test_a_programme_that_forgets_one_half_is_refused(turn, missing):
    """Lamps that nothing turns off would burn for 8,760 hours, and look like a plan."""
    with pytest.raises(InputError, match=f"never turns the lamps {missing}") as error:
        read(f'[[programme]]\nname = "x"\n[[programme.event]]\nturn = "{turn}"\nat = "dusk"\n')
    assert error.value.where == "job.toml, line 1"
