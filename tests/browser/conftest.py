"""A real Chromium with the network blocked, and pages opened from files as a user opens them.

Without a Chromium on PATH these tests are skipped and say so; where CI is set they fail instead, because there a silent
skip would pass for a proof.
"""

import os
import runpy
import shutil
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

import pytest

from geozone.screens.webmap import draw_map

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
watch = runpy.run_path(str(Path(__file__).parent / "onpage.py"))["watch"]


@pytest.fixture(scope="session")
def example_answers():
    return runpy.run_path(str(Path(__file__).parent / "example_answers.py"))["example_answers"]


@pytest.fixture(scope="session")
def real_run(tmp_path_factory):
    """Answers of a real run by its name in real_runs.py, each computed once."""
    runs, made = runpy.run_path(str(Path(__file__).parent / "real_runs.py")), {}

    def answers(name):
        if name not in made:
            made[name] = runs["run"](name, tmp_path_factory.mktemp("runs") / name)
        return made[name]

    answers.names = tuple(runs["RUNS"])
    return answers


@pytest.fixture(scope="session")
def chromium():
    path = next(filter(None, map(shutil.which, NAMES)), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        path, sync_playwright = None, None
    if path is None:
        reason = "needs the playwright package and a Chromium on PATH"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def written(tmp_path_factory, example_answers):
    """Pages by name and answers, each drawn once."""
    folder, made = tmp_path_factory.mktemp("pages"), {}

    def write(name, answers):
        # The answers are kept as well: two modules may call different ones by one name, and a number may be used again.
        if (name, id(answers)) not in made:
            file = folder / f"{name}-{len(made)}.html"
            file.write_bytes(draw_map(answers).encode("utf-8"))
            made[name, id(answers)] = file, answers
        return made[name, id(answers)][0]

    return write


@contextmanager
def pages(chromium, written):
    """Opens pages; afterwards nothing may have been asked of the network, printed to the console or thrown."""
    contexts, trouble = [], []

    def opened(name, answers, *, width=1440, height=900, touch=False, link="", **media):
        file = written(name, answers)
        context = chromium.new_context(viewport={"width": width, "height": height}, has_touch=touch, is_mobile=touch,
                                       device_scale_factor=2 if touch else 1, offline=True, reduced_motion="reduce", **media)
        contexts.append(context)
        page = context.new_page()
        watch(page, file, trouble)
        page.goto(file.as_uri() + link)
        # Not `wait_for_function`: the page's policy forbids what that does where it has to ask twice.
        page.locator("html[data-drawn-ms]").wait_for(state="attached")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert trouble == []


@pytest.fixture
def open_page(chromium, written):
    with pages(chromium, written) as opened:
        yield opened


@pytest.fixture(scope="module")
def open_for_module(chromium, written):
    """As `open_page`, for a page that all tests of a module look at, one after the other."""
    with pages(chromium, written) as opened:
        yield opened


@pytest.fixture(scope="session")
def axe():
    """The text of axe-core (MPL-2.0), which a package for tests carries: nothing is fetched."""
    return (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def full_answers(example_answers):
    """A plan with cabinets, and programmes, that geozone makes for invented sites: everything that the page can show."""
    from geozone.trade.setting import Tolerance
    here = Path(__file__).parent
    with_groups = runpy.run_path(str(here / "example_answers.py"))["with_groups"]
    with_programmes = runpy.run_path(str(here / "example_programmes.py"))["with_programmes"]
    plain = example_answers(120, 9, tolerance=Tolerance(3, 6))
    plain.sites["contract"] = [f"T{k % 5}" for k in range(120)]
    # Three sites a cabinet, as long as they keep one clock.
    plain.sites["cabinet"] = [f"K {k // 3}{'' if zone == 'Australia/Adelaide' else ' east'}" for k, zone in enumerate(plain.sites["legal_zone"])]
    return with_programmes(with_groups(plain, existing="contract", keep_together="cabinet", curve_to=4, time_limit_s=6))
