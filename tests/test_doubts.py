"""What is doubtful in readings: planted errors are named by their lines, good readings are not."""

import re
import shutil

import pytest

from enginecalc.records.build import load_build
from enginecalc.records.doubts import _RESTS, doubtful_lines, reading_doubts, sure_fits
from enginecalc.records.figures import FITS
from enginecalc.records.fit_results import fit_results
from enginecalc.records.places import boxes, measurement
from enginecalc.units import Q
from tests.builds import DEMO, bore, build_of, pistons, reading

# --- the demo build: two planted errors ---------------------------------------------------------


def test_the_two_planted_errors_are_named_and_nothing_else_is():
    torn, exchanged, cannot = reading_doubts(load_build(DEMO))
    assert torn.startswith("line 321: was cut off")
    assert exchanged == (
        "lines 23, 53: 4.1058 in (cylinder 7, bore diameter, axial, middle) and 4.1101 in"
        " (cylinder 7, piston diameter, gauge point) look exchanged: each would fit in the other's"
        " place"
    )
    assert cannot == "cylinder 7: piston 4.1101 in is not less than bore 4.1058 in: swapped?"
    assert doubtful_lines(load_build(DEMO)) == {23: exchanged, 53: exchanged}


def test_the_same_readings_in_millimeters_are_as_doubtful(tmp_path):
    rows = []
    for row in load_build(DEMO).readings.latest().to_dict("records"):
        if row["unit"] == "in":
            value = Q(float(row["value"]), "inch").m_as("mm")
            number, unit = row["resolution"].split()
            finest = Q(float(number), "inch").m_as("mm")
            assert unit == "in"
            row |= {"value": f"{value:.5f}", "unit": "mm", "resolution": f"{finest:.5f} mm"}
        del row["line"], row["time"]
        rows.append(row)
    assert sorted(doubtful_lines(build_of(tmp_path, rows))) == [23, 53]


def test_a_corrected_reading_is_doubtful_no_more(tmp_path):
    shutil.copytree(DEMO, tmp_path / "build")
    build = load_build(tmp_path / "build")
    for row, value in ((21, "4.1101"), (51, "4.1058")):
        cells = build.readings.rows().iloc[row].to_dict()
        del cells["line"], cells["time"], cells["value"]
        build.readings.append(value, **cells)
    (torn,) = reading_doubts(build)
    assert "cut off" in torn
    assert doubtful_lines(build) == {}


# --- repeats ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("second", "told"), [("4.1103 in", False), ("4.1104 in", True)])
def test_repeats_may_lie_three_finest_digits_apart(tmp_path, second, told):
    rows = [reading("3", "bore diameter", value, "thrust", "top", repeat=at)
            for at, value in enumerate(("4.1100 in", second), 1)]  # fmt: skip
    found = [each for each in reading_doubts(build_of(tmp_path, rows)) if "repeat" in each]
    assert len(found) == told
    if told:
        assert found[0].startswith("lines 2, 3: 4.1100 in (cylinder 3, bore diameter, thrust, top)")
        assert found[0].endswith("measure again")


def test_repeats_at_two_temperatures_are_compared_at_twenty_degrees(tmp_path):
    # iron, 11e-6 per degree: 4.1100 in at 20 is 4.1109 in at 40
    warm = {"temperature": "40 degC", "repeat": 2}
    rows = [
        reading("3", "bore diameter", "4.1100 in", "thrust", "top", temperature="20 degC"),
        reading("3", "bore diameter", "4.1109 in", "thrust", "top", **warm),
    ]
    assert doubtful_lines(build_of(tmp_path, rows)) == {}


def test_a_torque_that_grows_from_piston_to_piston_is_no_bad_repeat(tmp_path):
    rows = [reading("engine", "crank turning torque", f"{2 * at} lbf·ft", "forward", repeat=at)
            for at in range(1, 9)]  # fmt: skip
    assert reading_doubts(build_of(tmp_path, rows)) == []


# --- another unit -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "said", "asks"),
    [
        ("0.9420 mm", "25 times less", "inches or millimeters? 0.9420 in would be 23.927 mm"),
        ("23.93 in", "25 times more", "inches or millimeters? 23.93 mm would be 0.9421 in"),
        ("20 in", "21 times more", "inches or millimeters? 20 mm would be 0.7874 in"),
        ("19 in", "20 times more", "misread?"),
        ("942 in", "1,000 times more", "thou, tenths or hundredths of mm?"),
        ("9.420 in", "10 times more", "thou, tenths or hundredths of mm?"),
        ("0.0942 in", "10 times less", "thou, tenths or hundredths of mm?"),
        ("45 in", "48 times more", "misread?"),
        ("23.927 mm", "", ""),
    ],
)
def test_a_size_ten_times_off_its_kind_asks_for_its_unit(tmp_path, value, said, asks):
    widths = ["0.9420 in"] * 7
    rows = [reading(str(at), "rod width", each) for at, each in enumerate([*widths, value], 1)]
    found = reading_doubts(build_of(tmp_path, rows))
    assert len(found) == bool(said), "said once"
    if said:
        assert found[0].startswith(f"line 9: {value} (cylinder 8, rod width) is {said}")
        assert found[0].endswith(asks)


