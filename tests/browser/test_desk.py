"""The desk as a user meets it, in a real Chromium: from an empty plan to the finished sheet, by mouse and by keyboard, and attacked.

The answers are those of a real run that the page itself started.
"""

import json
import os
import re
import runpy
import shutil
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from geozone.jobs.examples import examples_folder

coined = runpy.run_path(str(Path(__file__).parent / "test_coined_words.py"))["coined"]
# Two rows more that cannot be used, as lists have them.
_BAD = "X1,nowhere,,,\nX2,far,-134.2,143.1,\n"


class OpenDesk:
    """A desk in a process of its own, and pages in it; what a page may not do is noted."""

    def __init__(self, folder, chromium):
        self.folder, self.trouble, self._contexts, self._chromium = folder, [], [], chromium
        with open(folder.parent / "err", "w") as err:
            self.process = subprocess.Popen([sys.executable, "-m", "geozone.cli", "desk", folder, "--no-browser"], stdout=subprocess.PIPE, text=True, stderr=err)
        self.address = ""
        while not self.address:
            line = self.process.stdout.readline()
            assert line, (folder.parent / "err").read_text()
            self.address = (re.findall(r"http://\S+", line) or [""])[0]
        self.base = self.address.split("/open")[0]
        self._state = None

    def page(self, path="/", *, width=1280, height=900, allowed=(), **media):
        context = self._chromium.new_context(viewport={"width": width, "height": height}, storage_state=self._state, reduced_motion="reduce", **media)
        self._contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)
        page.on("console", lambda one: None if one.type != "error" or any(text in one.text for text in allowed) else self.trouble.append(one.text))
        page.on("pageerror", lambda error: self.trouble.append(str(error)))
        page.on("request", lambda one: None if one.url.startswith((self.base, "data:")) else self.trouble.append(one.url))
        if self._state is None:
            page.goto(self.address)
            page.wait_for_url(self.base + "/")
            self._state = context.storage_state()
        if path != "/" or self.base not in page.url:
            page.goto(self.base + path)
        return page

    def close(self):
        for context in self._contexts:
            context.close()
        self.process.send_signal(signal.SIGINT)
        said, _ = self.process.communicate(timeout=20)
        err = (self.folder.parent / "err").read_text()
        assert self.process.returncode == 0 and "The desk is closed." in said and "Traceback" not in err + said, err
        assert self.trouble == []


@pytest.fixture(scope="module")
def desk(chromium, tmp_path_factory):
    opened = OpenDesk(tmp_path_factory.mktemp("desk") / "plans", chromium)
    yield opened
    opened.close()


def by_keys(page, selector, key="Enter", back=False):
    """Go to a control by the tab key, as a person without a mouse does, and press a key or type there."""
    for _ in range(200):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none", selector
            page.keyboard.press(key) if key in ("Enter", "Control+A") else page.keyboard.type(key)
            return
    raise AssertionError(f"the tab key does not come to {selector}")


@pytest.fixture(scope="module")
def finished(desk, tmp_path_factory):
    """A plan that went from an empty folder to its list by the keyboard; only the system's own dialog for files is not one of the page."""
    files = tmp_path_factory.mktemp("files")
    (files / "Liste Nord.csv").write_text((examples_folder() / "template" / "sites.csv").read_text(encoding="utf-8") + _BAD, encoding="utf-8")
    shutil.copy(examples_folder() / "template" / "areas.geojson", files)
    page = desk.page()
    assert page.locator("h2", has_text="Demo").count() == 1  # the first plan of an empty folder
    page.fill("#new-name", "North <b>bank</b> & co")
    page.click("text=Make it")
    assert "can be no plan's name" in page.inner_text("[role=alert]")
    by_keys(page, "#new-name", "North & co")
    page.keyboard.press("Enter")
    page.wait_for_url("**/plan/North*")
    assert "no site list yet" in page.inner_text("main")
    page.set_input_files("#drop-sites", files / "Liste Nord.csv")
    page.set_input_files("#drop-areas", files / "areas.geojson")
    by_keys(page, "form[data-drop] button")
    page.locator("#h-read").wait_for()
    return page, files


