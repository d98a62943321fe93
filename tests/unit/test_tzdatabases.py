"""tz databases of every form, and those of strangers: damaged, too large, with names and links that lead elsewhere."""

import gzip
import io
import os
import random
import shutil
import tarfile
import zipfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

import geozone
from geozone.numbers import clock
from geozone.places import tzdatabases, zonesource
from geozone.places.compiledzones import compiled_zone
from geozone.places.tzdatabases import open_database

TZ = Path(__file__).parents[1] / "data" / "tz"
COAST = (TZ / "2026f" / "America" / "Vancouver").read_bytes()
#: British Columbia as release 2026b has it (file NEWS): -08 with the rule of the United States up to March 2026, -07 since; our own shortening of the text.
SOURCE = b"""# version 2026b
Rule US 2007 max - Mar Sun>=8 2:00 1:00 D
Rule US 2007 max - Nov Sun>=1 2:00 0 S
Zone America/Vancouver -8:00 US P%sT 2026 Nov 1 2:00
 -7:00 - MST
Link America/Vancouver America/Coast
"""


def tar(members, links=()):
    made = io.BytesIO()
    with tarfile.open(fileobj=made, mode="w:gz") as packed:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))
        for name, target, kind in links:
            info = tarfile.TarInfo(name)
            info.type, info.linkname = kind, target
            packed.addfile(info)
    return made.getvalue()


def zipped(members):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            packed.writestr(name, data)
    return made.getvalue()


def opened(tmp_path, name, data):
    (tmp_path / name).write_bytes(data)
    return open_database(tmp_path / name)


def same_law(database, zone="America/Vancouver"):
    return database.offsets(zone, 2026).key == open_database(TZ / "2026f").offsets("America/Vancouver", 2026).key


def test_every_form_of_a_database_is_read(tmp_path):
    wheel = opened(tmp_path, "tzdata.whl", zipped({"tzdata/__init__.py": b'__version__ = "2026.6"\nIANA_VERSION = "2026f"\n', "tzdata/zoneinfo/America/Vancouver": COAST,
                                                   "tzdata/zoneinfo/right/America/Vancouver": b"TZif?"}))
    assert wheel.version == "2026f" and list(wheel.zones) == ["America/Vancouver"] and same_law(wheel)
    links = [("share/zoneinfo/Coast", "America/Vancouver", tarfile.SYMTYPE), ("share/zoneinfo/Far", "../../../../etc/passwd", tarfile.SYMTYPE),
             ("share/zoneinfo/Hard", "share/zoneinfo/America/Vancouver", tarfile.LNKTYPE)]
    packed = opened(tmp_path, "zones.tar.gz", tar({"share/zoneinfo/America/Vancouver": COAST}, links))
    assert sorted(packed.zones) == ["America/Vancouver", "Coast", "Hard"] and same_law(packed, "Coast")
    installed = open_database("installed")
    assert installed.version == clock.tz_version() and installed.offsets("Europe/Oslo", 2027).key == clock.offsets("Europe/Oslo", 2027).key
    assert len(installed.zones) > 500


def test_links_that_leave_a_folder_are_no_part_of_it(tmp_path):
    (tmp_path / "zones" / "America").mkdir(parents=True)
    (tmp_path / "secret").write_bytes(COAST)
    shutil.copy(TZ / "2026f" / "America" / "Vancouver", tmp_path / "zones" / "America" / "Vancouver")
    os.symlink("America/Vancouver", tmp_path / "zones" / "Coast")
    os.symlink("../secret", tmp_path / "zones" / "localtime")
    os.symlink("..", tmp_path / "zones" / "round")
    os.symlink("Ring", tmp_path / "zones" / "Ring")
    assert sorted(open_database(tmp_path / "zones").zones) == ["America/Vancouver", "Coast"]


@pytest.mark.skipif(not os.environ.get("CI") and shutil.which("zic", path="/usr/sbin:/usr/bin:/sbin:/bin") is None, reason="no zic on this machine")
def test_a_source_is_compiled_and_says_what_the_release_says(tmp_path):
    archive = tar({"northamerica": SOURCE, "version": b"2026b\n", "Makefile": b"all:"})
    for database in (opened(tmp_path, "tzdata.zi", SOURCE), opened(tmp_path, "tzdata2026b.tar.gz", archive)):
        assert database.version == "2026b" and same_law(database) and same_law(database, "America/Coast")
    with pytest.raises(geozone.InputError, match="cannot be compiled") as told:
        opened(tmp_path, "tzdata.zi", SOURCE + b"Zone A/B nonsense\n")
    assert "line" in str(told.value) and "Next: " in str(told.value)


