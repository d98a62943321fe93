"""As-found lists and tz databases, whole ones and spoilt ones, and what must hold of what is read of them."""

from __future__ import annotations

import io
import os
import tarfile
import zipfile
from functools import lru_cache
from pathlib import Path
from random import Random

import lists
from jobs import NASTY_TEXTS

TZ = Path(__file__).parents[1] / "data" / "tz"
YEAR = 2027
CELLS = ("25:00", "--:--", "5:05 pm", "0612", "17.06.2027", "06/07/2027", "2027-02-30", "1999-01-01", "+9:30", "UTC+14:45", "Europe/Oslo", "on", "off", "us",
         "0351", "1402", "-0.8333", "civil", "99999", "-", *NASTY_TEXTS)
SOURCE = ("Rule US 2007 max - Mar Sun>=8 2:00 1:00 D", "Rule US 2007 max - Nov Sun>=1 2:00 0 S", "Zone America/Vancouver -8:00 US P%sT", "Link America/Vancouver Coast",
          "Zone Asia/Almaty 5:00 - %z", "# a remark")
BAD_LINES = ("Zone ../../x 0 - X", "Link /etc/passwd A", "Link A ../B", 'Zone "A B" 0 - X', "Rule US min max - Jan 1 0 1:00 X", "Zone A/B 999999:00 - X", "nonsense",
             "Rule US 1 9999 - Feb 31 99:99 -9:00 S", "Z", "L A A", "Zone C 0 US X 2027 Jan 1", "Link B C", "Link C B")


def found_list(random: Random, folder: Path, kind: str) -> str:
    """An as-found list, read, held against a job's sites, and now and then looked into for slips."""
    from geozone.jobs.asfound import found_at
    from geozone.places.foundlists import HEADINGS, NOT_USED, read_found

    names = ["site_id", "read_on", *random.sample([*HEADINGS, *NOT_USED], random.choice((1, 2, 4, 8)))]
    whole = {"read_on": lambda: f"2027-{random.randint(1, 12):02}-{random.randint(1, 28):02}", "keyed_lat": lambda: "-34.5", "keyed_lon": lambda: "139.5",
             "keyed_zone": lambda: "+9:30", "keyed_saving": lambda: random.choice(("on", "none", "southern australia")), "keyed_threshold": lambda: "-4",
             "date_shown": lambda: "2027-06-21"}
    rows = [names]
    for _ in range(random.choice((1, 3, 8, 25))):
        cells = [f"S{random.randrange(10)}"] + [random.choice(CELLS) if random.random() < 0.1 else whole[name]() if name in whole else
                                                str(random.randint(-30, 30)) if "offset" in name else f"{random.randint(0, 23):02}:{random.randint(0, 59):02}"
                                                for name in names[1:]]
        rows.append(cells)
    path, _ = lists.write(random, folder, rows, kind)
    listed = read_found(path)
    setting = _setting()
    ids = [f"S{i}" for i in range(12)]
    found = found_at(listed, ids, [setting.right] * 12, setting.keypad, YEAR)
    used, rejected = {ids[i] for i in found.site}, set(found.rejects["row"])
    lost = [row for row, cells in zip(listed.row.tolist(), listed.cells.to_numpy().tolist(), strict=True) if any(cells) and row not in rejected and cells[0] not in used]
    of_cells = found.rejects.loc[~found.rejects["row"].isin([row for row, *_ in listed.faults]), "reason"]
    if lost or len(found.site) != len(found.read) or not of_cells.str.contains("Rule: ").all():
        return f"lost rows: {lost[:5]} of {len(listed.row)}"
    if random.random() < 0.3:
        from geozone.auditing.diagnosis import STATES, diagnose

        assert all(one.state in STATES for one in diagnose(found.read, setting=setting))
    return "read"


@lru_cache(maxsize=1)
def _setting():
    from geozone.auditing.candidates import SettingSlips
    from geozone.numbers import clock
    from geozone.trade.keypad import Keypad
    from geozone.trade.readings import Display, Keyed
    from geozone.trade.switchclock import best_keying

    return SettingSlips(Keyed(-34.5, 139.5, best_keying(clock.offsets("Australia/Adelaide", YEAR), YEAR).switch_clock, -4.0, 5, -3), Keypad(), Display(), YEAR)


