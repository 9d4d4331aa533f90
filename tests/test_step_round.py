"""A round of steps: asked one by one, saved, looked at again, taken back."""

import os

import pytest

from enginecalc.records.assembly import ENGINE, Assembly
from enginecalc.records.build import load_build
from enginecalc.records.step_round import StepRound
from tests.bench_work import BY, STEP, answer, right, turn
from tests.builds import build_of


@pytest.fixture(autouse=True, scope="module")
def no_waiting():
    """Do without the disk's acknowledgment, which a busy machine gives late."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        yield


@pytest.fixture
def bench(tmp_path):
    return Assembly(build_of(tmp_path))


@pytest.fixture
def work(bench):
    """Return the round of cylinder 2 of the V8."""
    return StepRound(bench, bench.section_of("2"))


def at(work):
    """Return what is asked for now: a step's name, or "step, direction or height"."""
    if work.asked is None:
        return None
    step, box = work.asked
    return step.name if box is None else f"{step.name}, {box.direction or box.height}"


def save(work, text, **cells):
    return work.save(text, by=BY, **cells)


def go(work, name):
    work.ask(STEP[name])


# --- against a source -------------------------------------------------------------------------


def test_the_steps_of_a_cylinder_come_in_the_order_of_the_work(work):
    # common practice, no source
    asked = []
    while at(work) is not None:
        asked.append(at(work))
        step, box = work.asked
        text = right(work.assembly, step, "2") if box is None else ("0.022", "2.9")[not box.height]
        save(work, text, unit="in" if box and box.height else "lbf·ft")
    assert asked == [
        "ring gaps filed, top", "ring gaps filed, second", "oil ring", "second ring", "top ring",
        "gaps placed", "pin down", "front mark", "rod chamfer", "bolts sleeved", "piston home",
        "cap number", "tang side", "bolt lubricant", "bolt torque", "side play",
        "two turns, forward", "two turns, back",
    ]  # fmt: skip
    assert work.assembly.done(work.section)


# --- against geometry and identities ----------------------------------------------------------


def test_skip_and_back_go_round(work):
    first = at(work)
    asked = []
    for _ in work.asks:
        asked.append(at(work))
        work.skip()
    assert at(work) == first
    assert len({*asked}) == len(asked) == 18
    for name in reversed(asked):
        work.back()
        assert at(work) == name


def test_skip_passes_over_what_is_done_and_back_does_not(work):
    save(work, "0.019", unit="in")
    save(work, "0.021", unit="in")
    assert at(work) == "oil ring"
    go(work, "two turns")
    work.skip()
    work.skip()
    assert at(work) == "oil ring"  # round the end
    work.back()
    assert at(work) == "ring gaps filed, second"
    assert work.seen() == "0.021 in"


def test_places_of_the_whole_engine_are_all_asked_for(bench):
    work = StepRound(bench, bench.section_of(ENGINE, final=True))
    decks = [box for step, box in work.asks if step.name == "decks read"]
    assert [each.place for each in decks[::4]] == ["1", "3", "5", "7", "2", "4", "6", "8"]
    before = StepRound(bench, bench.section_of(ENGINE))
    assert [box.direction for step, box in before.asks if step.name == "bare crank"] == [
        "forward", "back",
    ]  # fmt: skip


# --- behaviour --------------------------------------------------------------------------------


def test_a_round_begins_at_the_first_open_step(bench):
    bench.enter("2", STEP["oil ring"], "butted", by=BY)
    (box, _) = bench.boxes_of(STEP["ring gaps filed"], "2")
    bench.append(box, "0.019", "in", by=BY)
    work = StepRound(bench, bench.section_of("2"))
    assert at(work) == "ring gaps filed, second"
    save(work, "0.021 in")
    assert at(work) == "second ring"


def test_a_round_of_a_part_that_is_done_asks_for_nothing(bench):
    section = bench.section_of("2")
    answer(bench, section, 2.9)
    work = StepRound(bench, section)
    assert work.asked is None
    assert work.seen() == ""
    assert not any(work.is_open(*each) for each in work.asks)
    with pytest.raises(ValueError, match="cylinder 2: every step is done; go to one to change it"):
        save(work, "done")
    work.back()
    assert at(work) == "two turns, back"
    work.skip()
    assert work.asked is None


