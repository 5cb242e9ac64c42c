"""The sheet of `pinscar gather --review`: ticks stay in the browser until what they stand for changes."""

from __future__ import annotations

import numpy as np

from pinscar.bench.review_sheet import Card, picture_address, sheet_html

PICTURE = np.full((40, 60, 3), 120, dtype=np.uint8)


def card(run: str, length: str = "3.78 mm", shade: int = 0) -> Card:
    return Card(f"{run}: scar", 0.5, picture_address(PICTURE + np.uint8(shade)), (("Length", length),), "")


def write(path, cards, campaign="c-1"):
    path.write_text(sheet_html(cards, campaign), encoding="utf-8")
    return path.as_uri()


def ticked(tab):
    return tab.locator("article").evaluate_all(
        "all => all.filter(one => one.querySelector('input').checked)"
        ".map(one => one.querySelector('h2').innerText)"
    )


def ticked_without_script(tab):
    return [box.is_checked() for box in tab.get_by_label("looked over").all()]


def test_ticks_are_there_after_a_reload_and_in_a_new_tab(browser, tmp_path):
    address = write(tmp_path / "sheet.html", [card("r1"), card("r2"), card("r3")])
    context = browser.new_context()
    tab = context.new_page()
    tab.goto(address)
    assert ticked(tab) == []
    tab.get_by_label("looked over").nth(0).check()
    tab.get_by_label("looked over").nth(2).check()
    tab.reload()
    assert ticked(tab) == ["r1: scar", "r3: scar"]
    tab.get_by_label("looked over").nth(0).uncheck()
    again = context.new_page()
    again.goto(address)
    assert ticked(again) == ["r3: scar"]
    assert again.locator("#lost").is_hidden()
    context.close()


def test_a_reading_or_a_picture_that_changed_is_unticked(browser, tmp_path):
    path, context = tmp_path / "sheet.html", browser.new_context()
    address = write(path, [card("r1"), card("r2"), card("r3")])
    tab = context.new_page()
    tab.goto(address)
    for box in tab.get_by_label("looked over").all():
        box.check()
    write(path, [card("r2"), card("r1", length="3.79 mm"), card("r3", shade=40)])
    tab.reload()
    assert ticked(tab) == ["r2: scar"]
    context.close()


def test_campaigns_do_not_share_their_ticks(browser, tmp_path):
    context = browser.new_context()
    tab = context.new_page()
    tab.goto(write(tmp_path / "one.html", [card("r1")]))
    tab.get_by_label("looked over").check()
    tab.goto(write(tmp_path / "two.html", [card("r1")], campaign='c-2 "<b>'))
    assert ticked(tab) == []
    assert tab.locator("main").get_attribute("data-campaign") == 'c-2 "<b>'
    context.close()


def test_without_script_or_storage_the_sheet_says_that_ticks_are_lost(browser, tmp_path):
    address = write(tmp_path / "sheet.html", [card("r1")])
    plain = browser.new_context(java_script_enabled=False)
    tab = plain.new_page()
    tab.goto(address)
    tab.get_by_label("looked over").check()
    assert ticked_without_script(tab) == [True]
    assert "<noscript><p>No script runs here" in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    plain.close()
    context = browser.new_context()
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage', "
        "{get() { throw new DOMException('no', 'SecurityError'); }})"
    )
    tab = context.new_page()
    tab.goto(address)
    tab.get_by_label("looked over").check()
    assert tab.get_by_text("This browser keeps no ticks").is_visible()
    context.close()


def test_axe_finds_nothing_on_the_sheet(axe, tmp_path):
    write(tmp_path / "sheet.html", [card("r1"), Card("r2: scar", -1.0, None, (), "no scar was found")])
    assert axe(tmp_path / "sheet.html") == []
