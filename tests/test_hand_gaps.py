"""Piston to valve as read by hand: the least of drop less lift, its limits, and what cannot be."""

import pytest

from enginecalc.records.hand_gaps import hand_gaps
from enginecalc.records.hand_over import HandOver
from enginecalc.views.sheet import hand_over_sheet
from tests.builds import build_of, reading
from tests.test_sheet import row, section

ANGLES = (0, 5, 10, 15)
DROPS = ("0.220", "0.230", "0.260", "0.310")
CLOSE = ("0.100", "0.140", "0.175", "0.210")  # gaps 0.120, 0.090, 0.085, 0.100


def stations(drops, lifts, angles=ANGLES, unit="in", valve="intake"):
    return [reading("1", f"{valve} valve {what}", f"{size} {unit}", angle=str(angle))
            for what, sizes in (("drop", drops), ("lift", lifts))
            for angle, size in zip(angles, sizes, strict=True)]  # fmt: skip


def one(folder, *args, **how):
    (found,) = hand_gaps(build_of(folder, stations(*args, **how)))
    return found


def test_the_least_gap_lies_on_the_curve_through_the_least_three(tmp_path):
    found = one(tmp_path, DROPS, CLOSE)
    # 0.090, 0.085, 0.100 five degrees apart: 0.085 - (0.100 - 0.090)²/8/(0.090 - 2·0.085 + 0.100),
    # and 5·(0.090 - 0.100)/2/0.020 from ten
    assert found.result.value.m_as("inch") == pytest.approx(0.085 - 0.0001 / 8 / 0.020)
    assert found.after_tdc.m_as("deg") == pytest.approx(10 - 1.25)
    assert found.least.m_as("inch") == pytest.approx(0.085)
    assert found.result.status == "close"  # to 0.080 in of common practice


def test_a_valve_that_meets_its_piston_is_told_first(tmp_path):
    lifts = ("0.100", "0.150", "0.283", "0.210")  # 0.023 in more than there is at ten degrees
    build = build_of(tmp_path, stations(DROPS, lifts))
    (found,) = hand_gaps(build)
    assert found.result.status == "outside"
    told = [each for each, _ in HandOver(build).warnings]
    assert any("intake piston to valve is outside its limits: cylinder 1 as read by hand" in each
               for each in told)  # fmt: skip
    assert row(section(hand_over_sheet(build), "Valves"), "intake, cylinder 1")[4] == "outside"


@pytest.mark.parametrize(
    ("drops", "lifts", "how", "why"),
    [
        (DROPS, ("0.100", "0.110", "0.120", "0.250"), {}, "the least gap must not be at the first"),
        (DROPS[:2], CLOSE[:2], {"angles": ANGLES[:2]}, "needs drop and lift at three angles"),
        (DROPS, CLOSE, {"angles": ("top", "5°", "", "x")}, "needs drop and lift at three angles"),
        (DROPS, CLOSE, {"unit": "deg"}, "not read in lengths"),
    ],
)
def test_what_gives_no_gap_says_why_and_spoils_no_sheet(tmp_path, drops, lifts, how, why):
    build = build_of(tmp_path, stations(drops, lifts, **how))
    (found,) = hand_gaps(build)
    assert found.result.value is None
    assert why in found.result.reason
    assert found.result.reason in [each for each, _ in HandOver(build).blanks]
    assert row(section(hand_over_sheet(build), "Valves"), "intake, cylinder 1")[4] == "not known"


def test_it_needs_nothing_of_the_engine_file(tmp_path):
    build = build_of(tmp_path, stations(DROPS, CLOSE))
    build.engine = build.engine.altered({"intake": None, "exhaust": None})
    valves = section(hand_over_sheet(build), "Valves")
    assert row(valves, "intake, cylinder 1")[2] == "0.085"
