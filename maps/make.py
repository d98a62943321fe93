"""Make the finished examples in maps/ from the jobs in data/: of each run its map and its pictures, and pictures of the map."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from geozone import read_job, run

MAPS = Path(__file__).parent
JOBS = MAPS.parent / "data"
# Job -> picture -> width, height, and the view that is chosen first (None: as the page opens).
PICTURES = {"border": {"wide": (1440, 900, None), "shared": (1440, 900, "shared"), "programmes": (1440, 900, "year"),
                       "phone": (360, 740, None)},
            "town": {"wide": (1440, 900, None)}}
# Examples of whose paper there are pictures.
WITH_PAPER = ("border",)
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]


# Paper -> file, page and dots per inch of its picture.
PAPER = {"sheet": ("sheet.pdf", 1, 90), "card": ("cards.pdf", 1, 90)}


def kept(out: Path, home: Path) -> None:
    """What the repository keeps of a run: the map and the pictures. The tables are the same run's, and anybody can make them."""
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    shutil.copy(out / "map.html", home)
    if (out / "pictures").is_dir():
        shutil.copytree(out / "pictures", home / "pictures")


def paper_pictures(out: Path, name: str) -> None:
    """A page of the sheet and one of the cards as pictures, by a reader of PDF that shares nothing with what made them."""
    reader = shutil.which("pdftoppm")
    if name not in WITH_PAPER or not reader:
        return
    for kind, (file, page, dots) in PAPER.items():
        subprocess.run([reader, "-png", "-singlefile", "-f", str(page), "-r", str(dots), str(out / file), str(MAPS / f"{name}-{kind}")],
                       check=True, stderr=subprocess.DEVNULL)


def main() -> None:
    for name in PICTURES:
        with tempfile.TemporaryDirectory() as folder:
            out = Path(folder) / "out"
            answers = run(read_job(JOBS / name / "job.toml"), out)
            kept(out, MAPS / name)
            paper_pictures(out, name)
        drift = answers.summary["drift"]
        print(f"{name}: {drift['sites_within']} within, {drift['sites_beyond']} beyond, "
              f"{drift['sites_other_clock']} on another clock" + (f"; {answers.groups.headline}" if answers.groups else ""))
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if not chromium:
        print("no Chromium found: the pictures are left as they are", file=sys.stderr)
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        for name, sizes in PICTURES.items():
            for kind, (width, height, view) in sizes.items():
                page = browser.new_page(viewport={"width": width, "height": height})
                page.goto((MAPS / name / "map.html").as_uri())
                page.wait_for_timeout(1000)
                if view == "year":
                    page.locator("details.programme summary").last.click()
                    page.get_by_role("button", name="Enlarge the picture").last.click()
                elif view:
                    page.locator(f"input[name=view][value={view}]").check()
                page.wait_for_timeout(1000)
                page.screenshot(path=str(MAPS / f"{name}-{kind}.png"))
                page.close()
        browser.close()


if __name__ == "__main__":
    main()
