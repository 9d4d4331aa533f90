"""Chapters in JupyterLab in a real browser: cells run, keys move sliders, the page answers.

Needs playwright and a Chromium; skipped where there is none, unless ENGINECALC_BROWSER=required.
"""

import pytest

from tests.lab import lab, needs_browser, open_and_run, page

pytestmark = needs_browser()


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with lab(tmp_path_factory.mktemp("lab")) as where:
        yield where


def changed(opened, locator, before):
    """Return what the locator's element holds once it is no longer `before`."""
    for _ in range(1200):
        now = locator.inner_html()
        if now != before:
            return now
        opened.wait_for_timeout(25)
    raise AssertionError(f"still {before[:200]}")


def test_a_slider_moved_by_key_changes_numbers_and_picture(address):
    with page() as opened:
        open_and_run(opened, address, "01_plan_the_combination.ipynb")
        answer = opened.locator(".enginecalc-answer")
        answer.wait_for(timeout=60_000)
        assert "407.6 in³" in answer.inner_text()
        opened.locator(".enginecalc-table td", has_text="10.82 ± 0.06").first.wait_for()
        picture = opened.locator(".enginecalc-picture .widget-html-content").first
        numbers = opened.locator(".enginecalc-table").first
        stroke = opened.locator(".enginecalc-field", has_text="stroke").first
        for key in ("ArrowRight", "ArrowLeft", "PageUp"):
            said, drawn, told = (each.inner_html() for each in (answer, picture, numbers))
            stroke.locator(".noUi-handle").focus()
            opened.keyboard.press(key)
            assert "Plan B" in changed(opened, answer, said)
            assert changed(opened, picture, drawn).startswith("<svg")
            assert "displacement" in changed(opened, numbers, told)


def test_what_cannot_be_is_said_and_what_was_typed_stays(address):
    with page() as opened:
        open_and_run(opened, address, "01_plan_the_combination.ipynb")
        box = opened.locator(".enginecalc-field", has_text="bore").first.locator("input")
        box.fill("104.4 in")
        box.press("Enter")
        error = opened.locator(".enginecalc-error")
        error.wait_for()
        assert "outside 2.0..6.5 in - entered in mm?" in error.inner_text()
        assert opened.locator(".enginecalc-stale").count() >= 2
        assert box.input_value() == "104.4 in"
        box.fill("104,4 mm")
        box.press("Enter")
        opened.locator(".enginecalc-answer", has_text="Plan B").wait_for()
        opened.wait_for_function("() => !document.querySelector('.enginecalc-stale')")
        assert not error.count()


def test_the_front_door_opens_and_shows_another_engine(address):
    with page(820) as opened:
        open_and_run(opened, address, "00_start_here.ipynb")
        opened.locator(".enginecalc-answer", has_text="1-5-7-2-6-8-4-3 every 90°").wait_for()
        opened.locator(".widget-dropdown select").first.select_option("ferry-four")
        opened.locator(".enginecalc-answer", has_text="1-3-4-2 every 180°").wait_for()
        rows = opened.locator(".enginecalc-table tbody tr")
        assert rows.count() == 4


def test_the_cam_is_moved_by_key_and_a_wheel_is_offered(address):
    with page() as opened:
        open_and_run(opened, address, "04_piston_to_valve.ipynb")
        answer = opened.locator(".enginecalc-answer")
        answer.wait_for(timeout=60_000)
        assert "intake 0.108 in at 7.8° after TDC" in answer.inner_text()
        said = answer.inner_html()
        slider = opened.locator(".widget-slider", has_text="cam advance").locator(".noUi-handle")
        slider.focus()
        opened.keyboard.press("ArrowRight")
        assert "intake 0.105 in" in changed(opened, answer, said)
        opened.get_by_role("button", name="Degree wheel").click()
        link = opened.get_by_text("Save degree-wheel.pdf")
        link.wait_for()
        assert link.get_attribute("href").startswith("data:application/pdf;base64,JVBERi")


def test_the_crank_turns_to_where_a_pair_is_nearest_and_an_outline_is_typed(address):
    with page() as opened:
        open_and_run(opened, address, "05_clearance_in_the_block.ipynb")
        answer = opened.locator(".enginecalc-answer")
        answer.wait_for(timeout=60_000)
        assert "rod to rail, outer side 0.010 in at 46° after TDC" in answer.inner_text()
        picture = opened.locator(".enginecalc-picture .widget-html-content").first
        drawn = picture.inner_html()
        opened.locator(".widget-dropdown", has_text="nearest place of").locator(
            "select"
        ).select_option("counterweight to skirt")
        assert changed(opened, picture, drawn).startswith("<svg")
        slider = opened.locator(".widget-slider", has_text="crank angle after firing TDC")
        assert slider.locator(".widget-readout").inner_text() == "180"
        drawn = picture.inner_html()
        slider.locator(".noUi-handle").focus()
        opened.keyboard.press("ArrowRight")
        changed(opened, picture, drawn)
        outline = opened.locator(".enginecalc-field textarea")
        text = outline.input_value()
        outline.fill(text.replace("0.260 in", "0.200"))
        outline.blur()
        error = opened.locator(".enginecalc-error")
        error.wait_for()
        assert "line 4: radius: 0.200 has no unit" in error.inner_text()
        outline.fill(text.replace("0.260 in", "0.200 in"))
        outline.blur()
        opened.locator(".enginecalc-answer", has_text="all cylinders: counterweight").wait_for()
        opened.get_by_role("button", name="Swept envelope").click()
        opened.get_by_text("Save swept-envelope.pdf").wait_for()


@pytest.mark.parametrize(
    ("notebook", "label"),
    [("01_plan_the_combination", "plan A"), ("06_measure_and_match", "match")],
)
def test_a_dropdown_is_worked_by_keys_and_no_letter_takes_the_page_away(address, notebook, label):
    with page() as opened:
        open_and_run(opened, address, f"{notebook}.ipynb")
        opened.locator(".enginecalc-answer").wait_for(timeout=60_000)
        row = opened.locator(".enginecalc-page .widget-dropdown", has_text=label).first
        chosen = row.locator("select")
        chosen.focus()
        opened.keyboard.press("Home")
        first = chosen.input_value()
        opened.keyboard.press("ArrowDown")
        assert chosen.input_value() != first
        for key in ("m", "a"):  # a notebook's commands: a cell of text, a cell above
            opened.keyboard.press(key)
        assert chosen.evaluate("each => each === document.activeElement")
        assert opened.locator(".enginecalc-page").count() == 1
