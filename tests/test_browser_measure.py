"""Chapter 06 in JupyterLab in a real browser: readings by keyboard alone, and a killed kernel.

Needs playwright and a Chromium; skipped where there is none, unless ENGINECALC_BROWSER=required.
"""

import csv
import shutil

import pytest

from tests.lab import ROOT, lab, needs_browser, open_and_run, page

pytestmark = needs_browser()
NOTEBOOK = "06_measure_and_match.ipynb"
ASKED, SAVED = ".enginecalc-asked", ".enginecalc-saved"


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """Yield the address of a JupyterLab, and the folder of a build in it without readings."""
    work = tmp_path_factory.mktemp("lab")
    with lab(work) as address:
        build = work / "data" / "builds" / "a new build"
        build.mkdir()
        shutil.copy(ROOT / "data" / "engines" / "quarry-pump-v8.toml", build / "engine.toml")
        yield address, build


@pytest.fixture
def ledger(served):
    """Return the file of the build's ledger, which is not there yet."""
    path = served[1] / "readings.csv"
    path.unlink(missing_ok=True)
    return path


def rows(path):
    """Return (cylinder, direction, height, value, unit) of every row in a ledger."""
    with path.open(newline="", encoding="utf-8") as file:
        return [
            tuple(row[name] for name in ("place", "direction", "height", "value", "unit"))
            for row in csv.DictReader(file)
        ]


def open_build(opened, address):
    """Open the chapter on the build, the focus in the box for readings; return the box."""
    open_and_run(opened, address, NOTEBOOK)
    opened.locator(".enginecalc-answer", has_text="quarry-pump: 495 readings").wait_for(
        timeout=90_000
    )
    opened.get_by_label("build").select_option("a new build")
    opened.locator(".enginecalc-answer", has_text="a new build: ").wait_for(timeout=60_000)
    box = opened.locator(".enginecalc-entry textarea")
    box.focus()
    return box


def says(opened, selector, words):
    opened.locator(selector, has_text=words).wait_for(timeout=30_000)


def in_the_box(opened):
    """Say whether the focus is in the box for readings."""
    return opened.evaluate("() => !!document.activeElement.closest('.enginecalc-entry')")


def test_readings_typed_by_keyboard_alone_outlive_the_kernel(served, ledger):
    address, _ = served
    keys = ("4.1102", "4,1101", "104.394 mm")
    with page() as opened:
        open_build(opened, address)
        says(opened, ASKED, "cylinder 1 · bore diameter · thrust · top")
        for at, text in enumerate(keys):
            opened.keyboard.type(text)
            opened.keyboard.press("Enter")
            says(opened, SAVED, f"(line {at + 2} of the ledger)")
            assert in_the_box(opened)
        says(opened, ASKED, "cylinder 1 · bore diameter · axial · middle")
        opened.keyboard.type("4,110")
        opened.keyboard.press("Enter")
        says(opened, ".enginecalc-error", "can be read as 4.110 in or as 4110 in")
        opened.wait_for_function(
            "() => document.querySelector('.enginecalc-entry textarea').value.endsWith('4,110')"
        )
        opened.keyboard.type("0")
        opened.keyboard.press("Enter")
        says(opened, SAVED, "axial, middle: 4.1100 in (line 5 of the ledger)")
        says(opened, ".enginecalc-answer", "a new build: 4 readings")
        opened.keyboard.type("back")
        opened.keyboard.press("Enter")
        says(opened, ASKED, "cylinder 1 · bore diameter · axial · middle")
        opened.keyboard.press("Tab")  # to the first of the buttons
        opened.keyboard.press("Enter")
        says(opened, SAVED, "withdrawn: cylinder 1, bore diameter, axial, middle: 4.1100 in")
        opened.wait_for_function("() => document.activeElement.closest('.enginecalc-entry')")
        opened.keyboard.type("4.10")  # half a figure, when the kernel dies
        saved = [
            ("1", "thrust", "top", "4.1102", "in"),
            ("1", "axial", "top", "4.1101", "in"),
            ("1", "thrust", "middle", "104.394", "mm"),
            ("1", "axial", "middle", "4.1100", "in"),
            ("1", "axial", "middle", "", ""),  # withdrawn
        ]
        assert rows(ledger) == saved
        kernel = "window.jupyterapp.shell.currentWidget.sessionContext.session.kernel"
        opened.evaluate(f"() => {kernel}.restart()")  # without a question, and without a goodbye
        opened.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
        says(opened, ".enginecalc-answer", "quarry-pump: 495 readings")
        opened.get_by_label("build").select_option("a new build")
        says(opened, ".enginecalc-answer", "a new build: 3 readings")
        says(opened, ASKED, "cylinder 1 · bore diameter · axial · middle")
        table = opened.locator(".enginecalc-places").inner_text()
        assert all(value in table for value in ("4.1102", "4.1101", "4.1100"))
        assert rows(ledger) == saved


def test_typing_faster_than_the_kernel_loses_and_doubles_nothing(served, ledger):
    address, _ = served
    values = [f"4.11{at:02d}" for at in range(12)]
    with page() as opened:
        open_build(opened, address)
        says(opened, ASKED, "cylinder 1 · bore diameter · thrust · top")
        for value in values:
            opened.keyboard.type(value)
            opened.keyboard.press("Enter")
        says(opened, SAVED, "cylinder 3, bore diameter, axial, bottom: 4.1111 in (line 13 of")
        assert [row[3] for row in rows(ledger)] == values
        assert in_the_box(opened)
