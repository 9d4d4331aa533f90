"""Chapter 08: one cylinder after the other, answered by keyboard, and what binds is named."""

import csv
import re
import shutil

import pytest

from enginecalc.records import folder, load_build
from enginecalc.records.assembly import Assembly
from enginecalc.records.build import new_build
from enginecalc.records.engine import load_engine
from enginecalc.records.work_order import steps_of
from enginecalc.views.apps.assemble import AssembleChapter
from tests.bench_work import turn
from tests.builds import DEMO
from tests.chapters import FOUR, V8, own_builds, plain
from tests.test_orientation import BACK
from tests.test_orientation import V8 as EIGHT


@pytest.fixture
def data(tmp_path, monkeypatch):
    """Make a data folder of its own with the engines and the demonstration build."""
    return own_builds(tmp_path, monkeypatch)


@pytest.fixture
def chapter(data):
    return AssembleChapter()


@pytest.fixture
def blank(data):
    """Return the chapter on a build of the V8 without readings."""
    new_build("bench", load_engine(data / "engines" / f"{V8}.toml"))
    page = AssembleChapter("bench")
    page.steps.by.value = "JB"
    return page


def ledger(page):
    with page.build.readings.path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def at(page, title, step=None):
    """Choose a part of the work and a step, as a person does with both dropdowns."""
    page.now.value = title
    if step:
        page.steps.go.value = step


def table(page):
    """Return {step: the other cells} of what was entered."""
    rows = re.findall(r'<th scope="row">\d+ (.*?)</th>(.*?)</tr>', page.table.value)
    return {name: re.findall("<td>(.*?)</td>", cells) for name, cells in rows}


def refused(page):
    return plain(page.steps.refusal)


# --- the demonstration build -------------------------------------------------------------------


def test_the_tight_piston_of_the_demonstration_build_is_named(chapter):
    assert chapter.now.value == "cylinder 1"
    assert chapter.error_line == ""
    tight = "cylinder 1 added 4.1 lbf·ft, the others 1.8 to 2.0: take that piston out again"
    assert tight in plain(chapter.wrongs)
    assert "1 of 16 steps are open. 1 entry does not hold" in chapter.answer_line
    assert "5 of 8 pistons are in; the pin that comes next is cylinder 6's" in chapter.answer_line
    assert "cyl. 1 4.1 tight" in chapter.torque.value
    assert "2.94 lbf·ft at every angle and 1.87 lbf·ft more mid-stroke" in plain(
        chapter.trace.words
    )
    assert "a shell not seated" in plain(chapter.trace.words)
    assert "cannot name a cylinder" in plain(chapter.log_words)
    assert table(chapter)["two turns"][1].endswith("does not hold")


def test_a_cylinder_shows_how_it_goes(chapter):
    at(chapter, "cylinder 2")
    facts = plain(chapter.facts)
    for said in ("Cylinder 2, right bank", "90° from cylinder 1 at its top", "outer side",
                 "chamfer to the rear cheek, back to back with cylinder 1 on pin 1",
                 "number 2 beside the rod's; tangs on the outer side",
                 "top 15°, second 135°, oil ring 255°", "top 0.0185 in, second 0.0206 in or more",
                 "about 10,700 lbf (7,940 to 12,950 lbf)", "0.0075 in (0.0055 to 0.0090 in)",
                 "bites the fillet by 0.0467 in"):  # fmt: skip
        assert said in facts, said
    assert "chamfer to the rear cheek" in re.search('aria-label="(.*?)"', chapter.view.value)[1]


def test_the_engine_answers_which_pins_and_angles(chapter):
    at(chapter, "before the pistons")
    facts = plain(chapter.facts)
    assert "1: 1 and 2; 2: 3 and 4; 3: 5 and 6; 4: 7 and 8" in facts
    assert "1 and 6; 2 and 3; 4 and 7; 5 and 8" in facts
    assert (
        "4 at 0°, 7 at 0°, 2 at 90°, 3 at 90°, 1 at 180°, 6 at 180°, 5 at 270°, 8 at 270°" in facts
    )
    assert "put rod 5 in cylinder 8's pin" in facts
    assert chapter.view.value == ""  # there is no one cylinder to draw