def test_a_size_of_zero_or_less_is_in_doubt_but_a_gap_may_be_none(tmp_path):
    rows = [reading("1", "rod width", "0 in"), reading("2", "rod width", "-0.942 in"),
            reading("1", "ring end gap", "0 in", "", "top"),
            reading("1", "piston below deck", "-0.002 in", "front")]  # fmt: skip
    one, two = reading_doubts(build_of(tmp_path, rows))
    assert one == "line 2: 0 in (cylinder 1, rod width) cannot be zero or less: measure again"
    assert two.startswith("line 3: -0.942 in (cylinder 2, rod width) cannot be")


def test_fits_that_rest_on_a_reading_in_doubt_are_left_out():
    build = load_build(DEMO)
    fits = fit_results(build)
    left = {(fit.place, fit.result.name) for fit in fits}
    left -= {(fit.place, fit.result.name) for fit in sure_fits(build, fits)}
    names = ("least_piston_clearance", "greatest_piston_clearance", "bore_taper",
             "bore_out_of_round")  # fmt: skip
    assert left == {("cylinder 7", name) for name in names}


@pytest.mark.parametrize(
    ("name", "value", "direction", "height", "left"),
    [
        ("ring end gap", "0.50 in", "", "top", {"top_ring_gap"}),
        ("rod housing", "0 in", "vertical", "", {"rod_oil_clearance"}),
        ("rod width", "0 in", "", "", {"rod_side_clearance"}),
    ],
)
def test_a_fit_is_left_out_with_what_it_rests_on(tmp_path, name, value, direction, height, left):
    shutil.copytree(DEMO, tmp_path / "build")
    build = load_build(tmp_path / "build")
    build.readings.append_many([reading("1", name, value, direction, height)])
    fits = fit_results(build)
    sure = sure_fits(build, fits)
    out = {fit.result.name for fit in fits if fit not in sure and fit.place != "cylinder 7"}
    assert out == left


def test_it_is_known_of_each_fit_what_it_rests_on():
    assert all(sum(key in name for key in _RESTS) == 1 for name in FITS)


def test_a_shut_valve_has_no_lift_and_that_is_not_doubtful(tmp_path):
    what = measurement("exhaust valve", "lift")
    boxes_ = [box for box in boxes(load_build(DEMO).engine.layout, what) if box.angle == "20"]
    rows = [{**box.key, "value": f"{0.0005 * at:.4f} in"} for at, box in enumerate(boxes_)]
    assert reading_doubts(build_of(tmp_path, rows)) == []


# --- alone --------------------------------------------------------------------------------------


def test_one_piston_of_eight_far_from_the_others_is_asked_after(tmp_path):
    sizes = [4.1058, 4.1056, 4.1059, 4.1059, 4.1056, 4.1057, 4.0958, 4.1055]
    (found,) = reading_doubts(build_of(tmp_path, pistons(sizes)))
    assert found.startswith("line 8: 4.0958 in (cylinder 7, piston diameter, gauge point)")
    assert re.search(r"far from its fellows, about 4.105[67] in: swapped or misread\?$", found)


def test_one_of_six_readings_of_a_bore_is_asked_after(tmp_path):
    rows = bore("3", 4.1100)
    rows[4]["value"] = "4.1010 in"
    (found,) = reading_doubts(build_of(tmp_path, rows))
    assert found.startswith("line 6: 4.1010 in (cylinder 3, bore diameter, axial, middle) is far")


def test_bores_all_worn_at_the_top_are_not_misread(tmp_path):
    worn = {"top": 4.1200, "middle": 4.1103, "bottom": 4.1101}
    rows = [row for number in "12345678" for row in bore(number, worn)]
    assert reading_doubts(build_of(tmp_path, rows)) == []


def test_a_bore_with_a_sleeve_of_its_own_is_not_misread(tmp_path):
    rows = [row for number in "1234567" for row in bore(number, 4.1100)]
    assert reading_doubts(build_of(tmp_path, [*rows, *bore("8", 4.0800)])) == []


def test_a_note_stands_with_its_doubt(tmp_path):
    rows = pistons([4.1057] * 7 + [4.0957])
    rows[7]["note"] = "coated <b>skirt</b>"
    (found,) = reading_doubts(build_of(tmp_path, rows))
    assert "gauge point; coated <b>skirt</b>)" in found


# --- temperature, and what cannot be ------------------------------------------------------------


def test_a_fine_clearance_without_temperatures_is_asked_after(tmp_path):
    rows = [*bore("3", 4.1100, temperature=""), *pistons([4.1058] * 8)]
    (found,) = reading_doubts(build_of(tmp_path, rows))
    assert found.startswith("lines 2 to 7: no temperature stands with a bore or piston")
    assert "0.0005 in" in found


def test_a_coarse_clearance_needs_no_temperature(tmp_path):
    coarse = {"temperature": "", "resolution": "0.002 in"}
    rows = [*bore("3", 4.1100, **coarse), *pistons([4.1058] * 8)]
    assert reading_doubts(build_of(tmp_path, rows)) == []


def test_what_cannot_be_is_said_once_and_what_is_missing_is_no_doubt(tmp_path):
    piston = {"temperature": "20 degC", "resolution": "0.0001 in"}
    rows = [*bore("3", 4.1100), *bore("4", 4.1100)]
    rows.append(reading("3", "piston diameter", "4.1103 in", "", "gauge point", **piston))
    assert reading_doubts(build_of(tmp_path, rows)) == [
        "cylinder 3: piston 4.1103 in is not less than bore 4.1100 in: swapped?"
    ]


def test_an_empty_ledger_has_no_doubts(tmp_path):
    assert reading_doubts(build_of(tmp_path)) == []
    assert doubtful_lines(load_build(tmp_path)) == {}
