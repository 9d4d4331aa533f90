"""Chapter 09: what is open, the last checks and signatures, the sheet and the zip."""

import base64
import csv
import io
import os
import re
import zipfile

import html5lib
import pytest

from enginecalc.records import load_build, load_engine
from enginecalc.records.build import new_build
from enginecalc.records.results_csv import results_csv
from enginecalc.records.torque_log import torque_log
from enginecalc.views.apps.hand_over import HandOverChapter
from tests.bench_work import assemble
from tests.builds import DEMO
from tests.chapters import FOUR, V8, own_builds, plain


@pytest.fixture(autouse=True)
def no_waiting(monkeypatch):
    """Do without the disk's acknowledgment, which a busy machine gives late."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Make a data folder of its own with the engines and the demonstration build."""
    return own_builds(tmp_path, monkeypatch)


@pytest.fixture
def chapter(data):
    return HandOverChapter()


def built(data, name="whole", engine=V8, **how):
    """Return a build of which every step was answered."""
    build = new_build(name, load_engine(data / "engines" / f"{engine}.toml"))
    assemble(build, **how)
    return build


def saved(chapter):
    """Return {name: bytes} of the files that the page offers."""
    links = re.findall(r'download="(.*?)" href="data:.*?;base64,(.*?)"', chapter.sheet.links.value)
    return {name: base64.b64decode(data) for name, data in links}


def sheet_text(chapter):
    (name,) = (each for each in saved(chapter) if each.endswith("-sheet.html"))
    page = html5lib.HTMLParser(strict=True).parse(saved(chapter)[name].decode())
    return " ".join("".join(page.itertext()).split())


# --- what is open --------------------------------------------------------------------------------


def test_the_worst_of_what_is_open_comes_first_and_says_where(chapter):
    said = plain(chapter.warned)
    assert said.startswith("cylinder 1 added 4.1 lbf·ft, the others 1.8 to 2.0")
    assert "(chapter 08, assemble: cylinder 1, two turns)" in said
    assert "lines 23, 53" in said
    missing = plain(chapter.blanks)
    assert "cylinder 6: 15 of 16 steps open" in missing
    assert "exhaust coil bind needs exhaust.spring_installed" in missing
    assert "17 of 17 final checks and signatures left" in chapter.answer_line


def test_a_whole_build_has_nothing_left_to_do_at_the_bench(data):
    built(data)
    chapter = HandOverChapter("whole")
    assert "0 of 17 final checks and signatures left" in chapter.answer_line
    assert "not done" not in plain(chapter.blanks)
    assert "does not hold" not in plain(chapter.table)


def test_a_fault_of_the_plan_stays_while_cylinders_are_not_read(data):
    engine = load_engine(data / "engines" / f"{V8}.toml").altered({"block.deck_height": "9.190 in"})
    build = new_build("high", engine)
    said = "quench distance is outside its limits: the plan"
    assert said in plain(HandOverChapter("high").warned)
    for number in build.cylinders:  # 0.012 in below the deck is within
        for end in ("front", "rear"):
            build.readings.append("0.012 in", place=str(number), part="piston",
                                  feature="below deck", direction=end, by="JB")  # fmt: skip
        left = [
            each for each in build.cylinders if build.mean("piston", "below deck", each) is None
        ]
        assert (said in plain(HandOverChapter("high").warned)) is bool(left)


# --- checks and signatures -----------------------------------------------------------------------


def test_checks_and_signatures_are_answered_here(data):
    build = built(data, final=False)
    chapter = HandOverChapter("whole")
    form = chapter.steps
    form.by.value = "A. Mason"
    logged = torque_log(build).entries[-1].torque
    texts = ["done", "0.006 in", *["0.015 in"] * 32]  # every piston's deck, at four points
    texts += ["done", "105 deg", *["done"] * 7, f"{logged.m_as('lbf*ft'):.1f} lbf·ft"]
    texts += ["done", "done", "Anna Mason", "Bert Keel"]
    for text in texts:
        form.type(text)
        assert plain(form.refusal) == "", text
    assert "every step is done" in plain(form.asked)
    assert "0 of 17" in chapter.answer_line
    chapter.sheet.make.click()
    text = sheet_text(chapter)
    assert re.search(r"built by ?Anna Mason ?\d{4}-", text)
    assert re.search(r"checked by ?Bert Keel", text)
    build.readings.remark("oil filter changed", by="A. Mason")
    chapter.refresh()
    assert "builder signs: remark, line" in plain(chapter.warned)
    chapter.sheet.make.click()
    assert "Anna Mason: void, see the warnings" in sheet_text(chapter)


