"""Chapter 06: readings typed box by box, what the page makes of them, and that none is lost."""

import asyncio
import base64
import datetime
import random
import re
import shutil

import pytest

from enginecalc.records import folder, load_engine
from enginecalc.records.build import build_names, load_build, new_build
from enginecalc.records.places import boxes, measurement, measurements
from enginecalc.views import build_page, line_box
from enginecalc.views.apps.measure import MeasureChapter
from enginecalc.views.bench_sheets import SHEETS
from enginecalc.views.entry_form import EntryForm
from enginecalc.views.line_box import LineBox
from tests.chapters import FOUR, V8, own_builds, plain

BORE = measurement("bore", "diameter")


@pytest.fixture(autouse=True)
def _quickly(monkeypatch):
    monkeypatch.setattr(line_box, "QUIET", 0.02)


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Return a data folder of the test's own, with the invented engines and the invented build."""
    return own_builds(tmp_path, monkeypatch)


class Form:
    """The entry form alone, on the V8 named mill, which is quicker than a whole page."""

    def __init__(self, name="mill"):
        self.build, self.entry = load_build(folder("builds") / name), EntryForm()
        self.entry.show(self.build, "inch")


@pytest.fixture
def blank(data):
    """Return the entry form of a V8 of which nothing was read yet."""
    new_build("mill", load_engine(folder("engines") / f"{V8}.toml"))
    return Form()


@pytest.fixture
def page(blank):
    """Return the chapter with a V8 of which nothing was read yet."""
    return MeasureChapter("mill")


def asked(chapter):
    return plain(chapter.entry.asked)


def saved(chapter):
    return plain(chapter.entry.saved)


def refused(chapter):
    return plain(chapter.entry.refusal)


def ledger(chapter):
    """Return (place, direction, height, repeat, value, unit) of the readings that count."""
    rows = load_build(chapter.build.folder).readings.latest()
    columns = ["place", "direction", "height", "repeat", "value", "unit"]
    return list(rows[columns].itertuples(index=False, name=None))


def marked(chapter):
    """Return the cells of the table that are marked as the one asked for."""
    return re.findall(r'<td aria-current="true"><b>(.*?)</b>', chapter.entry.table.value)


# --- typing one reading after the other --------------------------------------------------------


def test_a_set_of_bores_is_entered_by_enter_after_enter(blank):
    form, places = blank.entry, boxes(blank.build.engine.layout, BORE)
    form.by.value = "A. Mason"
    form.temperature.value = "20 °C"
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · top")
    for at, place in enumerate(places):
        words = place.words.replace(", ", " · ")
        assert asked(blank).startswith(words)
        form.type(f"4.11{at:02d}")
        assert (
            saved(blank) == f"saved: {place.words}: 4.11{at:02d} in (line {at + 2} of the ledger)"
        )
        assert form.box.line == ""
        assert not refused(blank)
    assert asked(blank).startswith("every place has a reading")
    assert len(places) == 48
    rows = blank.build.readings.latest()
    assert [*rows["value"]] == [f"4.11{at:02d}" for at in range(48)]
    assert [*rows["place"]] == [each.place for each in places]
    assert {*rows["by"]} == {"A. Mason"}
    assert {*rows["temperature"]} == {"20 degC"}
    assert {*rows["instrument"]} == {"bore gauge"}
    assert {*rows["resolution"]} == {"0.0001 in"}
    form.type("4.1102")
    assert "every place has a reading: choose what to measure next" in refused(blank)
    assert len(ledger(blank)) == 48


def test_a_figure_typed_over_another_corrects_it(blank):
    form = blank.entry
    form.type("4.1120")
    form.type("back")
    assert "a figure corrects 4.1120 in" in asked(blank)
    form.type("4.1102")
    assert saved(blank) == (
        "corrected: cylinder 1, bore diameter, thrust, top: 4.1102 in (line 3 of the ledger);"
        " it was 4.1120 in (line 2)"
    )
    assert ledger(blank) == [("1", "thrust", "top", "1", "4.1102", "in")]
    assert [*blank.build.readings.history(place="1")["value"]] == ["4.1120", "4.1102"]
    assert asked(blank).startswith("cylinder 1 · bore diameter · axial · top")


