"""Chapter 08 in JupyterLab in a real browser: a cylinder answered by keyboard alone.

Needs playwright and a Chromium; skipped where there is none, unless ENGINECALC_BROWSER=required.
"""

import csv
import shutil

import pytest

from tests.lab import ROOT, lab, needs_browser, open_and_run, page

pytestmark = needs_browser()
NOTEBOOK = "08_assemble.ipynb"
STEP, SAVED = ".enginecalc-step", ".enginecalc-saved"


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """Yield the address of a JupyterLab, and the folder of a build in it without readings."""
    work = tmp_path_factory.mktemp("lab")
    with lab(work) as address:
        build = work / "data" / "builds" / "a new build"
        build.mkdir()
        shutil.copy(ROOT / "data" / "engines" / "quarry-pump-v8.toml", build / "engine.toml")
        yield address, build


def test_a_cylinder_is_answered_by_keyboard_and_a_rod_turned_round_is_caught(served):
    address, build = served
    with page(1280, 1000) as opened:
        open_and_run(opened, address, NOTEBOOK)
        tight = opened.locator(".enginecalc-wrongs", has_text="cylinder 1 added 4.1 lbf·ft")
        tight.wait_for(timeout=90_000)
        opened.get_by_label("build").select_option("a new build")
        opened.locator(STEP, has_text="Wash the block").wait_for()
        opened.get_by_label("at", exact=True).select_option(label="cylinder 5")
        opened.locator(STEP, has_text="File the rings").wait_for()
        opened.get_by_label("by whom").fill("JB")
        opened.keyboard.press("Tab")
        box = opened.get_by_label("answer")
        for text, shown in (
            ("0.020", "File the rings"), ("0.022", "expander"), ("butted", "second ring"),
            ("up", "top ring"), ("u", "gap to its place"), ("done", "bottom of its bore"),
            ("done", "front mark"), ("front", "chamfered side"),
        ):  # fmt: skip
            box.press_sequentially(text)
            box.press("Enter")
            opened.locator(SAVED, has_text="saved: ").wait_for()
            opened.locator(STEP, has_text=shown).wait_for()
        box.press_sequentially("rear")
        box.press("Enter")
        opened.locator(".enginecalc-doubt", has_text="0.0518 in against the cheek").wait_for()
        opened.locator(STEP, has_text="chamfered side").wait_for()  # it stays open
        box.press_sequentially("front")
        box.press("Enter")
        opened.locator(STEP, has_text="sleeves over the rod bolts").wait_for()
    with (build / "readings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    found = [row["note"] or f"{row['value']} {row['unit']}" for row in rows]
    assert found == [
        "0.020 in", "0.022 in", "butted", "up", "up", "done", "done", "front", "rear", "front",
    ]  # fmt: skip
    assert {(row["place"], row["by"]) for row in rows} == {("5", "JB")}
