"""Whether results are the same before and after a change: eight jobs run with two states of the code, every output file compared.

    python tests/compare/compare.py COMMIT                     # that commit against the files as they are here
    python tests/compare/compare.py COMMIT --after OTHER       # two commits
    python tests/compare/compare.py COMMIT --jobs groups town  # some of the jobs
    python tests/compare/compare.py COMMIT --renamed old=new   # a word that was changed on purpose
    python tests/compare/compare.py COMMIT --kept FOLDER       # what the earlier commit gives stays there for the next time

Prints what differs; exit code 1 if anything does. Takes some minutes. Both states read the same jobs (`eightjobs.py`); the demos are
those of the earlier commit. What each run prints is compared as well.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from contents import differences  # noqa: E402
from eightjobs import NAMES, write_job  # noqa: E402

ROOT = Path(__file__).parents[2]


@contextlib.contextmanager
def checked_out(commit: str | None, folder: Path):
    """The files of a commit in a folder of their own, or of this working tree."""
    if commit is None:
        yield ROOT
        return
    subprocess.run(["git", "-C", str(ROOT), "worktree", "add", "--quiet", "--detach", str(folder), commit], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["git", "-C", str(ROOT), "worktree", "remove", "--force", str(folder)], check=True)


def run(code: Path, name: str, folder: Path, examples: Path) -> Path:
    """Run a job with one state of the code; the folder with its results and what it printed."""
    if (folder / "out" / "printed.txt").exists():  # kept from an earlier comparison
        return folder / "out"
    write_job(name, folder, examples)
    environment = {**os.environ, "PYTHONPATH": str(code), "PYTHONHASHSEED": "0"}
    ours = subprocess.run([sys.executable, "-c", "import geozone; print(geozone.__file__)"], env=environment, cwd=folder, text=True,
                          capture_output=True, check=True).stdout.strip()
    if Path(ours).parents[1].resolve() != code.resolve():
        sys.exit(f"another geozone than that of {code} would run: {ours}")
    done = subprocess.run([sys.executable, "-m", "geozone", "run", "job.toml", "--out", "out"], env=environment, cwd=folder, text=True,
                          capture_output=True)
    if done.returncode:
        sys.exit(f"{name} fails with the code in {code} (exit code {done.returncode}):\n{done.stderr}{done.stdout}")
    (folder / "out" / "printed.txt").write_text(done.stdout, encoding="utf-8")
    return folder / "out"


def main(arguments=None) -> int:
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("before", metavar="COMMIT")
    reader.add_argument("--after", metavar="COMMIT", help="left out: the working tree")
    reader.add_argument("--jobs", nargs="+", choices=NAMES, default=NAMES, metavar="NAME", help=", ".join(NAMES))
    reader.add_argument("--renamed", nargs="+", default=[], metavar="OLD=NEW", help="words that were changed on purpose")
    reader.add_argument("--kept", type=Path, metavar="FOLDER", help="where results of the earlier commit are kept for the next time")
    asked = reader.parse_args(arguments)
    if not all(0 < one.find("=") < len(one) - 1 for one in asked.renamed):
        reader.error("--renamed takes words as old=new")
    renamed = dict(one.split("=", 1) for one in asked.renamed)
    count = 0
    commit = subprocess.run(["git", "-C", str(ROOT), "rev-parse", "--verify", f"{asked.before}^{{commit}}"], text=True, capture_output=True)
    if commit.returncode:
        reader.error(f"no such commit: {asked.before}")
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        earlier = asked.kept.resolve() / commit.stdout.strip() if asked.kept else folder / "b"
        with checked_out(asked.before, folder / "before") as before, checked_out(asked.after, folder / "after") as after:
            for name in asked.jobs:
                def both(turn: str, name=name):
                    return [run(code, name, side / turn / name, before / "data") for side, code in ((earlier, before), (folder / "a", after))]

                found = differences(*both("first"), renamed)
                if found:
                    # A first run may compile kernels itself, and code from the cache rounds otherwise in the last place.
                    found = differences(*both("second"), renamed)
                count += len(found)
                print(f"{name}: {'the same' if not found else f'{len(found)} differences'}", *found, sep="\n  ", flush=True)
    print(f"{len(asked.jobs)} jobs: {f'{count} differences' if count else 'nothing differs'}")
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main())