def test_a_reading_is_withdrawn_and_its_place_asked_for_again(blank):
    form = blank.entry
    form.type("4.1102")
    form.type("4.1101")
    form.buttons["Withdraw last"].click()
    assert saved(blank) == (
        "withdrawn: cylinder 1, bore diameter, axial, top: 4.1101 in, of line 3"
    )
    assert asked(blank).startswith("cylinder 1 · bore diameter · axial · top")
    assert [*blank.build.readings.rows()["act"]] == ["reading", "reading", "withdrawn"]
    form.type("4.1100")
    assert [row[4] for row in ledger(blank)] == ["4.1102", "4.1100"]
    for word in ("withdraw", "withdraw"):
        form.type(word)
    assert ledger(blank) == []
    form.type("withdraw")
    assert refused(blank) == "there is no reading of bore diameter to withdraw"
    assert form.box.line == "withdraw"


def test_after_a_restart_the_newest_of_the_measurement_is_withdrawn(blank):
    for value in ("4.1102", "4.1101"):
        blank.entry.type(value)
    again = Form()
    again.entry.buttons["Withdraw last"].click()
    assert "axial, top: 4.1101 in, of line 3" in saved(again)
    assert ledger(again) == [("1", "thrust", "top", "1", "4.1102", "in")]


def test_repeats_of_a_place_carry_numbers(blank):
    form = blank.entry
    form.type("4.1102")
    form.type("again")
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · top · repeat 2")
    form.type("4.1103")
    assert "thrust, top, repeat 2: 4.1103 in" in saved(blank)
    assert asked(blank).startswith("cylinder 1 · bore diameter · axial · top")
    form.buttons["Repeat"].click()
    form.type("4.1104")
    assert [row[3:5] for row in ledger(blank)] == [
        ("1", "4.1102"),
        ("2", "4.1103"),
        ("3", "4.1104"),
    ]
    assert "4.1102 · 4.1103 · 4.1104" in plain(form.table)
    form.type("back")  # to the last repeat, which a figure corrects
    assert "repeat 3" in asked(blank)


def test_nothing_can_be_repeated_where_nothing_was_read(blank):
    blank.entry.type("again")
    assert refused(blank) == "there is no reading yet to repeat"


def test_skip_back_and_going_somewhere_else(blank):
    form, places = blank.entry, boxes(blank.build.engine.layout, BORE)
    form.type("skip")
    form.buttons["Skip"].click()
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · middle")
    form.type("back")
    form.buttons["Back"].click()
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · top")
    form.type("BACK")
    assert asked(blank).startswith("cylinder 8 · bore diameter · axial · bottom")
    form.type("4.1102")
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · top")
    form.go.value = places[9]
    assert asked(blank).startswith(places[9].words.replace(", ", " · "))
    assert marked(blank) == ["▶ ____"]
    form.type("4.1098")
    assert [row[:3] for row in ledger(blank)] == [
        ("8", "axial", "bottom"),
        (places[9].place, places[9].direction, places[9].height),
    ]


REFUSED = {
    "4,110": "can be read as 4.110 in or as 4110 in; write 4.110 in or 4110 in: nothing was saved",
    "4.11O2": "o2 is not a unit known here",
    "": "blank is not zero: type a figure, or skip",
    "4.1102 deg": "is not a figure of the kind that is read in in",
    "4.1102 ± 0.001": "has limits; a reading is one figure",
}


@pytest.mark.parametrize("text", REFUSED, ids=lambda text: text or "blank")
def test_a_refused_text_stays_in_the_box(blank, text):
    form = blank.entry
    form.type(text)
    assert REFUSED[text] in refused(blank)
    assert form.box.line == text
    assert asked(blank).startswith("cylinder 1 · bore diameter · thrust · top")
    assert not saved(blank)
    assert ledger(blank) == []
    assert "enginecalc-wrong" in form.box._dom_classes
    form.type("4.1102")
    assert not refused(blank)
    assert "enginecalc-wrong" not in form.box._dom_classes
    assert len(ledger(blank)) == 1


