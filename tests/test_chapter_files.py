"""Chapter 01 and engine files, without a browser: drafts, finding a dimension, saving."""

import re
import shutil

import pytest

from enginecalc.records import load_build, load_engine
from enginecalc.views import figures, finder
from enginecalc.views.apps.block_clearance import BlockClearanceChapter
from enginecalc.views.apps.piston_to_valve import PistonToValveChapter
from enginecalc.views.apps.plan import PlanChapter
from enginecalc.views.apps.start import StartChapter
from tests.chapters import ENGINES, FILES, FOUR, LONG, V8, own_engines, plain, stems, table
from tests.figures import WORKED, printed


@pytest.fixture(autouse=True)
def engines(tmp_path, monkeypatch):
    """Return the folder of engine files; pictures are not drawn, for here they say nothing."""
    monkeypatch.setattr(figures, "svg", lambda _, words: words)
    monkeypatch.setattr(figures, "settle", lambda _: None)
    return own_engines(tmp_path, monkeypatch)


def find(chapter, unknown, target, wanted):
    """Ask a chapter for a dimension; return what it answers."""
    asked = chapter.finder
    asked.unknown.value, asked.target.value, asked.wanted.value = unknown, target, wanted
    asked.find.click()
    return plain(asked.answer)


# --- what was typed stays ----------------------------------------------------------------------


def test_drafts_survive_another_file_and_another_unit_system():
    chapter = PlanChapter(LONG, V8)
    chapter.type("stroke", "97,5 mm")
    chapter.type("bore", "nonsense")
    chapter.file.value = FOUR
    assert (chapter.error_line, chapter.fields["bore"].text) == ("", "83.5 mm")
    chapter.type("chamber volume", "46 cc")
    chapter.system.value = "metric"
    chapter.file.value = LONG
    assert [chapter.fields[each].text for each in ("stroke", "bore")] == ["97,5 mm", "nonsense"]
    assert chapter.error_line.startswith("block.bore: ")
    chapter.type("bore", "4.110 in")
    assert "97.50" in table(chapter)["true stroke"][1]
    chapter.file.value = FOUR
    assert chapter.fields["chamber volume"].text == "46 cc"


@pytest.mark.parametrize("file", FILES)
def test_switching_units_twice_leaves_every_byte_of_the_engine(engines, file):
    chapter = PlanChapter(file, V8)
    text = (engines / f"{file}.toml").read_bytes().decode()
    for system in ("metric", "inch"):
        chapter.system.value = system
        assert chapter.engine.text() == text
    chapter.type("chamber volume", "68,5 cc")
    changed, stated = chapter.engine.text(), chapter.base.text_at("head.chamber_volume")
    assert changed == text.replace(f'chamber_volume = "{stated}"', 'chamber_volume = "68,5 cc"')
    for system in ("metric", "inch"):
        chapter.system.value = system
        assert chapter.engine.text() == changed


UNREADABLE = 'name = "x"\n[block]\nbore = "83 deg"\n'


@pytest.mark.parametrize("do", ["type", "switch"])
def test_nothing_is_worked_out_of_a_file_that_cannot_be_read(engines, do):
    (engines / "broken.toml").write_text(UNREADABLE)
    chapter = PlanChapter()
    chapter.file.value = "broken"
    assert "broken.toml: block.bore: 83 deg is not a length" in chapter.error_line
    if do == "type":
        chapter.type("stroke", "3.8 in")
    else:
        chapter.system.value = "metric"
    assert (bool(chapter.error_line), chapter.answer_line) == (True, "")


def test_a_chapter_opens_on_a_file_that_cannot_be_read(engines):
    (engines / "broken.toml").write_text(UNREADABLE)
    chapter = StartChapter("broken")
    chapter.system.value = "metric"
    chapter.file.value = FOUR
    assert "1,953.9 cc" in chapter.answer_line


# --- find one dimension ------------------------------------------------------------------------