def test_what_is_saved_is_said(work):
    step, box, said, odd, holds = save(work, "0,019", unit="in", instrument="feeler gauge")
    assert (step.name, box.height, said, odd) == ("ring gaps filed", "top", "0.019 in", "")
    assert holds
    row = work.assembly.build.readings.rows().to_dict("records")[0]
    assert (row["by"], row["instrument"], row["place"]) == (BY, "feeler gauge", "2")
    go(work, "oil ring")
    step, box, said, odd, holds = save(work, "b")
    assert (step.name, box, said, odd, holds) == ("oil ring", None, "butted", "", True)
    assert at(work) == "second ring"


def test_an_answer_that_does_not_hold_is_asked_for_again(work):
    go(work, "rod chamfer")
    *_, said, wrong, holds = save(work, "front")
    assert (said, holds) == ("front", False)
    assert "must face rear" in wrong
    assert at(work) == "rod chamfer"
    assert work.seen() == "front"
    assert work.is_open(*work.asked)
    *_, wrong, holds = save(work, "rear")
    assert (wrong, holds) == ("", True)
    assert at(work) == "bolts sleeved"


@pytest.mark.parametrize(("top", "second"), [("0.010", "0.021"), ("0.019", "0.010")])
def test_of_a_reading_that_does_not_hold_every_place_is_asked_for_again(work, top, second):
    save(work, top, unit="in")
    *_, wrong, holds = save(work, second, unit="in")
    assert not holds
    assert "must be at least" in wrong
    assert at(work) == "ring gaps filed, top"
    assert work.seen() == f"{top} in"
    save(work, "0.019", unit="in")
    assert at(work) == "ring gaps filed, second"  # a reading is taken as a whole
    save(work, "0.021", unit="in")
    assert at(work) == "oil ring"


def test_a_figure_out_of_proportion_is_asked_about(bench):
    for place in ("4", "7", "2"):
        work = StepRound(bench, bench.section_of(place))
        for text in ("0.019", "0.021"):
            *_, odd, holds = save(work, text, unit="in")
            assert (odd, holds) == ("", True)
    work = StepRound(bench, bench.section_of("3"))
    *_, odd, holds = save(work, "0.19", unit="in")
    assert holds
    assert "the decimal point" in odd


def test_a_figure_out_of_proportion_is_asked_about_beside_another_that_does_not_hold(bench):
    work = StepRound(bench, bench.section_of("6"))
    for text in ("0.020", "0.015"):  # the second is less than its least
        work.save(text, by=BY, unit="in")
    work.ask(STEP["ring gaps filed"])
    _, _, _, odd, holds = work.save("20", by=BY, unit="in")
    assert not holds
    assert "second ring gap is 0.0150 in and must be at least" in odd
    assert "times more" in odd


def test_a_step_of_this_part_that_holds_no_more_is_asked_for(bench):
    turn(bench, ENGINE, 1.0)
    answer(bench, bench.section_of("2"), 5.1)  # 4.1 more, and nothing yet to hold it against
    work = StepRound(bench, bench.section_of("2"))
    assert work.asked is None
    turn(bench, "3", 7.0)
    turn(bench, "1", 8.8)
    work.skip()
    assert at(work) == "two turns, forward"


def test_what_is_refused_is_asked_for_again_and_not_saved(work):
    go(work, "bolt torque")
    for text, unit in (("", ""), ("45", "lbf·ft"), ("45 mm", "")):  # a bolt torque needs its own
        with pytest.raises(ValueError, match=r"bolt torque: .*; nothing was saved"):
            save(work, text, unit=unit)
        assert at(work) == "bolt torque"
    go(work, "two turns")
    with pytest.raises(ValueError, match="blank is not zero: nothing was saved"):
        save(work, "", unit="lbf·ft")
    with pytest.raises(ValueError, match="say by whom first; nothing was saved"):
        work.save("2.9", by=" ", unit="lbf·ft")
    assert at(work) == "two turns, forward"
    assert not work.assembly.build.readings.path.exists()