@pytest.mark.parametrize(("name", "text"), [("part temperature", "20"), ("finest digit", "fine")])
def test_a_box_above_that_cannot_be_read_stops_the_reading(blank, name, text):
    form = blank.entry
    box = {"part temperature": form.temperature, "finest digit": form.finest}[name]
    usual, box.value = box.value, text
    form.type("4.1102")
    assert refused(blank).startswith(f"{name}: ")
    assert form.box.line == "4.1102"
    assert ledger(blank) == []
    box.value = usual
    form.box.value += "\n"  # Enter once more
    assert [row[4] for row in ledger(blank)] == ["4.1102"]


TYPED = {
    "4.1102": ("4.1102", "in"),
    "4,1102": ("4.1102", "in"),
    "104.399 mm": ("104.399", "mm"),
    "104,4 mm": ("104.4", "mm"),
    "4 1/8": ("4.125", "in"),
    " 4.1102in ": ("4.1102", "in"),
    "4110.2 thou": ("4110.2", "thou"),
}


@pytest.mark.parametrize("text", TYPED)
def test_a_unit_typed_with_the_figure_wins(blank, text):
    blank.entry.type(text)
    assert ledger(blank) == [("1", "thrust", "top", "1", *TYPED[text])]
    assert not refused(blank)


def test_the_other_unit_system_is_typed_and_shown(blank):
    form = blank.entry
    form.type("4.1102")
    form.instrument.value = "my gauge"
    form.show(blank.build, "metric")
    assert plain(form.unit) == "mm"
    assert form.finest.value == "0.002 mm"
    assert form.instrument.value == "my gauge"
    form.type("104.394")
    assert [row[4:] for row in ledger(blank)] == [("4.1102", "in"), ("104.394", "mm")]
    rows = blank.build.readings.latest()
    assert [*rows["instrument"]] == ["bore gauge", "my gauge"]
    text = plain(form.table)
    assert "104.399" in text  # 4.1102 in
    assert "104.394" in text
    form.show(blank.build, "inch")
    assert "4.1102" in plain(form.table)
    assert "4.1100" in plain(form.table)  # 104.394 mm


def test_what_is_usual_follows_the_measurement(blank):
    form = blank.entry
    form.what.value = "head chamber volume"
    assert (plain(form.unit), form.finest.value, form.instrument.value) == (
        "cc",
        "0.1 cc",
        "burette",
    )
    assert asked(blank).startswith("cylinder 1 · head chamber volume")
    form.type("70.2")
    assert saved(blank) == "saved: cylinder 1, head chamber volume: 70.2 cc (line 2 of the ledger)"
    form.what.value = "piston below deck"
    form.type("−0.002")
    assert "front: −0.002 in" in saved(blank)
    form.what.value = "crank turning torque"
    form.type("1.5")
    assert "engine, crank turning torque, forward: 1.5 lbf·ft" in saved(blank)


ODD = {
    ("bore diameter", "41.102"): "is outside 2 to 6.5 in, where a bore diameter lies",
    ("bore diameter", "4110.2 mm"): "is outside 40 to 170 mm",
    ("ring end gap", "0.180"): "is 11 times more than the other readings of ring end gap",
    ("ring end gap", "0.0017"): "is 10 times less than the other readings of ring end gap",
    ("ring end gap", "18 thou"): "",
    ("piston below deck", "0.015"): "",
}


@pytest.mark.parametrize(("what", "text"), ODD)
def test_a_figure_out_of_proportion_is_saved_and_asked_about(blank, what, text):
    form = blank.entry
    form.what.value = what
    if not what.startswith("bore"):
        for usual in ("0.017", "0.018", "0.017"):
            form.type(usual)
    form.type(text)
    assert saved(blank).startswith("saved: cylinder ")
    if said := ODD[what, text]:
        assert f"{said}" in saved(blank)
        assert "thou, tenths or hundredths of mm?" in saved(blank)
        assert "It is saved: go back and type over it" in saved(blank)
    else:
        assert "?" not in saved(blank)