def test_a_signature_is_void_once_the_engine_file_is_changed(data):
    build = built(data)
    chapter = HandOverChapter("whole")
    assert "signs" not in plain(chapter.warned)
    file = build.folder / "engine.toml"
    file.write_text(
        file.read_text().replace('rail_offset = "3.500 in"', 'rail_offset = "3.510 in"')
    )
    chapter.reread.click()
    assert "builder signs: the engine file was changed since; sign again." in plain(chapter.warned)
    chapter.steps.by.value = "A. Mason"
    for name in ("Anna Mason", "Bert Keel"):
        chapter.steps.type(name)
    assert "signs" not in plain(chapter.warned)
    assert "engine file" not in plain(chapter.table)  # the mark of the file is not shown


# --- the sheet and its files ---------------------------------------------------------------------


def test_the_sheet_is_shown_and_three_files_are_offered(chapter):
    chapter.sheet.make.click()
    assert '<iframe class="enginecalc-sheet" sandbox' in chapter.sheet.preview.value
    files = saved(chapter)
    assert {*files} == {"quarry-pump-sheet.html", "quarry-pump-results.csv", "quarry-pump.zip"}
    assert "take that piston out again" in sheet_text(chapter)
    rows = list(csv.DictReader(io.StringIO(files["quarry-pump-results.csv"].decode())))
    assert {"as planned", "as measured"} <= {row["state"] for row in rows}
    with zipfile.ZipFile(io.BytesIO(files["quarry-pump.zip"])) as whole:
        assert {*whole.namelist()} == {
            "contents.csv", "engine.toml", "readings.csv", "results.csv", "sheet.html",
        }  # fmt: skip
        assert whole.read("sheet.html") == files["quarry-pump-sheet.html"]
        assert whole.read("readings.csv") == (DEMO / "readings.csv").read_bytes()


def test_a_sheet_goes_when_the_page_is_worked_out_anew(chapter):
    chapter.sheet.make.click()
    chapter.steps.by.value = "JB"
    chapter.steps.type("done")
    assert chapter.sheet.preview.value == chapter.sheet.links.value == ""


def test_a_half_finished_build_gives_an_honest_sheet(data):
    new_build("bare", load_engine(data / "engines" / f"{FOUR}.toml"))
    chapter = HandOverChapter("bare")
    assert chapter.error_line == ""
    chapter.sheet.make.click()
    text = sheet_text(chapter)
    assert "81 of 89 steps" not in text  # nothing counts as done of itself
    assert "89 of 89 steps are open" in text
    assert "Anna" not in text


# --- a build that comes as a zip -----------------------------------------------------------------


def test_a_zip_is_opened_under_another_name_and_says_the_same(chapter):
    chapter.sheet.make.click()
    whole = saved(chapter)["quarry-pump.zip"]
    chapter.take_in.choose(whole, "from Anna.zip")
    assert "from Anna.zip holds contents.csv, engine.toml" in plain(chapter.take_in.answer)
    assert chapter.take_in.name.value == "from Anna"
    chapter.take_in.put.click()
    assert "Opened above: from Anna." in plain(chapter.take_in.answer)
    assert chapter.file.value == "from Anna"
    assert chapter.build.name == "from Anna"
    ours, theirs = (load_build(name) for name in ("quarry-pump", "from Anna"))
    assert results_csv(ours) == results_csv(theirs)


@pytest.mark.parametrize(
    ("data_", "said"),
    [(b"no zip at all", "x.zip: "), (b"", "x.zip: ")],
)
def test_what_is_no_build_is_refused_before_anything_is_written(chapter, data_, said):
    before = {*chapter.file.options}
    chapter.take_in.choose(data_, "x.zip")
    assert plain(chapter.take_in.answer).startswith(said)
    chapter.take_in.put.click()
    assert "Choose a zip first" in plain(chapter.take_in.answer)
    assert {*chapter.file.options} == before


def test_a_name_that_is_taken_is_refused(chapter):
    chapter.sheet.make.click()
    chapter.take_in.choose(saved(chapter)["quarry-pump.zip"], "quarry-pump.zip")
    chapter.take_in.put.click()
    assert "there is a build quarry-pump already" in plain(chapter.take_in.answer)