def tz_database(random: Random, folder: Path, kind: str) -> str:
    """A tz database in one of its forms, opened, and what it says compared with the release before."""
    from geozone.errors import InputError
    from geozone.places.tzdatabases import open_database
    from geozone.trade.lawchange import STATES, law_change

    members = _members(random)
    path = folder / f"tz.{kind}"
    if kind == "folder":
        _into_folder(members, path)
    elif kind == "zi":
        path.write_bytes(next(iter(members.values())))
    else:
        raw = _zip(random, members) if kind == "whl" else _tar(random, members, kind)
        path.write_bytes(lists.bytes_changed(random, raw) if random.random() < 0.3 else raw)
    before = set(os.listdir(folder.parent))
    database = open_database(path)
    if set(os.listdir(folder.parent)) != before and (folder.parent / "x").exists():
        raise AssertionError("something was written outside the folder")
    old = open_database(TZ / "2025b")
    for name in sorted(database.zones)[:3]:
        try:
            sequence = database.offsets(name, YEAR)
        except InputError:
            continue
        assert sequence.start_utc_min.size == sequence.offset_min.size and abs(sequence.offset_min).max() < 27 * 60
        found = law_change(lambda y: old.offsets("America/Vancouver", y), lambda y, name=name: database.offsets(name, y), YEAR)
        assert found.state in STATES
    return "read"


def _members(random: Random) -> dict[str, bytes]:
    """Files by name: compiled zones, or the text of rules; some spoilt."""
    if random.random() < 0.4:
        lines = list(SOURCE)
        for _ in range(random.choice((0, 0, 1, 3))):
            lines.insert(random.randrange(len(lines) + 1), random.choice(BAD_LINES))
        text = ("# version 2026b\n" + "\n".join(lines) + "\n").encode()
        if random.random() < 0.3:
            text = lists.bytes_changed(random, text)
        return {random.choice(("tzdata.zi", "northamerica", "deep/asia")): text, "version": random.choice((b"2026b\n", b"\xff", b""))}
    made = {}
    for release, name in (("2026f", "America/Vancouver"), ("2024a", "Asia/Almaty"), ("2022f", "America/Mexico_City")):
        data = (TZ / release / name).read_bytes()
        if random.random() < 0.4:
            data = lists.bytes_changed(random, data)
        places = (f"tzdata/zoneinfo/{name}", f"zoneinfo/{name}", name, f"zoneinfo/right/{name}", f"../{name}", f"/{name}", "a" * 300, "zoneinfo/a/b/c/d", "con")
        made[random.choice(places)] = data
    return made


def _zip(random: Random, members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            packed.writestr(name, data * random.choice((1, 1, 1, 3000)))
    return stream.getvalue()


def _tar(random: Random, members: dict[str, bytes], kind: str) -> bytes:
    stream = io.BytesIO()
    with tarfile.open(fileobj=stream, mode={"tgz": "w:gz", "txz": "w:xz", "tar": "w"}[kind]) as packed:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))
        for _ in range(random.choice((0, 0, 1, 4))):
            info = tarfile.TarInfo(f"zoneinfo/L{random.randrange(3)}")
            info.type = random.choice((tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE, tarfile.CHRTYPE, tarfile.DIRTYPE))
            info.linkname = random.choice((*members, "../../etc/passwd", "zoneinfo/L0", "zoneinfo/L1", "/etc/localtime", ""))
            packed.addfile(info)
    return stream.getvalue()


def _into_folder(members: dict[str, bytes], folder: Path) -> None:
    folder.mkdir()
    for number, (name, data) in enumerate(members.items()):
        inside = [part for part in name.split("/") if part not in ("", "..")]
        path = folder.joinpath(*inside) if len(name) < 200 else folder / f"A{number}"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    os.symlink("..", folder / "round")
    os.symlink("/etc/passwd", folder / "out")