def test_what_stands_at_a_step_is_seen(work):
    assert work.seen() == ""
    save(work, "0.019", unit="in")
    go(work, "ring gaps filed")
    assert work.seen() == "0.019 in"
    go(work, "bolt torque")
    save(work, "45 lbf·ft")
    go(work, "bolt torque")
    assert work.seen() == "45 lbf·ft"


def test_the_last_is_taken_back_and_asked_for_again(work):
    save(work, "0.019", unit="in")
    save(work, "0.021", unit="in")
    save(work, "butted")
    step, box = work.withdraw(by=BY)
    assert (step.name, box, at(work)) == ("oil ring", None, "oil ring")
    step, box = work.withdraw(by=BY)
    assert (step.name, box.height, at(work)) == (
        "ring gaps filed",
        "second",
        "ring gaps filed, second",
    )
    work.withdraw(by="J. Reed")
    assert work.assembly.entries() == {}
    rows = work.assembly.build.readings.rows().to_dict("records")
    assert [row["act"] for row in rows] == ["reading", "reading", "step"] + ["withdrawn"] * 3
    assert rows[-1]["by"] == "J. Reed"
    with pytest.raises(ValueError, match="nothing was entered on this page since this cylinder"):
        work.withdraw(by=BY)


def test_a_round_takes_back_only_what_it_saved(bench):
    bench.enter("2", STEP["oil ring"], "butted", by=BY)
    with pytest.raises(ValueError, match="nothing was entered on this page"):
        StepRound(bench, bench.section_of("2")).withdraw(by=BY)
    assert [*bench.entries()] == [("2", "oil ring")]


def test_what_was_corrected_is_not_taken_back_twice(work):
    go(work, "rod chamfer")
    save(work, "front")
    save(work, "rear")
    work.withdraw(by=BY)
    assert work.assembly.entries() == {}
    with pytest.raises(ValueError, match="rod chamfer of line 2 does not count any more"):
        work.withdraw(by=BY)
    with pytest.raises(ValueError, match="nothing was entered on this page"):
        work.withdraw(by=BY)


@pytest.mark.parametrize("step", ["oil ring", "two turns"])
def test_what_another_page_entered_since_is_not_taken_back(work, step):
    other = Assembly(load_build(work.assembly.build.folder))
    go(work, step)
    if step == "oil ring":
        save(work, "overlapped")
        other.enter("2", STEP[step], "butted", by="J. Reed")
    else:
        save(work, "2.9", unit="lbf·ft")
        turn(other, "2", 3.1)
    with pytest.raises(ValueError, match=f"{step} of line 2 does not count any more: it was enter"):
        work.withdraw(by=BY)
    assert work.assembly.entries()["2", step].wrong == ""
    assert "withdrawn" not in {*work.assembly.build.readings.rows()["act"]}


def test_what_could_not_be_taken_back_can_be_tried_again(work, monkeypatch):
    go(work, "oil ring")
    save(work, "overlapped")
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: os.stat("/nowhere"))
        with pytest.raises(ValueError, match="not saved: oil ring, place 2"):
            work.withdraw(by=BY)
    assert work.assembly.entries()["2", "oil ring"].said == "overlapped"
    work.withdraw(by=BY)
    assert work.assembly.entries() == {}


def test_a_piston_taken_out_is_taken_back_once(work):
    go(work, "side play")
    save(work, "free")
    work.assembly.take_out(2, by=BY)
    with pytest.raises(ValueError, match="side play of line 2 does not count any more"):
        work.withdraw(by=BY)


def test_the_usual_instrument_follows_the_unit_system(work):
    assert work.usual("inch") == ("feeler gauge", "0.001 in", "in")
    assert work.usual("metric") == ("feeler gauge", "0.02 mm", "mm")
    go(work, "two turns")
    assert work.usual("inch") == ("beam or dial wrench", "0.25 lbf·ft", "lbf·ft")