def test_units_are_those_of_the_switch(chapter):
    chapter.system.value = "metric"
    facts = plain(chapter.facts)
    assert "61 N·m with moly paste; preload about 47.6 kN" in facts
    assert "top 0.470 mm, second 0.522 mm or more" in facts
    assert "N·m" in chapter.torque.value
    assert "mm" in plain(chapter.bolts)


@pytest.mark.parametrize(
    ("engine", "name", "gaps"),
    [
        # a reverse engine has each gap mirrored: 360 deg less its angle
        (EIGHT, "three gaps, 30 deg from every axis", "top 30°, second 240°, oil ring 135°"),
        (BACK, "three gaps, 30 deg from every axis", "top 330°, second 120°, oil ring 225°"),
        (EIGHT, "two gaps, opposite", "top 45°, oil ring 225°"),
        (BACK, "two gaps, opposite", "top 315°, oil ring 135°"),
    ],
)
def test_the_page_shows_the_gaps_that_were_chosen_as_the_crank_runs(data, engine, name, gaps):
    new_build("bench", engine)
    page = AssembleChapter("bench")
    page.steps.by.value = "JB"
    at(page, "before the pistons", "ring gap layout")
    assert "(not chosen yet)" in plain(page.facts)
    page.steps.type(name)
    assert refused(page) == ""
    said = f"ring gaps{gaps}, clockwise from the front mark"
    assert said in plain(page.facts)
    at(page, "cylinder 2")
    assert said in plain(page.facts)
    assert "(not chosen yet)" not in plain(page.facts)
    drawn = re.search('aria-label="(.*?)"', page.view.value)[1]
    assert f"Ring gaps clockwise from the mark: {gaps}." in drawn


def test_a_piston_that_adds_too_little_is_told_below_the_bars_and_is_not_tight(blank):
    work = Assembly(blank.build)
    for place, torque in zip(["engine", *"47231"], (1.0, 2.9, 4.7, 6.7, 7.0, 8.9), strict=True):
        turn(work, place, torque)
    blank.reread.click()
    at(blank, "cylinder 3")
    assert "cyl. 3 0.3" in blank.torque.value
    assert "tight" not in blank.torque.value
    assert "Cylinder 3 added 0.3 lbf·ft, the others 1.8 to 2.0: is a ring left out" in plain(
        blank.log_words
    )
    assert plain(blank.wrongs) == ""
    assert not any("does not hold" in cell for cell in table(blank)["two turns"])


def test_valve_pockets_are_drawn_where_they_were_found(chapter):
    # the demonstration's lie in the valley: there the left bank's major thrust side lies as well
    for cylinder, side in (("cylinder 1", "right"), ("cylinder 2", "left")):
        at(chapter, cylinder)
        assert "on the valley side, as held against the head" in plain(chapter.facts)
        label = re.search('aria-label="(.*?)"', chapter.view.value)[1]
        assert "Valve pockets on the valley side" in label
        above = chapter.orientation.above
        said = {"right": above.thrust_name, "left": above.pockets}[side]
        assert "pockets:\nvalley side" in said.get_text()
        assert (said.get_position()[0] > 0) is (side == "right")
        other = {"left": above.thrust_name, "right": above.pockets}[side]
        assert "pockets" not in other.get_text()
    chapter.steps.by.value = "JB"
    at(chapter, "before the pistons", "valve pockets")
    chapter.steps.type("none")
    at(chapter, "cylinder 1")
    assert "pockets" not in chapter.orientation.above.thrust_name.get_text()


# --- answering -----------------------------------------------------------------------------------


def test_nothing_is_saved_without_a_name(blank):
    blank.steps.by.value = ""
    blank.steps.type("done")
    assert "say by whom first" in refused(blank)
    assert blank.steps.box.line == "done"  # nothing typed is lost
    assert not blank.build.readings.path.exists()


def test_steps_are_answered_one_after_the_other(blank):
    form = blank.steps
    assert "Wash the block" in plain(form.asked)
    for text in ("done", "done", "d", "70 lbf·ft", "1.0", "1,25", "0.006", "1", "valley"):
        form.type(text)
        assert refused(blank) == "", text
    assert [row["feature"] for row in ledger(blank)] == [
        "block washed", "oilway plugs", "main shells", "main caps", "turning torque",
        "turning torque", "end play", "ring gap layout",
        "valve pockets",
    ]  # fmt: skip
    assert {row["by"] for row in ledger(blank)} == {"JB"}
    assert "every step is done" in plain(form.asked)
    form.type("next")
    assert blank.now.value == "cylinder 4"