def test_the_compression_height_to_order_for_a_longer_stroke():
    chapter = PlanChapter(V8, V8)
    chapter.type("stroke", "3.840 in")
    assert "piston meets the head" in chapter.error_line
    assert chapter.finder.use.disabled
    told = find(chapter, "compression height", "deck clearance", "0.015 in")
    assert "1.275 in gives a deck clearance of 0.015 in" in told
    chapter.finder.use.click()
    assert (chapter.fields["compression height"].text, chapter.error_line) == ("1.275 in", "")
    assert printed(table(chapter)["deck clearance"][1].split()[0]) == WORKED["v8s.deck"]
    assert printed(table(chapter)["compression ratio"][1].split()[0]) == WORKED["v8s.cr"]


def test_other_dimensions_and_the_other_unit_system():
    chapter = PlanChapter(V8, V8)
    assert find(chapter, "chamber volume", "compression ratio", "10,8").startswith(
        f"chamber volume {WORKED['v8.chamber_for_10.8']:.1f} cc gives"
    )
    chapter.system.value = "metric"
    told = find(chapter, "compression height", "deck clearance", "0,016 in")
    assert told.startswith("compression height 34.90 mm gives")  # 1.374 in
    chapter.finder.use.click()
    assert chapter.fields["compression height"].text == "34.90 mm"
    assert table(chapter)["deck clearance"][1].startswith("0.41")


IMPOSSIBLE = [
    ("compression height", "deck clearance", "", "nothing was typed"),
    ("compression height", "deck clearance", "15", "15 has no unit"),
    ("compression height", "deck clearance", "2 cc", "2 cc is not a length"),
    ("compression height", "deck clearance", "2 in", "no real .* none between"),
    ("compression height", "deck clearance", "-0.1 in", "but then: .*piston meets the head"),
    ("chamber volume", "deck clearance", "0.015 in", "does not depend on head chamber volume"),
    ("chamber volume", "compression ratio", "0.015 in", "is not a number; write it like"),
    ("chamber volume", "compression ratio", "0.9", "must be greater than one"),
    ("chamber volume", "compression ratio", "nan", "must be greater than one"),
]


def test_what_cannot_be_found_is_said_and_cannot_be_used():
    chapter = PlanChapter()
    for unknown, target, wanted, match in IMPOSSIBLE:
        find(chapter, "compression height", "deck clearance", "0.015 in")
        assert not chapter.finder.use.disabled
        assert re.search(match, find(chapter, unknown, target, wanted))
        assert chapter.finder.use.disabled
        assert chapter.error_line == ""


@pytest.mark.parametrize("known", ["", "still to be found"])
def test_a_dimension_that_is_not_known_yet_can_be_found(known):
    chapter = PlanChapter()
    chapter.type("compression height", known)
    told = find(chapter, "compression height", "deck clearance", "0.015 in")
    assert told.startswith("compression height 1.275 in")


@pytest.mark.parametrize("change", ["file", "stroke"])
def test_what_was_found_is_not_used_for_other_parts(change):
    chapter = PlanChapter()
    find(chapter, "compression height", "deck clearance", "0.015 in")
    if change == "file":
        chapter.file.value = FOUR
    else:
        chapter.type("stroke", "3.500 in")
    assert chapter.finder.use.disabled


# --- keep the plan as a file -------------------------------------------------------------------


def save(chapter, name):
    """Ask a chapter to save its engine; return what it answers."""
    chapter.saver.new_name.value = name
    chapter.saver.save.click()
    return plain(chapter.saver.answer)


def test_a_plan_is_saved_as_a_new_file_with_its_comments(engines):
    chapter = PlanChapter(LONG, V8)
    before = (engines / f"{LONG}.toml").read_bytes()
    chapter.type("chamber volume", "68 cc")
    assert save(chapter, " Pump, 68 cc ") == (
        "Saved as pump-68-cc.toml, beside the other engine files."
    )
    saved = load_engine(engines / "pump-68-cc.toml")
    assert saved.name == "Pump, 68 cc"
    assert saved.text_at("head.chamber_volume") == "68 cc"
    assert saved.text_at("crank.stroke") == "3.840 ± 0.0017 in"
    assert "# how far each pin leads pin 1" in saved.text()
    assert (engines / f"{LONG}.toml").read_bytes() == before
    for choice in (chapter.file, chapter.beside):
        assert "pump-68-cc" in choice.options
    chapter.file.value = "pump-68-cc"
    assert (chapter.fields["chamber volume"].text, chapter.error_line) == ("68 cc", "")


