"""A trace typed in one go: a row for each figure, all of them or none."""

import os

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.records.torque_trace import trace_of
from enginecalc.records.trace_entry import save_trace, withdraw_trace
from enginecalc.units import read
from tests.bench_work import BY
from tests.builds import build_of
from tests.figures import WORKED, worked

TRACE = WORKED["inputs"]["torque"]["torque_trace_lbfft"]
FLAT = [6.0] * len(TRACE)


@pytest.fixture(autouse=True, scope="module")
def no_waiting():
    """Do without the disk's acknowledgment, which a busy machine gives late."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        yield


@pytest.fixture
def build(tmp_path):
    return build_of(tmp_path)


def save(build, text, place="1", way="forward", unit="lbf·ft", step=5.0, **more):
    return save_trace(build, place, way, text, unit, step, **{"by": BY, **more})


def typed(torques):
    return " ".join(f"{each:.3f}" for each in torques)


def rows(build):
    return build.readings.rows().to_dict("records")


def angles(build):
    return [float(row["angle"]) for row in rows(build)]


# --- against a source -------------------------------------------------------------------------


@pytest.mark.parametrize("cylinder", ["1", "5", "2"])
def test_the_worked_trace_typed_from_the_cylinders_own_top(build, cylinder):
    top = WORKED["phase.tdc"][cylinder]
    for place, torques in (("engine", FLAT), (cylinder, np.add(FLAT, TRACE))):
        for way in ("forward", "back"):
            assert save(build, typed(torques), place, way, start=top) == 72
    found = trace_of(build, cylinder)
    assert found.bearing.m_as("lbf*ft") == worked("trq.const")
    assert found.ring.m_as("lbf*ft") == worked("trq.ring")
    assert found.contacts.m_as("deg").tolist() == WORKED["trq.spike_deg"]
    assert (found.way, found.two_turns) == ("both", False)
    assert_allclose(found.added.m_as("lbf*ft"), TRACE, atol=1e-9)


# --- against geometry and identities ----------------------------------------------------------


@pytest.mark.parametrize(("start", "step"), [(0.0, 5.0), (10.0, 5.0), (270.0, 2.5), (33.5, 10.0)])
def test_one_turn_has_every_angle_once_and_stays_one_turn(build, start, step):
    count = round(360 / step)
    save(build, typed([1.0] * count), step=step, start=start)
    assert_allclose(sorted(angles(build)), start % step + step * np.arange(count))
    assert angles(build)[0] == start


def test_two_turns_count_on(build):
    save(build, typed([1.0] * 144), start=90.0)
    assert_allclose(sorted(angles(build)), 5.0 * np.arange(144))
    assert angles(build)[-1] == 85.0


@pytest.mark.parametrize("start", [0.0, 10.0])
def test_a_turn_read_to_its_end_has_its_first_angle_twice(build, start):
    save(build, typed([1.0] * 73), start=start)
    assert angles(build)[-1] == angles(build)[0] == start
    assert [row["repeat"] for row in rows(build)] == ["1"] * 72 + ["2"]
    assert len(build.readings.latest()) == 73  # none takes the other's place


def test_the_same_trace_in_other_units(build):
    save(build, typed([1.0, 2.0] * 36), "engine")
    save(build, "1.3558 2.7116 " * 36, "2", unit="N·m")  # 1 lbf·ft is 1.3558 N·m
    sizes = [read(f"{row['value']} {row['unit']}").m_as("N*m") for row in rows(build)]
    assert_allclose(sizes[:72], sizes[72:], rtol=1e-4)


@pytest.mark.parametrize(
    ("count", "step", "whole"),
    [(72, 5.0, True), (73, 5.0, True), (71, 5.0, False), (74, 5.0, False), (144, 5.0, True),
     (145, 5.0, True), (100, 5.0, False), (51, 7.0, True), (52, 7.0, True), (53, 7.0, False),
     (103, 7.0, True), (8, 45.0, True), (48, 7.5, True), (36, 5.0, False)],
)  # fmt: skip
def test_a_trace_goes_all_round_to_half_a_step(build, count, step, whole):
    # 51 by 7 are 357, 3 off a turn; 52 are 364, 4 off, but 357 from the first to the last
    text = typed([1.0] * count)
    if whole:
        assert save(build, text, step=step) == count
        return
    with pytest.raises(ValueError) as fault:  # noqa: PT011
        save(build, text, step=step)
    assert str(fault.value) == (
        f"trace: {count} figures by {step:g} deg cover {count * step:g} deg; a trace goes all"
        " round: 360 or 720 deg"
    )


COMMAS = ["11.6, 11.5, ", "11,6 11,5 ", "11,6, 11,5, ", "11.6;11.5;", "11,6 ; 11,5 ; ",
          "11.6 , 11.5 ,\n", "11.6,\n11.5\n"]  # fmt: skip


@pytest.mark.parametrize("twice", COMMAS)
def test_commas_that_can_be_one_thing_only_are_taken(build, twice):
    text = (twice * 36).strip()
    assert save(build, text.removesuffix(",").removesuffix(";")) == 72
    assert [row["value"] for row in rows(build)] == ["11.6", "11.5"] * 36


@pytest.mark.parametrize("way", ["forward", "back"])
def test_a_trace_takes_the_place_of_the_older_one(build, way):
    # 36 angles that both have are overwritten, the 36 between them are taken back
    save(build, typed([1.0] * 72), way=way)
    save(build, typed([3.0] * 72), way={"forward": "back", "back": "forward"}[way])
    save(build, typed([5.0] * 72), place="engine", way=way)
    save(build, typed([2.0] * 36), way=way, step=10.0)
    kept = build.readings.latest()
    mine = kept[(kept["place"] == "1") & (kept["direction"] == way)]
    assert [*mine["value"]] == ["2.000"] * 36
    assert sorted(map(float, mine["angle"])) == list(range(0, 360, 10))
    assert len(kept) == 36 + 72 + 72
    back = [row for row in rows(build) if row["act"] == "withdrawn"]
    assert sorted(float(row["angle"]) for row in back) == list(range(5, 360, 10))
    assert {(row["by"], row["note"]) for row in back} == {(BY, "another trace was typed")}


def test_the_angles_of_the_older_trace_stay_out_of_what_a_piston_added(build):
    for place, size in (("engine", 1.0), ("1", 9.0)):
        for way in ("forward", "back"):
            save(build, typed([size] * 72), place, way)
    for way in ("forward", "back"):
        save(build, typed([3.0] * 36), "1", way, step=10.0)
    found = trace_of(build, "1")
    assert_allclose(found.added.m_as("lbf*ft"), [2.0] * 36)  # 3 less 1; 9 less 1 before


def test_a_trace_is_taken_back_whole(build):
    for way in ("forward", "back"):
        save(build, typed([1.0] * 73), way=way)
    assert withdraw_trace(build, "1", "forward", by=BY, note="slipped wheel") == 73
    assert {*build.readings.latest()["direction"]} == {"back"}
    assert {row["note"] for row in rows(build)[146:]} == {"slipped wheel"}
    with pytest.raises(ValueError, match="trace: there is none of cylinder 1, forward, to take b"):
        withdraw_trace(build, "1", "forward", by=BY)
    with pytest.raises(ValueError, match="trace: say by whom first"):
        withdraw_trace(build, "1", "back", by=" ")
    with pytest.raises(ValueError, match="direction must be forward or back, got 'up'"):
        withdraw_trace(build, "1", "up", by=BY)
    with pytest.raises(ValueError, match=r"place must be engine or 1 .* got 'pin 1'"):
        withdraw_trace(build, "pin 1", "back", by=BY)
    assert len(build.readings.latest()) == 73


# --- behaviour --------------------------------------------------------------------------------


def test_what_stands_in_the_ledger(build):
    text = "0.5; 0,75\n1.25 " * 12
    assert save(build, text, "3", "back", step=10, instrument="beam wrench") == 36
    kept = [(row["angle"], row["value"]) for row in rows(build)]
    assert kept[:4] == [("0", "0.5"), ("10", "0.75"), ("20", "1.25"), ("30", "0.5")]
    for row in rows(build):
        assert (row["act"], row["place"], row["part"], row["feature"], row["direction"]) == (
            "reading", "3", "crank", "turning torque trace", "back",
        )  # fmt: skip
        assert (row["unit"], row["by"], row["instrument"]) == ("ft*lbf", BY, "beam wrench")


def test_a_trace_typed_again_corrects_the_first(build):
    save(build, "1 2 3 " * 12, "engine", step=10.0)
    save(build, "4 5 6 " * 12, "engine", step=10.0)
    assert [*build.readings.latest()["value"]] == ["4", "5", "6"] * 12
    assert len(rows(build)) == 72  # nothing to take back


REFUSED = [
    ({"text": " \n"}, "trace: blank is not zero; type a figure for each step of the wheel"),
    ({"text": "0.5 x 0.6"}, 'trace: figure 2: "x lbf·ft" is not a number with a unit'),
    ({"text": "11.6,11.5"}, "trace: figure 1: 11.6,11.5: put spaces between the figures"),
    ({"text": "2 1,2,3"}, "trace: figure 2: 1,2,3: put spaces between the figures"),
    ({"text": "1 ,5"}, "trace: figure 2: ,5: put spaces between the figures"),
    ({"text": "0.5, 0.6"}, "trace: 2 figures by 5 deg cover 10 deg; a trace goes all round: 360"),
    ({"text": "1.5"}, "trace: 1 figure by 5 deg covers 5 deg; a trace goes all round"),
    ({"text": "0.5 -0.6"}, "figure 2: -0.6 lbf·ft: type a turning torque as positive, whichever"),
    ({"unit": "in"}, "trace: figure 1: 1 in is not a torque"),
    ({"unit": ""}, "trace: figure 1: 1 has no unit"),
    ({"way": "up"}, "direction must be forward or back, got 'up'"),
    ({"place": "9"}, "trace: place must be engine or 1 or 2 or .* or 8, got '9'"),
    ({"by": "  "}, "trace: say by whom first; nothing was saved"),
    ({"step": 0.0}, "trace: the wheel must go on by more than zero, 45 deg at most, got 0 deg"),
    ({"step": -5.0}, "more than zero, 45 deg at most, got -5 deg"),
    ({"step": float("nan")}, "more than zero, 45 deg at most, got nan deg"),
    ({"step": 361.0}, "more than zero, 45 deg at most, got 361 deg"),
]


@pytest.mark.parametrize(("cells", "message"), REFUSED)
def test_what_is_no_trace_is_refused_and_nothing_saved(build, cells, message):
    with pytest.raises(ValueError, match=message):
        save(build, **{"text": "1 2", **cells})
    assert not build.readings.path.exists()


def test_all_figures_that_cannot_be_read_are_named_but_no_more_than_five(build):
    with pytest.raises(ValueError, match="figure 1: ") as fault:
        save(build, "a b 1 c d e f g")
    lines = str(fault.value).splitlines()
    assert [each.partition(": ")[2].partition(":")[0] for each in lines[:-1]] == [
        f"figure {at}" for at in (1, 2, 4, 5, 6)
    ]
    assert lines[-1] == "nothing was saved"
