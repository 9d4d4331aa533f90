"""Chapters 08 and 09 in a real browser: a build carried to its signed sheet, printed in one go.

Needs playwright and a Chromium; skipped where there is none, unless ENGINECALC_BROWSER=required.
"""

import os
import re
import shutil

import pypdfium2
import pytest

from enginecalc.records import load_build
from enginecalc.records.torque_log import torque_log
from tests.bench_work import assemble
from tests.lab import ROOT, lab, open_and_run, page, why_not

REASON = why_not()
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        bool(REASON) and os.environ.get("ENGINECALC_BROWSER") != "required",
        reason=f"no browser test here: {REASON}",
    ),
]
DECKS = 32  # places of "piston below deck"


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """Yield the address of a JupyterLab, and in it a build assembled up to its final checks."""
    work = tmp_path_factory.mktemp("lab")
    with lab(work) as address:
        build = work / "data" / "builds" / "a built engine"
        build.mkdir()
        shutil.copy(ROOT / "data" / "engines" / "quarry-pump-v8.toml", build / "engine.toml")
        assemble(load_build(build), final=False)
        yield address, build


def test_a_build_is_checked_signed_and_printed(served, tmp_path):
    address, build = served
    sheet = tmp_path / "sheet.html"
    with page(1280, 1000) as opened:
        open_and_run(opened, address, "09_hand_over.ipynb")
        opened.locator(".enginecalc-answer", has_text="quarry-pump: ").wait_for(timeout=90_000)
        opened.get_by_label("build").select_option("a built engine")
        opened.locator(".enginecalc-answer", has_text="17 of 17 final checks").wait_for()
        opened.get_by_label("by whom").fill("A. Mason")
        opened.keyboard.press("Tab")
        box = opened.get_by_label("answer")
        logged = torque_log(load_build(build)).entries[-1].torque.m_as("lbf*ft")
        texts = ["done", "0.006 in", *["0.015"] * DECKS, "done", "105 deg", *["done"] * 7,
                 f"{logged:.1f} lb-ft", "done", "done", "Anna Mason", "Bert Keel"]  # fmt: skip
        for text in texts:
            box.press_sequentially(text)
            box.press("Enter")
        opened.locator(".enginecalc-step", has_text="every step is done").wait_for(timeout=60_000)
        opened.locator(".enginecalc-answer", has_text="0 of 17 final checks").wait_for()
        opened.get_by_role("button", name="Make the sheet").click()
        frame = opened.frame_locator(".enginecalc-sheet")
        frame.get_by_role("heading", name="Hand-over sheet").wait_for(timeout=60_000)
        assert frame.get_by_text("Anna Mason").count() > 0
        with opened.expect_download() as saved:
            opened.get_by_role("link", name="Save a built engine-sheet.html").click()
        saved.value.save_as(sheet)
    with page() as printed:
        printed.goto(sheet.as_uri())
        for paper in ("A4", "Letter"):
            printed.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
            pages = pypdfium2.PdfDocument(tmp_path / f"{paper}.pdf")
            text = "\n".join(each.get_textpage().get_text_bounded() for each in pages)
            assert "Anna Mason" in text
            assert re.search(r"built by\s+Anna Mason", text)
    assert load_build(build).readings.problems == []