SLIPS = {
    ("inch", "104.4"): "inches or millimeters? 104.4 mm would be 4.1102 in. It is saved",
    ("metric", "4.1102"): "inches or millimeters? 4.1102 in would be 104.399 mm. It is saved",
    ("metric", "10.44"): "thou, tenths or hundredths of mm?",
    ("inch", "4110"): "thou, tenths or hundredths of mm?",
    ("inch", "0.0004"): "misread?",
}


@pytest.mark.parametrize("fellows", [0, 3])
@pytest.mark.parametrize(("system", "text"), SLIPS)
def test_what_is_asked_fits_the_slip(blank, system, text, fellows):
    form = blank.entry
    for _ in range(fellows):
        form.type("4.1102")
    form.show(blank.build, system)
    form.type(text)
    assert SLIPS[system, text] in saved(blank)


IMPOSSIBLE = {
    ("bore diameter", "0"): "a bore diameter cannot be zero or less: nothing was saved",
    ("bore diameter", "−104.4 mm"): "a bore diameter cannot be zero or less: nothing was saved",
    ("ring end gap", "-0.018"): "a ring end gap cannot be less than zero: nothing was saved",
    ("ring end gap", "0"): "",
    ("piston below deck", "-0.002"): "",
    ("piston crown volume", "-5"): "",
    ("intake valve lift", "0"): "",
}


@pytest.mark.parametrize(("what", "text"), IMPOSSIBLE)
def test_a_size_that_cannot_be_is_refused(blank, what, text):
    form = blank.entry
    form.what.value = what
    form.type(text)
    assert refused(blank) == IMPOSSIBLE[what, text]
    assert len(ledger(blank)) == (not IMPOSSIBLE[what, text])


def test_after_a_correction_is_withdrawn_it_is_said_that_the_place_is_blank(blank):
    form = blank.entry
    for text in ("4.1099", "back", "4.1101", "withdraw"):
        form.type(text)
    assert saved(blank) == (
        "withdrawn: cylinder 1, bore diameter, thrust, top: 4.1101 in, of line 3; the place is"
        " blank now; 4.1099 in of line 2 does not count either: type it again if it was right"
    )
    assert ledger(blank) == []
    form.type("4.1100")
    form.type("withdraw")  # the one before was withdrawn by itself
    assert saved(blank).endswith("4.1100 in, of line 5")


@pytest.mark.parametrize("word", ["undo", "Delete"])
def test_other_words_for_withdraw_are_answered_with_a_hint(blank, word):
    blank.entry.type("4.1102")
    blank.entry.type(word)
    assert refused(blank).endswith("to take back what was saved last, type withdraw")
    assert len(ledger(blank)) == 1


def test_choosing_leaves_the_focus_where_keys_can_choose_on(blank, monkeypatch):
    asked_for = []
    monkeypatch.setattr(LineBox, "focus", lambda _: asked_for.append(asked(blank)))
    blank.entry.what.value = "rod width"
    blank.entry.go.value = blank.entry.go.options[3][1]
    assert asked_for == []
    blank.entry.buttons["Skip"].click()
    assert len(asked_for) == 1


def test_another_page_is_not_overwritten_unseen(blank):
    other = Form()
    other.entry.type("4.1105")
    blank.entry.type("4.1102")
    assert "another page changed this place: look, and press Enter again" in refused(blank)
    assert "a figure corrects 4.1105 in" in asked(blank)
    assert [row[4] for row in ledger(blank)] == ["4.1105"]
    blank.entry.box.value += "\n"
    assert [row[4] for row in ledger(blank)] == ["4.1102"]
    other.entry.buttons["Withdraw last"].click()
    assert "does not count any more: another page changed it since" in refused(other)


# --- the box ------------------------------------------------------------------------------------


@pytest.fixture
def taken():
    """Return the lines that were taken, and their box; lines that begin with x stay in it."""
    lines = []

    def entered(line):
        if not line.startswith("x"):
            lines.append(line)
        return not line.startswith("x")

    return lines, LineBox(entered)