def test_from_a_list_to_the_answers(desk, finished):
    page, _ = finished
    plan = desk.folder / "North & co"
    used = len((examples_folder() / "template" / "sites.csv").read_text(encoding="utf-8").splitlines()) - 1
    assert f"{used} sites can be used, 2 rows cannot." in page.inner_text("main")
    assert page.locator("tr", has=page.locator("th", has_text=re.compile("^lat$"))).inner_text().split("\t")[1] == "Latitude, or north (found out)"
    assert page.evaluate("document.querySelector('.positions').naturalWidth") > 100
    with page.expect_download() as got:
        page.click("text=Download these rows")
    assert "X2,far,-134.2" in got.value.path().read_text(encoding="utf-8-sig")
    # A column stated by its drop-down; then the guess again.
    page.select_option('[name="columns.name"]', "site_id")
    page.click("text=Read it so")
    page.locator("td", has_text="Name (stated)").wait_for()
    assert 'name = "site_id"' in (plan / "job.toml").read_text(encoding="utf-8")

    by_keys(page, "a[href$='/ask'].button", back=True)
    page.wait_for_url("**/ask")
    page.fill('[name="tolerance.dark_min"]', "some")
    page.click("text=Save and run")
    assert "cannot run yet" in page.inner_text("[role=alert]") and not (plan / "out").exists()
    wrong = page.locator('[name="tolerance.dark_min"]')
    assert wrong.get_attribute("aria-invalid") == "true" and wrong.input_value() == "some"
    assert "a number greater than 0 and at most 120" in page.inner_text('[id="f-tolerance.dark_min-wrong"]')
    page.fill('[name="tolerance.dark_min"]', "4,5")
    page.locator("#main").focus()
    by_keys(page, "button[value=run]")
    page.wait_for_url("**/answers")
    page.locator("text=Cancel the run").wait_for()
    page.locator("[data-tried] td.number").first.wait_for(timeout=120_000)  # the first figures, before there is a file
    page.locator("text=Done in").wait_for(timeout=240_000)

    summary = json.loads((plan / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["job"]["dark_min"] == 4.5 and summary["sites"]["used"] == used
    assert f"{summary['drift']['sites_within']} within" in page.inner_text("header") and "Result" in page.inner_text(".report")
    frame = page.frame_locator("iframe.map")
    frame.locator("html[data-drawn-ms]").wait_for(state="attached")
    assert "settings serve" in frame.locator("#headline").inner_text() or "setting serves" in frame.locator("#headline").inner_text()
    page.locator("img.sheet").scroll_into_view_if_needed()
    page.locator("img.sheet").evaluate("one => one.decode()")
    assert page.locator("img.sheet").evaluate("one => one.naturalWidth") > 500
    with page.expect_download() as got:
        page.click("text=All as a zip")
    names = {path.relative_to(plan / "out").as_posix() for path in (plan / "out").rglob("*") if path.is_file()}
    assert set(zipfile.ZipFile(got.value.path()).namelist()) == names and got.value.suggested_filename == "North & co.zip"

    page.click(".jump >> text=sites.csv")
    page.click("th >> text=worst_dark_min")
    minutes = [float(text) for text in page.locator(f"td:nth-child({1 + page.locator('th').all_inner_texts().index('worst_dark_min ↑')})").all_inner_texts()]
    assert minutes == sorted(minutes) and len(minutes) == used
    page.fill("#find", "no such text")
    page.click("text=Show")
    assert "0 rows of" in page.inner_text("main")
    page.go_back()
    page.go_back()
    assert page.locator("th[aria-sort]").count() == 0


def test_an_as_found_list_is_dropped_and_audited(desk, finished):
    """Noon for dusk is no slip's; a list without a date is refused with the next step, and the audit before it stays."""
    plan, (page, files) = desk.folder / "North & co", finished
    ids = [line.split(",")[0] for line in (plan / "out" / "sites.csv").read_text(encoding="utf-8-sig").splitlines()[1:]]
    year = json.loads((plan / "out" / "summary.json").read_text(encoding="utf-8"))["job"]["year"]
    (files / "June <b>.csv").write_text(f"site_id,read_on,dusk_shown,dawn_shown\n{ids[0]},{year}-06-21,12:00,12:01\n", encoding="utf-8")
    (files / "undated.csv").write_text(f"site_id,dusk_shown\n{ids[0]},17:00\n", encoding="utf-8")
    page.goto(desk.base + "/plan/North%20%26%20co/audit")
    assert "There is no audit yet." in page.inner_text("main")
    page.set_input_files("#drop-found", files / "June <b>.csv")
    page.click("text=Put into the plan and audit")
    page.locator("text=Done in").wait_for(timeout=120_000)
    assert 'found = "June b.csv"' in (plan / "job.toml").read_text(encoding="utf-8")
    assert "1 site to visit on 1 day; 0 readings of 1 agree" in page.inner_text("main") and "isolate and prove dead" in page.inner_text("main")
    work = page.frame_locator("iframe[title^='Work list']")
    assert work.locator("tbody tr").count() == 1 and ids[0] in work.locator("td.site button").inner_text() and "1 site to visit." in work.locator("[role=status]").inner_text()
    assert f'["{ids[0]}",' in (plan / "audit" / "cards.html").read_text(encoding="utf-8")
    page.click(".jump >> text=Audit of every site")
    page.click("th >> text=reading")
    assert {"no known slip", "not read"} == set(page.locator(f"td:nth-child({1 + page.locator('th').all_inner_texts().index('reading ↑')})").all_inner_texts())
    with page.expect_download() as got:
        page.locator("text=Download").click()
    assert got.value.path().read_bytes() == (plan / "audit" / "audit.csv").read_bytes()
    before = (plan / "audit" / "summary.json").read_bytes()
    page.goto(desk.base + "/plan/North%20%26%20co/audit")
    page.set_input_files("#drop-found", files / "undated.csv")
    page.click("text=Put into the plan and audit")
    page.locator("text=does not say when the switches were read").wait_for(timeout=60_000)
    assert (plan / "audit" / "summary.json").read_bytes() == before and page.locator("text=Audit again with undated.csv").count() == 1


def test_fields_by_keyboard(desk, finished):
    """Enter in a field saves it; every control is reached by the tab key and shows that it is."""
    page = desk.page("/plan/North%20%26%20co/ask")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    seen = []
    while len(seen) < 400 and "tolerance.excess_min" not in seen:
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.name || document.activeElement.value || document.activeElement.textContent"))
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none", seen[-1]
    page.keyboard.press("Control+A")
    page.keyboard.type("8")
    page.keyboard.press("Enter")
    page.locator("[role=status]", has_text="Saved.").wait_for()
    assert "excess_min = 8 " in (desk.folder / "North & co" / "job.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", ["/", "/plan/North%20%26%20co", "/plan/North%20%26%20co/ask", "/plan/North%20%26%20co/text", "/plan/North%20%26%20co/answers",
                                  "/plan/North%20%26%20co/table?file=sites.csv", "/plan/North%20%26%20co/audit", "/plan/none", "/plan/Demo/ask", "/plan/Demo"])
def test_for_everybody(desk, finished, axe, path):
    """axe-core, 360 px and dark: no violation, nothing wider than the screen."""
    page = desk.page(path, bypass_csp=True, allowed=("404",))
    if page.locator("text=Reading the files").count():
        page.locator("#h-read").wait_for()
    if path.endswith("/answers"):  # with an answer to what if, and with a fault
        page.locator("[data-tried]").evaluate("one => one.scrollIntoView()")
        page.fill('[name="tolerance.dark_min"]', "a few")
        page.keyboard.press("Tab")
        page.locator("[data-tried] .fault").wait_for()
    page.evaluate(axe)
    for width, scheme in ((1280, "light"), (360, "dark")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        found = page.evaluate("axe.run(document, {iframes: false}).then(r => r.violations.map(v => v.id + ' ' + v.nodes.map(n => n.html.slice(0, 160)).slice(0, 3).join(' | ')))")
        assert found == [], (path, width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not coined(page.inner_text("body"))
    page.context.close()
    desk._contexts.remove(page.context)


def test_two_tabs_lose_nothing(desk, finished):
    first, second = desk.page("/plan/North%20%26%20co/ask"), desk.page("/plan/North%20%26%20co/ask")
    first.fill('[name="sheet.owner"]', "Town of X")
    first.click("button[value=save]")
    first.locator("[role=status]", has_text="Saved.").wait_for()
    second.fill('[name="sheet.department"]', "Roads")
    second.click("button[value=save]")
    assert "changed meanwhile" in second.inner_text("main") and 'department = "Roads"' in second.inner_text(".plus")
    second.click("text=Write my change")
    second.locator("[role=status]", has_text="Saved.").wait_for()
    text = (desk.folder / "North & co" / "job.toml").read_text(encoding="utf-8")
    assert 'owner = "Town of X"' in text and 'department = "Roads"' in text


def test_cancel_leaves_the_answers(desk, finished):
    plan = desk.folder / "North & co"
    before = (plan / "out" / "summary.json").read_bytes()
    page = desk.page("/plan/North%20%26%20co/answers", allowed=("ERR_INTERNET_DISCONNECTED",))
    page.click("text=Run again")
    page.locator("[data-said] li").first.wait_for()
    page.context.set_offline(True)  # the connection is lost and comes back: the page says so, and the run goes on
    page.locator("p[data-now]", has_text="The desk does not answer").wait_for()
    page.context.set_offline(False)
    page.locator("p[data-now]:not(:has-text('does not answer'))").wait_for()
    page.click("text=Cancel the run")
    page.locator("text=The run was cancelled.").wait_for()
    assert (plan / "out" / "summary.json").read_bytes() == before and not list(plan.glob(".*"))
    page.go_back()
    assert page.locator("text=Run again").count() == 1


_HOSTILE = """<!doctype html><meta charset="utf-8"><p id="said"></p><script>
const said = [], say = (what, how) => { said.push(what + ":" + how); document.getElementById("said").textContent = said.join(" "); };
for (const [what, how] of [["cookie", () => document.cookie], ["parent", () => parent.document.title], ["store", () => localStorage.length]])
  try { how(); say(what, "reached"); } catch (why) { say(what, "refused"); }
try { top.location = "/plans"; } catch (why) { say("top", "refused"); }
fetch("/plan/Demo/state").then(() => say("fetch", "reached"), () => say("fetch", "refused"));
fetch("/plans", { method: "POST", body: "do=bin&plan=Demo", mode: "no-cors", credentials: "include" }).then(() => say("post", "reached"), () => say("post", "refused"));
const picture = new Image(); picture.onload = () => say("image", "reached"); picture.onerror = () => say("image", "refused"); picture.src = "/web/desk.css";
</script>"""


def test_another_tolerance_says_what_changed_and_stands_beside_the_first(desk, finished):
    page = desk.page()
    page.locator("details", has_text="Copy").nth(1).locator("summary").click()
    page.fill("#name-2", "Wider")
    page.locator("li", has=page.locator("h2", has_text="North & co")).locator("button[value=copy]").click()
    shutil.copytree(desk.folder / "North & co" / "out", desk.folder / "Wider" / "out")
    page.goto(desk.base + "/plan/Wider/ask")
    page.fill('[name="tolerance.dark_min"]', "60")
    page.click("text=Save and run")
    page.locator("text=Done in").wait_for(timeout=120_000)
    one, other = (json.loads((desk.folder / name / "out" / "summary.json").read_text(encoding="utf-8")) for name in ("North & co", "Wider"))
    row = page.locator("tr", has_text="Tolerance: unlit").inner_text().split("\t")
    assert row[1:] == ["4.5", "60.0", "+55.5"]
    page.select_option("#other", "North & co")
    page.click("text=Compare")
    row = page.locator("tr", has_text="Shared setting: sites within").inner_text().split("\t")
    assert row[1:3] == [str(other["drift"]["sites_within"]), str(one["drift"]["sites_within"])]


# What a map may say, and what one that was tampered with might.
_SAYS = """<!doctype html><meta charset="utf-8"><p id="here"></p><script>
const good = { geozone: "tried", lat_deg: -34.9, lon_deg: 144.1, dusk_offset_min: 2, dawn_offset_min: -3, dark_min: 3.5, excess_min: 8 };
const wrong = [null, "tried", { ...good, geozone: "other" }, { ...good, lat_deg: "1" }, { ...good, lat_deg: 91 }, { ...good, lon_deg: NaN }, { ...good, dark_min: 0 },
               { ...good, excess_min: 1e9 }, { ...good, dusk_offset_min: "<b>" }, { ...good, dawn_offset_min: undefined }, { geozone: "tried" }, [1, 2, 3, 4, 5, 6]];
</script>"""


def test_what_if_is_asked_by_the_fields_and_by_the_map_and_taken(desk, finished):
    plan = desk.folder / "Asks"
    shutil.copytree(desk.folder / "North & co", plan)
    (plan / "out" / "map.html").write_text(_SAYS, encoding="utf-8")
    page = desk.page("/plan/Asks/answers", allowed=("allow-scripts",))
    names = [f"shared.{name}" for name in ("lat_deg", "lon_deg", "dusk_offset_min", "dawn_offset_min")] + ["tolerance.dark_min", "tolerance.excess_min"]

    def values():
        return [page.input_value(f'[name="{name}"]') for name in names]

    before = values()
    page.locator("iframe.map").scroll_into_view_if_needed()
    page.frame_locator("iframe.map").locator("#here").wait_for(state="attached")
    frame = next(one for one in page.frames if one.url.endswith("map.html"))
    frame.evaluate("() => wrong.forEach(one => parent.postMessage(one, '*'))")
    # Nor is the page itself heard, with what would be right.
    page.evaluate("() => postMessage({ geozone: 'tried', lat_deg: 1, lon_deg: 2, dusk_offset_min: 3, dawn_offset_min: 4, dark_min: 5, excess_min: 6 }, '*')")
    page.wait_for_timeout(300)
    assert values() == before
    frame.evaluate("() => parent.postMessage(good, '*')")
    page.locator("[data-tried] tr", has_text="Fewest settings: found").wait_for(timeout=120_000)
    assert values() == ["-34.9", "144.1", "2", "-3", "3.5", "8"] and "-34.9, 144.1" in page.inner_text("[data-tried]")
    page.fill('[name="tolerance.dark_min"]', "nobody knows")
    page.keyboard.press("Tab")
    page.locator("[data-tried] .fault", has_text="a number greater than 0").wait_for()
    page.fill('[name="tolerance.dark_min"]', "60")
    page.fill('[name="tolerance.excess_min"]', "60")
    page.keyboard.press("Enter")
    page.locator("[data-tried] .answer", has_text=" 0 beyond").wait_for(timeout=120_000)
    old = (plan / "job.toml").read_text(encoding="utf-8")
    assert "dark_min = 60" not in old
    page.click("text=Take this into the job")
    page.locator("[role=status]", has_text="Taken into the plan's job").wait_for()
    text = (plan / "job.toml").read_text(encoding="utf-8")
    assert re.search(r"(?m)^dark_min = 60 +# unlit", text) and re.search(r"(?m)^lat_deg = -34.9 +# ", text)
    page.go_back()
    page.context.close()
    desk._contexts.remove(page.context)


def test_pictures_follow_what_is_typed_and_a_click_fills_the_position(desk, finished):
    page = desk.page("/plan/Demo/ask")
    page.fill('[name="dark.altitude_deg"]', "-9")
    page.locator("[data-dark] [data-words]", has_text="Sun 9 degrees below the horizon").wait_for()
    page.fill('[name="programme.3.event.1.at"]', "25:00")
    page.locator('[data-year="3"] [data-words]', has_text="impossible time").wait_for(timeout=120_000)
    page.fill('[name="programme.3.event.1.at"]', "21:00")
    page.locator('[data-year="3"] [data-words]', has_text="hours of light in the year").wait_for(timeout=120_000)
    page.goto(desk.base + "/plan/North%20%26%20co")
    page.locator("#h-map").wait_for()
    page.goto(desk.base + "/plan/North%20%26%20co/ask")
    spot = page.locator("[data-spot]")
    spot.click(position={"x": 14, "y": 14})  # the north-west corner of all sites and outlines
    west, north = (float(spot.get_attribute(f"data-{name}")) for name in ("west", "north"))
    assert float(page.input_value('[name="shared.lat_deg"]')) == pytest.approx(north, abs=0.051)
    assert float(page.input_value('[name="shared.lon_deg"]')) == pytest.approx(west, abs=0.051)
    page.on("dialog", lambda one: one.accept())
    page.close()


def test_a_hostile_map_reaches_nothing(desk, finished):
    plan = desk.folder / "Hostile"
    shutil.copytree(desk.folder / "North & co", plan)
    (plan / "out" / "map.html").write_text(_HOSTILE, encoding="utf-8")
    page = desk.page("/plan/Hostile/answers", allowed=("Refused", "violates", "sandbox", "Content Security Policy", "Unsafe attempt", "403", "Blocked", "not allowed", "Failed"))
    said = page.frame_locator("iframe.map").locator("#said")
    for what in ("cookie", "parent", "store", "fetch", "post", "image"):
        said.filter(has_text=f"{what}:refused").wait_for()
    assert "reached" not in said.inner_text() and page.url.endswith("/plan/Hostile/answers") and (desk.folder / "Demo" / "job.toml").is_file()
    page.context.close()
    desk._contexts.remove(page.context)
    shutil.rmtree(plan)
    assert os.path.isdir(desk.folder / "North & co")
