"""Chapters 08 and 09 in a real browser: one build from its first step to the signed sheet.

Every answer is typed on the page, cylinder by cylinder, with one rod the wrong way round and one
tight piston on the way. Needs playwright and a Chromium; skipped where there is none, unless
ENGINECALC_BROWSER=required.
"""

import re
import shutil
import time

import pypdfium2
import pytest

from enginecalc.records import load_build
from enginecalc.records.assembly import Assembly
from enginecalc.records.step_round import StepRound
from tests.bench_work import TIGHT, USUAL, right
from tests.lab import ROOT, lab, needs_browser, open_and_run, page

pytestmark = needs_browser()
READ = {"crank end play": "0.006", "piston below deck": "0.015", "top": "0.022", "second": "0.024"}
BACKWARDS, HARD = 1, 3  # which cylinders, counted from the first that is fitted


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """Yield the address of a JupyterLab, and a build in it without readings."""
    work = tmp_path_factory.mktemp("lab")
    with lab(work) as address:
        build = work / "data" / "builds" / "a built engine"
        build.mkdir()
        shutil.copy(ROOT / "data" / "engines" / "quarry-pump-v8.toml", build / "engine.toml")
        yield address, build


def lines(build):
    """Return how many lines a ledger has."""
    path = build / "readings.csv"
    return path.read_bytes().count(b"\n") if path.exists() else 0


def answer(opened, build, text):
    """Type an answer, and wait until it stands in the ledger."""
    before, box = lines(build), opened.get_by_label("answer")
    box.press_sequentially(text)
    box.press("Enter")
    for _ in range(500):
        if lines(build) > before:
            return
        time.sleep(0.02)
    raise AssertionError(
        f"{text!r} was not saved: {opened.locator('.enginecalc-error').all_text_contents()}"
    )


def work_through(opened, build, section, torque, *, start="", backwards=False):
    """Answer the steps of a section in order, from one of that name on."""
    asks = StepRound(Assembly(load_build(build)), section).asks
    names = [step.name for step, _ in asks]
    for step, box in asks[names.index(start) if start else 0 :]:
        if step.asks == "crank turning torque":
            answer(opened, build, f"{torque:.2f}")
        elif box is not None:
            answer(opened, build, READ.get(box.height) or READ[f"{box.part} {box.feature}"])
        else:
            said = right(Assembly(load_build(build)), step, section.place)
            if backwards and step.asks == "chamfer":
                answer(opened, build, {"front": "rear", "rear": "front"}[said])
                bite = opened.locator(".enginecalc-doubt", has_text="0.0518 in against the cheek")
                bite.wait_for()
            answer(opened, build, said)


def go_to(opened, at, section):
    """Choose a part of the work, and wait until the page shows it."""
    opened.get_by_label("at", exact=True).select_option(index=at)
    opened.locator(".enginecalc-group", has_text="what was entered").wait_for()
    opened.locator("caption", has_text=re.compile(f"{section.title}, step", re.I)).wait_for()


def test_one_build_goes_from_its_first_step_to_the_signed_sheet(served, tmp_path):
    address, build = served
    sections = Assembly(load_build(build)).sections()
    with page(1280, 1000) as opened:
        open_and_run(opened, address, "08_assemble.ipynb")
        opened.locator(".enginecalc-answer", has_text="quarry-pump").wait_for(timeout=90_000)
        opened.get_by_label("build").select_option("a built engine")
        opened.locator(".enginecalc-step", has_text="Wash the block").wait_for()
        opened.get_by_label("by whom").fill("A. Mason")
        opened.keyboard.press("Tab")
        torque = 1.0
        for at, section in enumerate(sections[:-1], -1):
            go_to(opened, at + 1, section)
            added = USUAL[at % len(USUAL)] if at >= 0 else 0.0
            if at == HARD:
                work_through(opened, build, section, torque + TIGHT)
                tight = f"{section.title} added {TIGHT} lbf·ft, the others"
                opened.locator(".enginecalc-wrongs", has_text=tight).wait_for()
                opened.get_by_role("button", name="Take this piston out again").click()
                opened.get_by_role("button", name="Press again").click()
                opened.locator(".enginecalc-step", has_text="bottom of its bore").wait_for()
                work_through(opened, build, section, torque + added, start="pin down")
                for mate, other in enumerate(sections[: at + 1]):
                    if not Assembly(load_build(build)).done(other):
                        go_to(opened, mate, other)  # the rods of its pin are moved once more
                        opened.locator(
                            ".enginecalc-step", has_text="to and fro along it"
                        ).wait_for()
                        answer(opened, build, "free")
            else:
                work_through(opened, build, section, torque + added, backwards=at == BACKWARDS)
            torque += added
        opened.locator(".enginecalc-answer", has_text="8 of 8 pistons are in").wait_for()
    sheet = tmp_path / "sheet.html"
    with page(1280, 1000) as opened:
        open_and_run(opened, address, "09_hand_over.ipynb")
        opened.locator(".enginecalc-answer", has_text="quarry-pump: ").wait_for(timeout=90_000)
        opened.get_by_label("build").select_option("a built engine")
        opened.locator(".enginecalc-answer", has_text="17 of 17 final checks").wait_for()
        opened.get_by_label("by whom").fill("A. Mason")
        opened.keyboard.press("Tab")
        work_through(opened, build, sections[-1], torque)
        opened.locator(".enginecalc-answer", has_text="0 of 17 final checks").wait_for()
        opened.get_by_role("button", name="Make the sheet").click()
        frame = opened.frame_locator(".enginecalc-sheet")
        frame.get_by_role("heading", name="Hand-over sheet").wait_for(timeout=60_000)
        with opened.expect_download() as saved:
            opened.get_by_role("link", name="Save a built engine-sheet.html").click()
        saved.value.save_as(sheet)
    done = Assembly(load_build(build))
    assert all(done.done(each) for each in done.sections())
    assert done.wrong() == []
    chamfers = done.build.readings.history(
        place=sections[1 + BACKWARDS].place, feature="rod chamfer"
    )
    assert len(chamfers) == 2  # the wrong one stays in the ledger
    with page() as printed:
        printed.goto(sheet.as_uri())
        for paper in ("A4", "Letter"):
            printed.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
            pages = pypdfium2.PdfDocument(tmp_path / f"{paper}.pdf")
            text = "\n".join(each.get_textpage().get_text_bounded() for each in pages)
            assert re.search(r"built by\s+Anna Mason", text)
            assert re.search(r"checked by\s+Bert Keel", text)