def test_lines_that_come_together_are_taken_in_order_and_the_rest_waits(taken):
    lines, box = taken
    box.value += "4"
    box.value += ".1102\n4.1101\n4.1"
    assert lines == ["4.1102", "4.1101"]
    assert box.line == "4.1"
    box.value += "100\n"
    assert lines == ["4.1102", "4.1101", "4.1100"]
    assert box.line == ""


def test_what_is_typed_before_the_box_was_cleared_is_not_taken_twice(taken):
    lines, box = taken
    old = box.value  # the browser's sign of how the box was
    box.value = f"{old}4.1102\n"
    for more in ("4", "4.", "4.11"):
        box.value = f"{old}4.1102\n{more}"
        assert box.line == more
    box.value = f"{old}4.1102\n4.1100\n"
    box.value = f"{old}4.1102\n4.1100\n4"
    assert lines == ["4.1102", "4.1100"]
    assert box.line == "4"
    box.value += ".1102\n"  # the same figure again, typed in the box as it is now
    assert lines == ["4.1102", "4.1100", "4.1102"]


def test_what_is_typed_into_a_box_that_was_written_into_once_more_counts_once(taken):
    lines, box = taken
    first = box.value
    box.value += "1\n"
    second = box.value
    box.value = f"{first}1\n2\n3"  # typed before the browser knew of the second
    assert (lines, box.line) == (["1", "2"], "3")
    box.value = f"{second}4"  # typed before it knew of the third
    assert (lines, box.line) == (["1", "2"], "34")
    box.value = f"{second}45\n6\n7\n"
    assert (lines, box.line) == (["1", "2", "345", "6", "7"], "")


@pytest.mark.parametrize("seed", range(20))
def test_however_keys_are_gathered_on_their_way_each_line_is_taken_once(taken, seed):
    lines, box = taken
    chance, keys = random.Random(seed), "".join(f"{at}.25\n" for at in range(30))

    async def typed():
        shown = box.value
        for key in keys:
            shown += key  # in the browser, which sends only some of what it shows
            if chance.random() < 0.3:
                box.value = shown
                assert box.value == shown  # nothing is written into it meanwhile
        box.value = shown
        assert box.line == ""
        for _ in range(200):  # cleared once nobody types
            await asyncio.sleep(line_box.QUIET)
            if len(box.value) == 1:
                return
        raise AssertionError(box.value)

    asyncio.run(typed())
    assert lines == [f"{at}.25" for at in range(30)]


def test_half_a_line_is_not_cleared_while_one_thinks(taken):
    lines, box = taken

    async def typed():
        box.value += "4.1102\n4.1"
        await asyncio.sleep(3 * line_box.QUIET)
        assert box.line == "4.1"
        box.value += "100\n"
        box.value = box.value[:-1]  # the line end taken back: the line is there to be seen again
        assert box.line == "4.1102 4.1100"
        box.value += "\n"

    asyncio.run(typed())
    assert lines[:2] == ["4.1102", "4.1100"]


def test_enter_within_a_line_ends_the_whole_line(taken):
    lines, box = taken
    box.value += "4.1102"
    box.value = box.value.replace("4.11", "4.11\n")
    assert lines == ["4.1102"]
    assert box.line == ""


def test_a_line_that_stays_keeps_what_was_typed_behind_it(taken):
    lines, box = taken
    box.value += "4.1102\nx4\n5"
    assert lines == ["4.1102"]
    assert box.line == "x4 | 5"


def test_a_box_that_was_emptied_of_its_sign_takes_lines_all_the_same(taken):
    lines, box = taken
    for _ in range(2):
        for text in ("4.1102", "4.1102\n", "4.1102\n4", "4.1102\n4."):
            box.value = text  # all was marked and typed over; the box is not cleared yet
        assert box.line == "4."
    assert lines == ["4.1102", "4.1102"]


def test_leaving_the_box_takes_nothing(taken):
    lines, box = taken
    box.value += "4.11"
    assert lines == []


# --- what the page says -------------------------------------------------------------------------