def test_without_zic_the_next_step_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(zonesource.shutil, "which", lambda *_, **__: None)
    with pytest.raises(geozone.InputError, match="zic") as told:
        opened(tmp_path, "tzdata.zi", SOURCE)
    assert "wheel" in str(told.value)


@pytest.mark.parametrize("line", ["Link ../../x America/X", "L America/Vancouver /tmp/x", "z ../out 0 - X", 'Zone "a b" 0 - X', "li America/Vancouver a/b/c/d/e"])
def test_a_source_that_names_other_files_is_not_compiled(tmp_path, line):
    with pytest.raises(geozone.InputError, match="names what can be no zone") as told:
        opened(tmp_path, "tzdata.zi", SOURCE + line.encode() + b"\n")
    assert "line 7" in str(told.value)


def test_archives_of_strangers_are_refused_before_they_are_unpacked(tmp_path, monkeypatch):
    bomb = gzip.compress(bytes(tzdatabases.MOST_UNPACKED_BYTES + 600), 1)
    with pytest.raises(geozone.InputError, match="unpacks to more"):
        opened(tmp_path, "bomb.tar.gz", bomb)
    with pytest.raises(geozone.InputError, match="unpacks to more"):
        opened(tmp_path, "bomb.zip", zipped({"zoneinfo/A": bytes(tzdatabases.MOST_UNPACKED_BYTES + 1)}))
    monkeypatch.setattr(tzdatabases, "MOST_MEMBERS", 20)
    for name, data in (("many.zip", zipped({f"zoneinfo/A{i}": COAST for i in range(30)})), ("many.tar.gz", tar({f"zoneinfo/A{i}": COAST for i in range(30)}))):
        with pytest.raises(geozone.InputError, match="unpacks to more"):
            opened(tmp_path, name, data)
    (tmp_path / "full").mkdir()
    for i in range(30):
        (tmp_path / "full" / f"A{i}").write_bytes(COAST)
    with pytest.raises(geozone.InputError, match="more files"):
        open_database(tmp_path / "full")
    for name, data in (("cut.tar.gz", tar({"zoneinfo/A": COAST})[:-40]), ("cut.zip", zipped({"zoneinfo/A": COAST})[:-30]), ("list.csv", b"site_id,lat\n"), ("none", b""),
                       ("empty.zip", zipped({"a.txt": b"x"})), ("out.zip", zipped({"../A B": COAST, "zoneinfo/a/b/c/d": COAST}))):
        with pytest.raises(geozone.InputError) as told:
            opened(tmp_path, name, data)
        assert "Next: " in str(told.value), name
    with pytest.raises(geozone.InputError):
        open_database(tmp_path / "missing.whl")


def test_a_damaged_zone_is_refused_or_is_a_clock():
    """Bytes changed at random and files cut anywhere: never anything but a refusal, or offsets that the format allows (RFC 9636, 3.2)."""
    dice, refused = random.Random(5), 0
    at = [datetime(year, month, 1, tzinfo=timezone.utc) for year in (1901, 1970, 2027, 2090) for month in (1, 7)]
    for trial in range(1500):
        data = bytearray(COAST)
        if trial % 3 == 0:
            del data[dice.randrange(len(data)):]
        else:
            for _ in range(dice.choice((1, 1, 2, 6))):
                data[dice.randrange(len(data))] = dice.choice((0, 255, dice.randrange(256)))
        try:
            zone = compiled_zone(bytes(data), "America/Vancouver", "stranger")
            assert all(abs(moment.astimezone(zone).utcoffset()) < timedelta(hours=27) for moment in at)
        except geozone.InputError as why:
            refused += 1
            assert "stranger" in str(why) and "Next: " in str(why)
    assert 500 < refused < 1500


def test_what_a_zone_must_say():
    old = bytearray(COAST)
    old[4:5] = b"\0"
    for data, why in ((bytes(old), "after 2037"), (b"TZif", "RFC 9636"), (COAST + b"x", "last change"), (bytes(200_000), "bytes"),
                      (b"ELF?" + COAST[4:], "no compiled zone")):
        with pytest.raises(geozone.InputError, match=why):
            compiled_zone(data, "A", "here")