def test_saving_leaves_the_two_plans_on_the_page():
    chapter = PlanChapter(LONG, V8)
    chapter.type("chamber volume", "68 cc")
    answer = chapter.answer_line
    save(chapter, "Pump, 68 cc")
    assert chapter.answer_line == answer
    assert chapter.beside.value == V8
    assert chapter.file.value in (LONG, "pump-68-cc")


def test_a_name_that_cannot_be_taken_is_refused(engines):
    chapter = PlanChapter()
    for name, match in (
        ("", "nothing to name the file by"),
        ("  ***", "nothing to name the file by"),
        ("Ferry  FOUR", r"ferry-four\.toml is there already; type another name"),
    ):
        assert re.search(f"^Not saved. .*{match}", save(chapter, name))
    assert stems(engines) == set(FILES)


def test_a_plan_that_was_refused_is_not_saved(engines):
    chapter = PlanChapter()
    chapter.type("bore", "nonsense")
    assert 'block.bore: "nonsense" is not a number' in save(chapter, "Other")
    assert stems(engines) == set(FILES)


def refuse(*_):
    raise OSError("the folder is read-only")


def test_a_folder_that_takes_no_file_is_said_and_nothing_is_lost(monkeypatch):
    chapter = PlanChapter()
    chapter.type("chamber volume", "68 cc")
    monkeypatch.setattr(finder, "save_engine", refuse)
    assert save(chapter, "Other") == "Not saved. the folder is read-only"
    assert (chapter.fields["chamber volume"].text, chapter.file.value) == ("68 cc", LONG)


# --- builds ------------------------------------------------------------------------------------

BUILD = "build quarry-pump"


@pytest.fixture
def build(tmp_path):
    """Return the invented build, copied among a person's own data."""
    shutil.copytree(ENGINES.parent / "builds" / "quarry-pump", tmp_path / "builds" / "quarry-pump")
    return load_build(tmp_path / "builds" / "quarry-pump")


@pytest.mark.parametrize("page", [PlanChapter, PistonToValveChapter, BlockClearanceChapter])
def test_a_build_is_opened_as_planned_and_as_measured(build, page):
    chapter = page(BUILD)
    assert chapter.seen_as.layout.display is None
    assert chapter.base.block.bore.m_as("inch") == 4.110
    chapter.seen_as.value = 6
    assert chapter.error_line == ""
    assert chapter.base.block.bore.m_as("inch") == pytest.approx(4.1103, abs=2e-5)
    assert "cylinder" in plain(chapter.measured)
    chapter.seen_as.value = 7
    assert "cylinder 7 as measured: piston.diameter" in chapter.error_line
    assert chapter.answer_line == ""
    assert all(field.box.disabled for field in chapter.fields.values())
    chapter.file.value = V8
    assert not any(field.box.disabled for field in chapter.fields.values())
    assert (chapter.error_line, chapter.measured.value) == ("", "")
    assert chapter.seen_as.layout.display == "none"


def test_a_reading_shows_after_refresh(build):
    chapter = PlanChapter(BUILD)
    chapter.seen_as.value = 6
    before = table(chapter)["compression ratio"][1]
    spot = {"place": "6", "part": "head", "feature": "chamber volume"}
    build.readings.append("66.0", "cc", **spot)
    assert table(chapter)["compression ratio"][1] == before
    chapter.again.click()
    after = table(chapter)["compression ratio"][1]
    assert float(after.partition(" ")[0]) > float(before.partition(" ")[0])


def test_drafts_of_a_cylinder_stay_with_it(build):
    chapter = PlanChapter(BUILD)
    chapter.seen_as.value = 2
    chapter.type("stroke", "3.7 in")
    chapter.seen_as.value = None
    assert chapter.fields["stroke"].text != "3.7 in"
    chapter.seen_as.value = 2
    assert chapter.fields["stroke"].text == "3.7 in"