def test_both_planted_faults_are_named_on_the_page(data):
    chapter = MeasureChapter()
    said = chapter.answer_line
    assert said.startswith(
        "quarry-pump: 495 readings; lines 23, 53 are in doubt: measure again;"
        " worst against its limit: "
    )
    assert (
        "Cannot be: cylinder 7, piston 4.1101 in is not less than bore 4.1058 in: swapped?" in said
    )
    assert "The ledger: line 321: was cut off" in said
    told = plain(chapter.doubts)
    assert "cylinder 7" in told
    assert "exchanged" in told
    assert "line 321" in told
    assert chapter.error_line == ""
    assert all("<svg" in each.value for each in chapter.pictures.values())


def test_the_worst_is_worded_in_either_unit_system(data):
    chapter = MeasureChapter()
    assert "rod oil clearance 0.0028 in, outside (0.0022 to 0.0027 in · shell maker)" in (
        chapter.answer_line
    )
    chapter.system.value = "metric"
    assert "rod oil clearance 0.071 mm, outside (0.056 to 0.069 mm · shell maker)" in (
        chapter.answer_line
    )
    assert chapter.matching.system == "metric"


def test_a_reading_in_doubt_is_not_the_worst(page):
    form = page.entry
    form.what.value = "ring end gap"
    for text in ("0.018", "0.018", "0.018", "0.018", "0.457"):
        form.type(text)
    said = page.answer_line
    assert said.startswith("mill: 5 readings; line 6 is in doubt: measure again")
    assert "0.457" not in said
    assert "cylinder 5" not in said


def test_exchanging_the_swapped_pair_makes_it_whole(data):
    chapter = MeasureChapter()
    form = chapter.entry
    for what, value, spot in (
        ("bore diameter", "4.1101", ("7", "axial", "middle")),
        ("piston diameter", "4.1058", ("7", "", "gauge point")),
    ):
        form.what.value = what
        form.go.value = next(at for _, at in form.go.options
                                if (at.place, at.direction, at.height) == spot)  # fmt: skip
        form.type(value)
        assert saved(chapter).startswith("corrected: cylinder 7")
    assert "Cannot be" not in chapter.answer_line
    assert "line 321" not in form.saved.value  # the torn row was closed off, and is still told of
    assert "The ledger: line 321: was cut off" in chapter.answer_line


def test_a_new_kernel_shows_everything_that_was_acknowledged(blank):
    form = blank.entry
    acknowledged = []
    for value in ("4.1102", "4.1101", "4,110", "4.1100"):
        before = saved(blank)
        form.type(value)
        if saved(blank) != before:
            acknowledged.append(value)
    form.box.value += "4.10"  # half a figure, not ended by Enter
    del blank, form
    again = MeasureChapter("mill")
    assert acknowledged == ["4.1102", "4.1101", "4.1100"]
    assert [row[4] for row in ledger(again)] == acknowledged
    assert again.answer_line.startswith("mill: 3 readings")
    assert all(value in plain(again.entry.table) for value in acknowledged)
    assert "3 of 48 places read" in plain(again.entry.table)
    assert asked(again).startswith("cylinder 1 · bore diameter · axial · middle")


def test_refresh_shows_what_another_page_entered(page):
    load_build(folder("builds") / "mill").readings.append(
        "4.1102 in", place="1", part="bore", feature="diameter", direction="thrust", height="top"
    )
    page.reread.click()
    assert page.answer_line.startswith("mill: 1 reading")
    assert "4.1102" in plain(page.entry.table)


def test_the_table_stands_as_the_block_is_seen_from_above(data):
    form = Form("quarry-pump").entry
    form.what.value = "deck height"
    heads = re.findall('<th scope="col(?:group)?".*?>(.*?)</th>', form.table.value)
    assert heads == ["left bank", "right bank", "", "", "outer", "inner", "", "", "inner", "outer"]
    assert "8 of 8 places read" in form.table.value
    said = plain(form.table)
    assert "[in], seen from above, front at the top; banks as seen from the flywheel end" in said
    form.what.value = "piston below deck"
    heads = re.findall('<th scope="row".*?>(.*?)</th>', form.table.value)[:6]
    assert heads == ["1", "front", "2", "front", "rear", "rear"]
    form.what.value = "intake valve drop"
    heads = re.findall('<th scope="col(?:group)?".*?>(.*?)</th>', form.table.value)
    assert heads == ["left bank", "right bank", *"13572468"]
    angles = re.findall('<th scope="row">(.*?)</th>', form.table.value)
    assert angles == ["−20°", "−15°", "−10°", "−5°", "0°", "5°", "10°", "15°", "20°"]
    assert "cylinder 3 · intake valve drop · −20°" in plain(form.asked)