@pytest.mark.parametrize(
    ("step", "text", "said"),
    [
        ("bolt torque", "45", "45 has no unit"),
        ("bolt torque", "45 mm", "45 mm is not a torque"),
        ("bolt torque", "forty", "bolt torque:"),
        ("rod chamfer", "left", "'left' is not an answer; type front or rear"),
        ("cap number", "9", "'9' is not an answer"),
        ("gaps placed", "", ""),
        ("gaps placed", "yes", "'yes' is not an answer; type done"),
    ],
)
def test_a_text_that_answers_nothing_stays_in_the_box(blank, step, text, said):
    at(blank, "cylinder 5", step)
    blank.steps.type(text)
    assert said in refused(blank)
    assert blank.steps.box.line == text
    assert not blank.build.readings.path.exists()


def test_a_rod_the_wrong_way_round_is_caught_and_its_bite_said(blank):
    at(blank, "cylinder 5", "rod chamfer")
    blank.steps.type("rear")
    said = plain(blank.steps.saved)
    assert "saved: cylinder 5, rod chamfer: rear" in said
    assert "must face front" in said
    assert "0.0518 in against the cheek" in said
    assert "rod chamfer" in plain(blank.steps.asked)  # asked for again
    assert "cylinder 5: rod chamfer is rear" in plain(blank.wrongs)
    assert table(blank)["rod chamfer"] == [
        "front",
        "rear: does not hold",
        table(blank)["rod chamfer"][2],
    ]
    blank.steps.type("front")
    assert plain(blank.wrongs) == ""
    assert [row["note"] for row in ledger(blank)] == ["rear", "front"]  # both stay


def test_another_lubricant_carries_no_torque_over(blank):
    at(blank, "cylinder 5", "bolt lubricant")
    blank.steps.type("engine oil")
    assert "45 lbf·ft was given for moly paste and is not carried over" in plain(blank.wrongs)


def test_words_skip_go_back_and_withdraw(blank):
    form = blank.steps
    form.type("skip")
    assert "oilway plug" in plain(form.asked)
    form.type("back")
    form.type("done")
    form.type("withdraw")
    assert "withdrawn: block washed" in plain(form.saved)
    assert [row["act"] for row in ledger(blank)] == ["step", "withdrawn"]
    assert table(blank)["block washed"][1] == "____"
    form.type("withdraw")
    assert "nothing was entered on this page" in refused(blank)


def test_a_caution_stands_beside_its_step(blank):
    at(blank, "cylinder 5", "piston home")
    assert "Stop if it stops" in plain(blank.steps.asked)


def test_a_piston_that_stopped_can_be_taken_out(blank):
    at(blank, "cylinder 5", "piston home")
    assert blank.take_out.layout.display == "none"
    blank.steps.type("stopped")
    assert blank.take_out.layout.display is None
    blank.take_out.click()
    blank.take_out.click()
    assert "cylinder 5: 1 row taken back" in plain(blank.taken)
    assert blank.take_out.layout.display == "none"


def test_the_whole_engines_readings_name_their_cylinder(blank):
    at(blank, "final checks", "decks read")
    assert plain(blank.steps.hint).startswith("cylinder 1, ")
    blank.steps.type("0.015")
    assert "read before its piston is in" in plain(blank.steps.saved)


def test_a_word_that_led_on_does_not_wait_in_the_box(chapter):
    before = chapter.now.value
    chapter.steps.type("next")
    assert chapter.now.value != before
    chapter.now.value = before
    assert chapter.steps.box.line == ""


def test_a_piston_is_taken_out_again(chapter):
    chapter.steps.by.value = "JB"
    before = len(ledger(chapter))
    chapter.take_out.click()
    assert len(ledger(chapter)) == before  # a slip of the hand takes nothing
    assert chapter.take_out.description.startswith("Press again")
    chapter.take_out.click()
    # ten steps from the pin brought down to the side play, the torque both ways, the lengths of
    # two bolts, and the side play of the other rod on its pin
    assert "cylinder 1: 15 rows taken back" in plain(chapter.taken)
    new = ledger(chapter)[before:]
    assert {row["act"] for row in new} == {"withdrawn"}
    assert "4 of 8 pistons are in; the pin that comes next is cylinder 1's" in chapter.answer_line
    assert "tight" not in chapter.torque.value
    assert "bottom of its bore" in plain(chapter.steps.asked)  # not to turn the crank
    at(chapter, "cylinder 8")
    assert chapter.take_out.layout.display == "none"  # there is no piston in it


