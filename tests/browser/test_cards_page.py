"""The phone's page of cards in a real browser, with the network blocked: real runs, found, read and typed in."""

import runpy
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from geozone.paper.carddata import CardOptions, group_cards
from geozone.paper.cards import card_head, card_sites
from geozone.paper.words import words_in
from geozone.screens.cardpage import draw_cards
from geozone.trade.readings import Display, readings
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad

watch = runpy.run_path(str(Path(__file__).parent / "onpage.py"))["watch"]
HOSTILE = ["<script>alert(1)</script>", "{data}", "</script><b>x", "=HYPERLINK(\"x\")", "x" * 200, "שלום", "a\u200db", "<img src=x onerror=alert(2)>"]
KNOWN = Display(includes_offsets=True, dawn="morning")


@pytest.fixture
def open_cards(chromium, tmp_path):
    contexts, trouble = [], []

    def opened(answers, display=KNOWN, clocks=ClockKeypad(), **options):
        options = CardOptions(**options)
        cards = group_cards(answers, options, display, clocks)
        file = tmp_path / "cards.html"
        file.write_text(draw_cards(answers, cards, options, display), encoding="utf-8")
        context = chromium.new_context(viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, offline=True)
        contexts.append(context)
        page = context.new_page()
        watch(page, file, trouble)
        page.goto(file.as_uri())
        return page, cards

    yield opened
    for context in contexts:
        context.close()
    assert trouble == []


def find(page, text):
    page.get_by_label("Find a site, cabinet or group").fill(text)
    page.locator("#found button").first.click()


def shown(page):
    return [text.split("\n")[0] for text in page.locator("#right .reading").all_inner_texts()]


def clock_text(minute):
    return "no time" if np.isnan(minute) else f"{int(minute + 0.5) % 1440 // 60:02d}:{int(minute + 0.5) % 60:02d}"


def near(text, minute):
    """Texts of the same minute; where the seconds are within two of a half minute both neighbours are right."""
    return text in {clock_text(minute - 1 / 30), clock_text(minute + 1 / 30)}


@pytest.mark.parametrize("run", ["together", "programmes", "keypad"])
def test_readings_of_a_site_are_the_programs_on_ordinary_days_and_on_days_of_a_clock_change(real_run, open_cards, run):
    answers = real_run(run)
    clocks = ClockKeypad((540, 600), (SAVING_RULES["none"],)) if run == "keypad" else ClockKeypad()
    page, cards = open_cards(answers, clocks=clocks)
    for card in cards[:3]:
        site = str(card_sites(card, answers)["site_id"].iloc[0])
        page.get_by_label("Find a site, cabinet or group").fill(site)
        page.locator("#found button", has_text=card_head(card, words_in())).first.click()
        mine = readings([card.keyed], answers.year)
        for day in (0, 40, 93, 94, 171, 275, 276, 364):  # 4 April and 3 October 2027: clock changes of southern Australia (tz database)
            page.locator("#day").fill((date(answers.year, 1, 1) + timedelta(day)).isoformat())
            page.locator("#day").dispatch_event("change")
            dusk, dawn = shown(page)
            assert near(dusk, mine.dusk_min[0, day]) and near(dawn, mine.dawn_min[0, day]), (card.name, day)


def test_a_slips_reading_lists_the_slip_with_its_mend_and_a_right_one_agrees(real_run, open_cards):
    answers = real_run("together")
    page, cards = open_cards(answers, first_day="2027-06-21")
    card, words = cards[0], words_in()
    find(page, words("card", group=card.name))
    day = 171
    page.locator("#day").fill("2027-06-21")
    page.locator("#day").dispatch_event("change")
    for slip in card.slips[:40:3]:
        found = readings([slip.keyed], answers.year)
        for edge, minute in (("dusk", found.dusk_min[0, day]), ("dawn", found.dawn_min[0, day])):
            whole = int(np.floor(minute)) % 1440
            page.locator(f"#{edge}").fill(f"{whole // 60:02d}:{whole % 60:02d}")
        item = page.locator(f"#answer li[data-slip={slip.key}]").first
        assert words(f"mend_{slip.about}") in item.inner_text(), slip.key
    right = readings([card.keyed], answers.year)
    for edge, minute in (("dusk", right.dusk_min[0, day]), ("dawn", right.dawn_min[0, day])):
        page.locator(f"#{edge}").fill(f"{int(minute) // 60:02d}:{int(minute) % 60:02d}")
    assert words("page_answer_right") in page.locator("#answer").inner_text()


def test_a_cabinet_is_found_a_display_without_a_time_is_entered_and_a_date_of_another_year_is_said(real_run, open_cards):
    answers = real_run("together")
    page, _ = open_cards(answers)
    cabinet = next(str(name) for name in answers.sites["cabinet"] if str(name))
    find(page, cabinet)
    assert cabinet in page.locator("#card h2").inner_text()
    page.locator("#no-dusk").check()
    assert words_in()("else_none") in page.locator("#answer").inner_text()
    page.locator("#dusk").fill("18:00")
    assert not page.locator("#no-dusk").is_checked()
    page.locator("#day").fill("2026-01-01")
    page.locator("#day").dispatch_event("change")
    assert "The plan is for 2027" in page.locator("#right").inner_text() and not page.locator("#answer").is_visible()
    page.get_by_label("Find a site, cabinet or group").fill("nowhere at all")
    assert page.locator("#found").inner_text() == "Nothing found."


def test_what_a_display_shows_is_given_both_ways_where_it_is_not_known_and_on_a_face_of_12_hours(real_run, open_cards):
    page, cards = open_cards(real_run("together"), Display(hours=12))
    card = next(card for card in cards if card.setting.dusk_offset_min or card.setting.dawn_offset_min)
    find(page, words_in()("card", group=card.name))
    texts = shown(page)
    assert len(texts) == 6 and all(text.endswith(("a.m.", "p.m.")) for text in texts)


def test_hostile_names_are_text_and_nothing_is_wider_than_the_phone(real_run, open_cards):
    answers = real_run("together")
    sites = answers.sites.copy()
    sites.loc[sites.index[:len(HOSTILE)], "name"] = HOSTILE
    page, _ = open_cards(replace(answers, sites=sites, title="</title><script>alert(3)</script> {scripts}"))
    for name in HOSTILE:
        find(page, name[:60])
        assert name in page.locator("#card h2").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_sites_without_a_setting_are_found_and_a_master_clock_is_said(real_run, open_cards):
    answers = real_run("unserved")
    page, _ = open_cards(answers)
    left = answers.sites[answers.sites["group"].astype(str) == ""]
    assert len(left)
    find(page, str(left["site_id"].iloc[0]))
    assert "no setting serves it" in page.locator("#card").inner_text()
    page, _ = open_cards(real_run("master"))
    page.locator("#found button").first.click()
    assert "One switch commands all these sites, on the clock of Australia/Adelaide" in page.locator("#card").inner_text()