def test_an_inline_engine_opens_in_millimetres_without_banks(data):
    new_build("ferry", load_engine(folder("engines") / f"{FOUR}.toml"))
    chapter = MeasureChapter("ferry")
    assert chapter.system.value == "metric"
    chapter.entry.type("83,51")
    assert "cylinder 1, bore diameter, thrust, top: 83.51 mm" in saved(chapter)
    assert "bank" not in plain(chapter.entry.table)
    chapter.entry.what.value = "deck height"
    chapter.entry.type("218.21")
    assert saved(chapter).startswith("saved: deck, deck height, inner, front: 218.21 mm")


@pytest.mark.parametrize("file", [V8, FOUR])
def test_every_measurement_can_be_typed(data, file):
    new_build("mill", load_engine(folder("engines") / f"{file}.toml"))
    form = Form()
    for what in measurements():
        form.entry.what.value = what.name
        count = len(form.entry.go.options)
        assert f"0 of {count} places read" in form.entry.table.value
        assert marked(form) == ["▶ ____"]
        form.entry.type("1")
        assert saved(form).startswith("saved: ")
        assert f"1 of {count} places read" in form.entry.table.value
    assert len(ledger(form)) == len(measurements())


def test_the_page_follows_once_nobody_types_any_more(page, monkeypatch):
    monkeypatch.setattr(build_page, "PAUSE", 0.05)

    async def typed():
        for at in range(48):
            page.entry.type(f"4.11{at:02d}")
        assert page.answer_line == "mill: 0 readings."
        assert "48 of 48 places read" in page.entry.table.value
        await asyncio.sleep(0.2)
        assert page.answer_line.startswith("mill: 48 readings; worst against its limit: ")
        page.entry.type("back")
        page.entry.type("4.1102")
        page.entry.box.value += "4"  # somebody goes on
        assert page.answer_line.startswith("mill: 48 readings; worst")

    asyncio.run(typed())


# --- what stands below --------------------------------------------------------------------------

HEADS = "time,act,place,part,feature,direction,height,angle,repeat,value,unit,instrument,\
resolution,temperature,by,note"


def test_a_filled_in_sheet_is_taken_in(page):
    sheet = f"{HEADS}\n,,1,bore,diameter,thrust,top,,1,4.1102,in,,,,JB,\n" \
            ",,1,bore,diameter,axial,top,,1,4.11O1,in,,,,JB,\n"  # fmt: skip
    page.ledger.upload.value = [
        {"name": "sheet.csv", "type": "text/csv", "size": len(sheet), "content":
         memoryview(sheet.encode()), "last_modified": datetime.datetime(2026, 10, 12)}
    ]  # fmt: skip
    told = plain(page.ledger.answer)
    assert told.startswith("sheet.csv: 1 row added to the ledger.")
    assert "line 3" in told
    assert page.answer_line.startswith("mill: 1 reading")
    assert page.ledger.upload.value == ()
    page.ledger.take_in(sheet.encode(), "sheet.csv")
    assert "0 rows added to the ledger. What is in the ledger already" in plain(page.ledger.answer)
    page.ledger.take_in(b"nothing of the sort", "letter.txt")
    assert "letter.txt" in plain(page.ledger.answer)


def test_a_copy_of_the_ledger_is_offered(page):
    page.entry.type("4.1102")
    page.ledger.copy.click()
    name, data = re.findall(r'download="(.*?)" href="data:text/csv;base64,(.*?)"',
                            page.ledger.answer.value)[0]  # fmt: skip
    assert name == "mill-readings.csv"
    lines = base64.b64decode(data).decode().splitlines()
    assert lines[0] == HEADS
    assert ",1,bore,diameter,thrust,top,,1,4.1102,in,bore gauge," in lines[1]