# --- trace, wrench, prints -----------------------------------------------------------------------


def test_a_trace_is_typed_in_one_go(blank):
    at(blank, "before the pistons")
    blank.trace.step.value = "10 deg"
    blank.trace.text.value = " ".join(["1.0"] * 36)
    blank.trace.save.click()
    assert "saved: 36 figures, the crank alone, forward" in plain(blank.trace.answer)
    assert [row["angle"] for row in ledger(blank)] == [str(each) for each in range(0, 360, 10)]
    at(blank, "cylinder 4")
    assert "nothing is logged before it" in plain(blank.trace.words)
    blank.trace.text.value = "1.0 x 2.0"
    blank.trace.save.click()
    assert "trace: figure 2" in plain(blank.trace.answer)
    assert blank.trace.text.value == "1.0 x 2.0"
    assert len(ledger(blank)) == 36


def test_a_wrench_with_an_adaptor(blank):
    wrench = blank.wrench
    wrench.button.click()
    assert "Set 40 lbf·ft for 45 lbf·ft at the bolt" in plain(wrench.answer)
    wrench.angle.value = "90 deg"
    assert "Set 40" not in plain(wrench.answer)  # it was for another angle
    wrench.button.click()
    assert "no longer" in plain(wrench.answer)
    wrench.reach.value = "16"
    wrench.button.click()
    assert "grip to square: 16 has no unit" in plain(wrench.answer)


def test_prints_are_made_for_one_cylinder_or_all(chapter):
    clock, cards = chapter.prints.buttons
    for button, name in ((clock, "ring-gap-clock"), (cards, "bench-cards")):
        button.click()
        assert f"Save {name}.pdf" in plain(chapter.prints.answer)
        assert "1 sheet of A4" in plain(chapter.prints.answer)
    chapter.prints.which.value = "every cylinder"
    cards.click()
    assert "8 sheets of A4" in plain(chapter.prints.answer)
    at(chapter, "before the pistons")
    chapter.prints.which.value = "this cylinder"
    cards.click()
    assert "no cylinder is on the page" in plain(chapter.prints.answer)


def test_rules_of_ring_gaps_that_clash_are_said(chapter):
    rules = chapter.rules
    rules.button.click()
    assert "15°, 135°, 255° clockwise from the front mark, 15° from the" in plain(rules.answer)
    assert "keeps these rules" in plain(rules.answer)
    rules.away.value = "20 deg"
    rules.button.click()
    # three gaps a third of a turn apart lie at x, x + 30 and x + 60 within a quarter
    assert "The rules clash: 3 gaps 120 deg apart cannot all be 20 deg from" in plain(rules.answer)
    assert "15 deg is the most" in plain(rules.answer)
    assert "top is 15 deg from the pin axis, less than the 20 deg wanted" in plain(rules.answer)
    rules.apart.value = "90"
    rules.button.click()
    assert "apart at least: 90 has no unit" in plain(rules.answer)
    rules.apart.value = "200 deg"
    rules.button.click()
    assert "least_separation must be from 0 to 120 deg for 3 gaps" in plain(rules.answer)


# --- other engines -------------------------------------------------------------------------------


def test_an_engine_with_little_in_its_file_is_assembled_all_the_same(data):
    new_build("ferry", load_engine(data / "engines" / f"{FOUR}.toml"))
    page = AssembleChapter("ferry")
    assert page.error_line == ""
    assert page.system.value == "metric"
    at(page, "cylinder 2")
    assert "rod_bolt.lubricant: not named" in plain(page.facts)
    assert table(page)["rod chamfer"][0] == ""  # a rod alone on its pin: nothing says so
    assert len(table(page)) == len(steps_of("cylinder"))


def test_a_build_that_cannot_be_opened_leaves_no_page(data):
    (folder("builds") / "quarry-pump" / "engine.toml").write_text("name = 1")
    page = AssembleChapter()
    assert page.error_line
    assert page.body.layout.display == "none"
    shutil.copy(DEMO / "engine.toml", folder("builds") / "quarry-pump")
    page.reread.click()
    assert page.error_line == ""
    assert load_build("quarry-pump").name in page.answer_line
