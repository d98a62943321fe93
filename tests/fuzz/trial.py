"""One case of the fuzzer: files made from a seed, read or run, and what came of it."""

from __future__ import annotations

import os
import tempfile
import traceback
import warnings
from pathlib import Path
from random import Random

import audits
import jobs
import lists

#: Of a hundred cases: reads of lists, of outlines, of job files, and whole runs that write their folder.
SHARES = {"sites": 55, "areas": 14, "backdrop": 4, "job": 22, "run": 5}
#: Of a hundred, in the place of any of these: as-found lists and tz databases, with the kinds of their files.
OTHERS = {"found": (7, {"csv": 6, "tsv": 1, "xlsx": 2, "ods": 1, "geojson": 1}), "tz": (5, {"whl": 3, "tgz": 3, "txz": 1, "tar": 2, "folder": 2, "zi": 3})}


def trial(seed: int, folder: Path) -> dict:
    """What case `seed` ends in: "read" or "refused" are answers, "traceback" and "lost rows" are defects."""
    from geozone.errors import GeozoneError

    random = Random(seed)
    what = random.choices(list(SHARES), list(SHARES.values()))[0]
    maps = {k: n for k, n in lists.KINDS.items() if what == "sites" or k in ("geojson", "gpkg", "shp", "zip", "fgb")}
    kind = random.choices(list(maps), list(maps.values()))[0] if what not in ("job", "run") else "toml"
    # By a die of its own, so that the other cases stay what they were.
    die = Random(f"others {seed}")
    chance = die.random() * 100
    for other, (share, kinds) in OTHERS.items():
        if 0 <= chance < share:
            what, kind = other, die.choices(list(kinds), list(kinds.values()))[0]
        chance -= share
    answer = {"seed": seed, "what": f"{what} {kind}"}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            # remarks of libraries on a person's screen are defects too, but of another kind
            warnings.filterwarnings("error", category=RuntimeWarning, module="geozone")
            answer["end"] = _WORK[what](random, folder, kind)
    except GeozoneError as why:
        message = str(why)
        answer |= {"end": "refused", "why": why.what}
        if any(ord(c) < 32 and c != "\n" or 127 <= ord(c) < 160 for c in message) or len(message) > 10_000:
            answer |= {"end": "traceback", "text": f"a message with orders for the terminal, or endless: {message[:200]!r}"}
    except BaseException as why:
        frames = traceback.extract_tb(why.__traceback__)
        here = next((f"{Path(f.filename).name}:{f.lineno}" for f in reversed(frames) if f"{os.sep}geozone{os.sep}" in f.filename), "?")
        answer |= {"end": "traceback", "text": f"{type(why).__name__} at {here}: {str(why)[:200]}", "trace": traceback.format_exc()[-3000:]}
    return answer


def _sites(random: Random, folder: Path, kind: str) -> str:
    from geozone.places.sites import SiteReading, read_sites

    rows, _ = jobs.sites(random)
    path, count = lists.write(random, folder, rows, kind)
    reading = SiteReading()
    if random.random() < 0.25:
        stated = random.choice(("lat", "lon", "position", "crs", "encoding", "separator", "decimal", "layer", "load_w", "legal_zone"))
        reading = SiteReading(**{stated: random.choice(("lat", "name", "EPSG:28354", "utf-8", ";", ",", "list", "load_w", "\x00",
                                                        "x" * 300, ""))})
        count = None
    found = read_sites(path, reading)
    if found.read != len(found.sites) + len(found.rejects) or (count is not None and found.read != count):
        return f"lost rows: {count} written, {len(found.sites)} used, {len(found.rejects)} rejected"
    return "read"


def _areas(random: Random, folder: Path, kind: str) -> str:
    from geozone.places.areas import read_areas

    rows, _ = jobs.sites(random)
    read_areas(lists.write(random, folder, rows, kind)[0], random.choice((None, None, "name")))
    return "read"


def _backdrop(random: Random, folder: Path, kind: str) -> str:
    from geozone.places.areas import read_backdrop

    rows, _ = jobs.sites(random)
    read_backdrop(lists.write(random, folder, rows, kind)[0])
    return "read"


def _write_job(random: Random, folder: Path, spoil: float) -> Path:
    rows, zone = jobs.sites(random)
    (folder / "list.csv").write_text("\n".join(",".join(map(str, row)) for row in rows) + "\n", encoding="utf-8")
    made = jobs.job(random, zone, "list.csv", None)
    if random.random() < spoil:
        made = jobs.spoilt(random, made)
    raw = jobs.toml(made).encode("utf-8", "replace")
    if random.random() < spoil / 4:
        raw = lists.bytes_changed(random, raw)
    (folder / "job.toml").write_bytes(raw)
    return folder / "job.toml"


def _job(random: Random, folder: Path, kind: str) -> str:
    from geozone.jobs.job import read_job

    read_job(_write_job(random, folder, 0.6))
    return "read"


def _run(random: Random, folder: Path, kind: str) -> str:
    import json

    from geozone.jobs.job import read_job
    from geozone.jobs.plan import run
    from geozone.screens.console import report

    job = read_job(_write_job(random, folder, 0.1))
    answers = run(job, folder / "out")
    text = report(answers, folder / "out")
    if any(ord(c) < 32 and c != "\n" or 127 <= ord(c) < 160 for c in text):
        raise AssertionError("the report holds orders for the terminal")
    figures = json.loads((folder / "out" / "summary.json").read_text(encoding="utf-8"))["sites"]
    written = len([line for line in (folder / "list.csv").read_text(encoding="utf-8").splitlines() if line]) - 1
    if job.job.sites == "list.csv" and figures["used"] + figures["rejected"] != written:
        return f"lost rows: {written} written, {figures}"
    return "read"


_WORK = {"sites": _sites, "areas": _areas, "backdrop": _backdrop, "job": _job, "run": _run, "found": audits.found_list, "tz": audits.tz_database}


def in_a_folder(seed: int) -> dict:
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        return trial(seed, Path(folder))