def test_blank_sheets_are_offered(page):
    assert page.sheets.kind.options == ("all of them", *SHEETS)
    page.sheets.kind.value = "bores"
    page.sheets.make.click()
    assert 'download="bores-sheet.pdf" href="data:application/pdf;base64,JVBERi' in (
        page.sheets.answer.value
    )
    assert "1 page is in it" in plain(page.sheets.answer)


def test_a_build_is_started_and_opened(data):
    chapter = MeasureChapter()
    form = chapter.new
    form.engine.value, form.name.value = FOUR, "river ferry"
    form.make.click()
    assert "Made, and opened above: river ferry" in plain(form.answer)
    assert chapter.file.value == "river ferry"
    assert chapter.answer_line == "river ferry: 0 readings."
    made = folder("builds") / "river ferry"
    assert {each.name for each in made.iterdir()} == {"engine.toml"}
    source = folder("engines") / f"{FOUR}.toml"
    assert (made / "engine.toml").read_bytes() == source.read_bytes()
    form.make.click()
    assert "Not made. name: there is a build river ferry already" in plain(form.answer)


BAD_NAMES = ["", " ", "../out", "a/b", "a\\b", "c:", ".hidden", "x" * 61, "a\nb", "quarry-pump",
             "QUARRY-pump"]  # fmt: skip


@pytest.mark.parametrize("name", BAD_NAMES, ids=repr)
def test_a_name_that_is_taken_or_leads_elsewhere_is_refused(data, name):
    engine = load_engine(folder("engines") / f"{V8}.toml")
    before = sorted(data.rglob("*"))
    with pytest.raises(ValueError, match=r"^name: "):
        new_build(name, engine)
    assert sorted(data.rglob("*")) == before


def test_a_build_takes_its_lift_tables_along(data):
    path = folder("engines") / f"{V8}.toml"
    text = path.read_text()
    law = 'lobe_lift = "0.340 in"\nduration = [{ angle = "284 deg", at_lift = "0 in" }]'
    assert law in text
    rows = [(at, round(0.34 * (1 - (at / 140) ** 2) ** 2, 5)) for at in range(-140, 141, 5)]
    lifts = "angle [deg],lift [in]\n" + "".join(f"{at},{lift}\n" for at, lift in rows)
    (path.parent / "lift.csv").write_text(lifts)
    path.write_text(text.replace(law, 'table = "lift.csv"'))
    build = new_build("tabled", load_engine(path))
    assert (build.folder / "lift.csv").read_text() == lifts
    assert build.engine.lobes["intake"] is not None
    assert "tabled" in build_names()


def test_no_build_at_all_is_said_and_one_can_be_started(data):
    shutil.rmtree(data / "builds" / "quarry-pump")
    chapter = MeasureChapter()
    assert "there is no build yet: start one in chapter 06" in chapter.error_line
    assert chapter.body.layout.display == "none"
    chapter.new.name.value = "first"
    chapter.new.make.click()
    assert chapter.error_line == ""
    assert chapter.body.layout.display is None
    chapter.entry.type("4.1102")
    assert len(ledger(chapter)) == 1


def test_a_ledger_that_cannot_be_read_is_said_and_read_once_it_can_be(data):
    path = data / "builds" / "quarry-pump" / "readings.csv"
    path.rename(data / "aside.csv")
    path.mkdir()
    chapter = MeasureChapter()
    assert "readings.csv cannot be read" in chapter.error_line
    path.rmdir()
    (data / "aside.csv").rename(path)
    chapter.reread.click()
    assert chapter.error_line == ""
    assert chapter.answer_line.startswith("quarry-pump: 495 readings")


def test_an_engine_file_that_cannot_be_read_is_said(data):
    path = data / "builds" / "quarry-pump" / "engine.toml"
    path.write_text(path.read_text().replace('stroke = "3.640', 'stroke = "-3.640'))
    chapter = MeasureChapter()
    assert "crank.stroke" in chapter.error_line
    assert chapter.answer_line == ""
    with pytest.raises(ValueError, match="no build is open"):
        chapter.ask_build()
