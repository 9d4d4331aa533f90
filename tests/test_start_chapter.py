"""Chapter 00 without a browser: which cylinder is where, and starting an engine."""

import re

import pytest

from enginecalc.records import load_engine
from enginecalc.records.layout import layout_names, layout_numberings
from enginecalc.views.apps import start
from enginecalc.views.apps.plan import PlanChapter
from enginecalc.views.apps.start import StartChapter
from tests.chapters import FILES, FOUR, V8, own_engines, plain, stems, table


@pytest.fixture(autouse=True)
def engines(tmp_path, monkeypatch):
    return own_engines(tmp_path, monkeypatch)


def refuse(*_):
    raise OSError("the folder is read-only")


# --- which cylinder where ----------------------------------------------------------------------


def test_which_cylinder_is_where_and_when():
    chapter = StartChapter()
    bank, pin, top, bottom, fires = zip(*table(chapter).values(), strict=True)
    assert bank == ("left", "right") * 4
    assert "".join(pin) == "11223344"
    assert [int(each) for each in top] == [0, 270, 270, 180, 90, 0, 180, 90]
    assert [int(each) for each in bottom] == [180, 90, 90, 0, 270, 180, 0, 270]
    assert [int(each) for each in fires] == [0, 270, 630, 540, 90, 360, 180, 450]
    for said in ("386.3 in³", "ratio 10.3", "1-5-7-2-6-8-4-3 every 90°", "1+6, 2+3, 4+7, 5+8"):
        assert said in chapter.answer_line
    chapter.system.value = "metric"
    chapter.file.value = FOUR
    assert "1,953.9 cc, compression ratio 10.4; fires 1-3-4-2 every 180°" in chapter.answer_line


# --- start an engine from a layout -------------------------------------------------------------

SIZES = ("83,5 mm", "218.2 mm", "89.2 mm", "143.0 mm", "30.4 mm", "2 cc", "84.6 mm", "0.90 mm",
         "44.0 cc")  # fmt: skip


def fill(form, layout, numbering, name, sizes=SIZES):
    """Fill the form in and press its button; return what it answers."""
    form.layouts.value = layout
    form.numbering.value = numbering
    form.name.value = name
    for box, size in zip(form.boxes.values(), sizes, strict=True):
        box.value = size
    form.write.click()
    return plain(form.answer)


def test_every_layout_and_numbering_can_be_started_from(engines):
    chapter = StartChapter()
    for at, layout in enumerate(layout_names()):
        for numbering in layout_numberings(layout):
            name = f"Mill {at} {numbering}"
            stem = name.lower().replace(" ", "-")
            told = fill(chapter.new, layout, numbering, name)
            assert told == f"Written as {stem}.toml, and opened above."
            assert (chapter.file.value, chapter.error_line) == (stem, "")
            made = load_engine(engines / f"{stem}.toml")
            assert chapter.answer_line.startswith(f"{name}: {len(made.layout.numbers)} cylinder")
            assert made.text_at("block.bore") == "83,5 mm"
            if numbering == "per bank":
                assert re.search(r"fires 1[LR]-\d[LR]", chapter.answer_line)


def test_a_new_engine_opens_in_the_planning_chapter():
    fill(StartChapter().new, "inline 6", "along the crank", "<script>six</script>")
    chapter = PlanChapter("script-six-script", FOUR)
    assert (chapter.error_line, chapter.fields["bore"].text) == ("", "83,5 mm")
    assert "not given and taken as 0: piston.pin_offset" in plain(chapter.doubts)
    opened = StartChapter("script-six-script")
    assert opened.answer_line.startswith("<script>six</script>: 6 cylinders, inline")
    for widget in (opened.answer, *opened.pictures, opened.numbers):
        assert "<script" not in widget.value


@pytest.mark.parametrize("name", ["Mill", ""])
def test_all_blanks_are_said_at_once(engines, name):
    form = StartChapter().new
    told = fill(form, "inline 6", "along the crank", name, [""] * 9)
    assert told.startswith("Not written.\n")
    assert [path for path in form.boxes if f"{path} is not measured" not in told] == []
    assert ("name" in told) == (name == "")
    assert stems(engines) == set(FILES)


def test_wrong_sizes_taken_names_and_a_full_disk_lose_nothing(engines, monkeypatch):
    chapter = StartChapter()
    wrong = ("3.287 mm", *SIZES[1:3], "143", *SIZES[4:])
    told = fill(chapter.new, "inline 4", "along the crank", "Mill", wrong)
    assert "block.bore = 3.287 mm is outside" in told
    assert "rod.length: 143 has no unit" in told
    assert [box.value for box in chapter.new.boxes.values()] == list(wrong)
    told = fill(chapter.new, "inline 4", "along the crank", "ferry four")
    assert "ferry-four.toml is there already" in told
    with monkeypatch.context() as full:
        full.setattr(start, "save_engine", refuse)
        told = fill(chapter.new, "inline 4", "along the crank", "Mill")
    assert told == "Not written.\nthe folder is read-only"
    assert (chapter.new.name.value, chapter.file.value) == ("Mill", V8)
    assert stems(engines) == set(FILES)
    chapter.new.write.click()
    assert chapter.file.value == "mill"
