"""A build: readings in place of planned dimensions, fits place by place, the deck by cylinder."""

import shutil

import numpy as np
import pytest

from enginecalc.records import fit_results as fit_module
from enginecalc.records import folder, load_engine
from enginecalc.records.build import Build, build_names, load_build
from enginecalc.records.clearances import least_piston_to_valve
from enginecalc.records.decks import bank_planes, deck_readings
from enginecalc.records.fit_results import fit_results, worst_first
from enginecalc.records.layout import Layout, layout_names, layout_numberings, layout_table
from enginecalc.records.places import boxes, mains, measurement, measurements, places_of
from enginecalc.units import Q
from tests.chapters import ENGINES
from tests.figures import WORKED, printed, worked

DEMO = load_build("quarry-pump")


@pytest.fixture
def build(tmp_path):
    """Return a build without readings, of the quarry's V8."""
    shutil.copy(ENGINES / "quarry-pump-v8.toml", tmp_path / "engine.toml")
    return Build(tmp_path)


def enter(build, part, feature, place, *values, unit="in", **cells):
    """Put readings into a build's ledger; a dict of values goes by direction and height."""
    for value in values:
        spots = value if isinstance(value, dict) else {("", ""): value}
        for (direction, height), text in spots.items():
            key = {"place": str(place), "part": part, "feature": feature}
            key |= {"direction": direction, "height": height}
            repeat = build.readings.next_repeat(**key)
            build.readings.append(str(text), unit, **key, repeat=repeat, **cells)


def fit(build, name, place):
    (found,) = [each.result for each in fit_results(build) if (each.result.name, each.place)
                == (name, place)]  # fmt: skip
    return found


def inches(quantity):
    return quantity.m_as("inch")


# --- against worked numbers --------------------------------------------------------------------

# trade.md S4: thrust and axial at top, middle and bottom, and the piston that goes in
BORE = dict(
    zip(
        [(way, at) for way in ("thrust", "axial") for at in ("top", "middle", "bottom")],
        ("4.1102", "4.1100", "4.1099", "4.1103", "4.1102", "4.1098"),
        strict=True,
    )
)


def test_a_bore_and_its_piston(build):
    enter(build, "bore", "diameter", 1, BORE)
    enter(build, "piston", "diameter", 1, "4.1058")
    for name, key in (
        ("bore_taper", "fit.taper"),
        ("bore_out_of_round", "fit.oor"),
        ("least_piston_clearance", "fit.ptw_min"),
        ("greatest_piston_clearance", "fit.ptw_max"),
    ):
        assert inches(fit(build, name, "cylinder 1").value) == worked(key)


def test_readings_are_taken_to_20_degrees(build):
    build.engine = build.engine.altered({"piston.material": "forged aluminium"})
    enter(build, "bore", "diameter", 1, "4.1100", temperature="18 °C")
    enter(build, "piston", "diameter", 1, "4.1058", temperature="30 °C")
    # materials.csv gives iron 11e-6 and this piston's alloy near the worked 21e-6
    found = inches(fit(build, "least_piston_clearance", "cylinder 1").value)
    assert found == pytest.approx(WORKED["fit.ptw_at20"], abs=1e-4)
    assert found > WORKED["fit.ptw_apparent"] + 7e-4


# trade.md C13 and section 6, questions 5, 6 and 8
def test_the_invented_build_before_anything_is_moved():
    rods = [fit(DEMO, "rod_oil_clearance", f"cylinder {at}").value for at in DEMO.cylinders]
    low, high = WORKED["sel.rods_asis_min_max"]
    assert inches(min(rods)) == printed(f"{low}")
    assert inches(max(rods)) == printed(f"{high}")
    mains_ = [inches(fit(DEMO, "main_oil_clearance", f"main {at}").value) for at in range(1, 6)]
    np.testing.assert_allclose(mains_, WORKED["sel.mains_std"], atol=1e-9)


def test_side_play_of_two_rods_on_a_pin(build):
    enter(build, "crank pin", "width", "pin 1", "1.9020")
    for rod in (1, 2):
        enter(build, "rod", "width", rod, "0.9420")
    assert inches(fit(build, "rod_side_clearance", "pin 1").value) == worked("rod.side_clearance")


# --- what stands in place of what ---------------------------------------------------------------


def test_a_mean_over_repeats_and_spots_and_its_doubt(build):
    for value in ("4.1100", "4.1102"):
        enter(build, "bore", "diameter", 1, {("thrust", "top"): value}, resolution="0.0001 in")
    enter(build, "bore", "diameter", 1, {("axial", "top"): "4.1107"}, resolution="0.0001 in")
    mean = build.mean("bore", "diameter", 1)
    assert inches(mean.value) == pytest.approx((4.1101 + 4.1107) / 2)  # spots weigh alike
    assert mean.count == 3
    scatter = np.var([4.1100, 4.1102], ddof=1)
    assert inches(mean.u) == pytest.approx(np.sqrt(scatter / 3 + 1e-8 / 12))
    assert build.origin("block.bore", 1).startswith("measured, 3 readings, 20")
    assert build.origin("block.bore", 2) == build.origin("rod.length", 1) == "planned"
    assert build.measured(1).block.bore.m_as("inch") == pytest.approx(4.1104)
    assert build.measured(2).block.bore.m_as("inch") == 4.110
    assert build.engine.block.bore.m_as("inch") == 4.110  # as planned


def test_a_new_reading_shows_at_once_and_a_withdrawn_one_is_gone(build):
    assert build.measured(1) is build.engine
    enter(build, "head", "chamber volume", 1, "69.5", unit="cc")
    assert build.measured(1).head.chamber_volume.m_as("cc") == 69.5
    row = build.readings.append("69.9", "cc", place="1", part="head", feature="chamber volume")
    assert build.measured(1).head.chamber_volume.m_as("cc") == pytest.approx(69.9)
    build.readings.withdraw(row)
    assert build.measured(1) is build.engine
    assert build.origin("head.chamber_volume", 1) == "planned"


def test_each_rod_has_its_own_half_of_a_shared_pin(build):
    sizes = {("vertical", "front"): "2.1999", ("vertical", "rear"): "2.2003"}
    enter(build, "crank pin", "diameter", "pin 2", sizes)
    assert inches(build.measured(3).crank.rod_journal) == pytest.approx(2.1999)
    assert inches(build.measured(4).crank.rod_journal) == pytest.approx(2.2003)
    assert inches(build.measured(1).crank.rod_journal) == 2.2000


def test_a_deck_that_slopes_is_read_off_at_each_cylinder(build):
    for way in ("inner", "outer"):
        enter(build, "deck", "height", "left bank", {(way, "front"): "9.1700"})
        enter(build, "deck", "height", "left bank", {(way, "rear"): "9.1740"})
    heights = [inches(build.measured(at).block.deck_height) for at in (1, 3, 5, 7)]
    np.testing.assert_allclose(heights, [9.1705, 9.1715, 9.1725, 9.1735], atol=1e-9)
    assert inches(build.measured(2).block.deck_height) == 9.170


def test_a_piston_read_at_its_top_settles_the_deck_clearance(build):
    spots = {("front", ""): "0.0180", ("rear", ""): "0.0200", ("major thrust", ""): "0.0300"}
    enter(build, "piston", "below deck", 5, spots)
    enter(build, "rod", "length", 5, "5.9610")
    engine = build.measured(5)
    assert inches(engine.deck_clearance) == pytest.approx(0.019)
    assert engine.running.deck_from == "measured"
    assert "piston below deck, 3 readings" in build.origin("block.deck_height", 5)


def test_a_piston_that_stands_higher_takes_its_height_from_the_valves_drops(build):
    planned = build.engine
    enter(build, "piston", "below deck", 5, {("front", ""): "0.0050", ("rear", ""): "0.0050"})
    engine = build.measured(5)
    higher = 0.015 - 0.005  # planned and read
    for side in ("intake", "exhaust"):
        angle = getattr(planned, side).valve_angle.m_as("rad")
        drop, before = (getattr(each, side).drop_at_tdc for each in (engine, planned))
        assert inches(drop) == pytest.approx(inches(before) - higher * np.cos(angle), abs=1e-6)
        name = f"{side}_piston_to_valve"
        lost = planned.figure(name) - engine.figure(name)  # the least gap moves with it
        assert inches(lost) == pytest.approx(higher * np.cos(angle), abs=2e-6)
        assert "piston below deck, 2 readings" in build.origin(f"{side}.drop_at_tdc", 5)
        assert build.origin(f"{side}.drop_at_tdc", 1) == "planned"
        both = least_piston_to_valve(planned, side, deck_clearances={5: Q(0.005, "inch")})
        assert inches(both.clearance) == pytest.approx(inches(engine.figure(name)), abs=1e-6)


def test_a_drop_moves_with_a_piston_whose_parts_add_up_to_another_height(build):
    enter(build, "rod", "length", 5, "5.9650")  # 0.005 longer than planned
    engine, planned = build.measured(5), build.engine
    for side in ("intake", "exhaust"):
        angle = getattr(planned, side).valve_angle.m_as("rad")
        lost = getattr(planned, side).drop_at_tdc - getattr(engine, side).drop_at_tdc
        assert inches(lost) == pytest.approx(0.005 * np.cos(angle), abs=1e-6)


def test_a_drop_that_was_read_there_counts_before_the_planned_one(build):
    enter(build, "piston", "below deck", 1, {("front", ""): "0.0250", ("rear", ""): "0.0250"})
    for angle, size in (("-5", "0.230"), ("0", "0.222"), ("5", "0.231")):
        enter(build, "intake valve", "drop", 1, size, angle=angle)
    engine = build.measured(1)
    assert inches(engine.intake.drop_at_tdc) == pytest.approx(0.222)
    angle = build.engine.exhaust.valve_angle.m_as("rad")  # it moved, by the 0.010 of the piston
    moved = engine.exhaust.drop_at_tdc - build.engine.exhaust.drop_at_tdc
    assert inches(moved) == pytest.approx(0.010 * np.cos(angle), abs=1e-6)


@pytest.mark.parametrize("unit", ["thou", "um", "mm"])
def test_a_drop_in_any_unit_of_the_trade_moves(tmp_path, unit):
    drop = {"thou": "220 thou", "um": "5588 um", "mm": "5.588 mm"}[unit]
    text = load_engine(ENGINES / "quarry-pump-v8.toml").altered({"intake.drop_at_tdc": drop}).text()
    (tmp_path / "engine.toml").write_text(text, encoding="utf-8")
    build = Build(tmp_path)
    enter(build, "piston", "below deck", 5, {("front", ""): "20", ("rear", ""): "20"}, unit="thou")
    angle = build.engine.intake.valve_angle.m_as("rad")
    assert inches(build.measured(5).intake.drop_at_tdc) == pytest.approx(
        0.220 + 0.005 * np.cos(angle), abs=1e-6
    )


def test_the_swapped_pair_is_named_and_only_that_cylinder_is_withheld():
    with pytest.raises(ValueError, match=r"cylinder 7 as measured: piston\.diameter: .*swapped\?"):
        DEMO.measured(7)
    reason = fit(DEMO, "least_piston_clearance", "cylinder 7").reason
    assert "piston 4.1101 in is not less than bore 4.1058 in: swapped?" in reason
    assert fit(DEMO, "least_piston_clearance", "cylinder 7").value is None
    for number in (1, 2, 3, 4, 5, 6, 8):
        assert 0.012 < inches(DEMO.measured(number).deck_clearance) < 0.020
    assert any("line 321" in each for each in DEMO.readings.problems)


@pytest.mark.parametrize(
    ("housing", "said"), [("2.3200", "two shells together: swapped?"), (None, "needs readings of")]
)
def test_a_bearing_that_cannot_be_or_is_half_measured_says_so(build, housing, said):
    enter(build, "crank pin", "diameter", "pin 1", {("vertical", "front"): "2.2000"})
    enter(build, "rod shell", "wall", 1, {("upper", ""): "0.0613"}, {("lower", ""): "0.0613"})
    if housing:
        enter(build, "rod", "housing", 1, {("vertical", ""): housing})
    result = fit(build, "rod_oil_clearance", "cylinder 1")
    assert result.value is None
    assert said in result.reason


def test_worst_first_puts_what_cannot_be_on_top_and_then_what_has_least_room():
    order = worst_first(fit_results(DEMO))
    states = [each.result.status for each in order if each.result.value is not None]
    assert order[0].result.value is None
    first_inside = states.index("close")
    assert set(states[:first_inside]) == {"outside"}
    assert "outside" not in states[first_inside:]


def test_which_cylinders_stand_off_their_bank():
    found = {each.cylinder: each for each in deck_readings(DEMO)}
    assert [number for number, each in found.items() if each.off] == [4]
    assert inches(found[1].rock) == pytest.approx(0.0015)
    assert inches(found[1].slope) == pytest.approx(-0.0005)


def test_a_limit_by_the_inch_of_journal(build):
    enter(build, "rod", "housing", 1, {("vertical", ""): "2.3250"})
    enter(build, "crank pin", "diameter", "pin 1", {("vertical", "front"): "2.2000"})
    enter(build, "rod shell", "wall", 1, {("upper", ""): "0.0613"}, {("lower", ""): "0.0613"})
    result = fit(build, "rod_oil_clearance", "cylinder 1")
    # common practice, no source: 0.001 in for each inch of journal, and 0.0005 in more
    assert [inches(each) for each in (result.low, result.high)] == pytest.approx([0.0022, 0.0027])
    assert "common practice" in result.source
    assert result.status == "within"


# --- places -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", layout_names())
def test_every_layout_has_a_place_for_every_measurement(name):
    for numbering in layout_numberings(name):
        layout = Layout.model_validate(layout_table(name, numbering))
        for what in measurements():
            made = boxes(layout, what)
            assert len({each.words for each in made}) == len(made) > 0
        assert len(places_of(layout, "cylinder")) == len(layout.cylinder)


# common practice, no source: a main bearing between neighboring throws and one at each end
@pytest.mark.parametrize(("name", "count"), [("quarry-pump-v8", 5), ("ferry-four", 5)])
def test_main_bearings_stand_between_the_throws(name, count):
    assert mains(load_engine(ENGINES / f"{name}.toml").layout) == count


def test_boxes_come_as_one_measures():
    order = [each.words for each in boxes(DEMO.engine.layout, measurement("bore", "diameter"))]
    assert order[:3] == [
        "cylinder 1, bore diameter, thrust, top",
        "cylinder 1, bore diameter, axial, top",
        "cylinder 1, bore diameter, thrust, middle",
    ]
    assert order[6].startswith("cylinder 3, ")  # down the left bank first


def test_the_demo_build_is_listed_and_unknown_ones_are_refused():
    assert "quarry-pump" in build_names()
    assert DEMO.folder == folder("builds") / "quarry-pump"
    with pytest.raises(ValueError, match=r"a build is a folder with an engine\.toml in it"):
        load_build("no such build")
    with pytest.raises(ValueError, match="has no cylinder 9; it has 1, 2, 3"):
        DEMO.measured(9)


def test_a_cylinder_goes_by_its_number_or_its_text():
    assert [DEMO.cylinder(each) for each in (3, "3")] == [3, 3]
    assert DEMO.measured("3") is DEMO.measured(3)
    names = "1, 2, 3, 4, 5, 6, 7 and 8"
    for strange in ("engine", "", "03", None):
        with pytest.raises(ValueError, match=f"has no cylinder {strange!r}; it has {names}$"):
            DEMO.cylinder(strange)


def test_fits_are_worked_out_once_for_every_state_of_the_ledger(build, monkeypatch):
    enter(build, "bore", "diameter", "3", {("thrust", "top"): "4.1100"})
    made, whole = [], fit_module._fits
    monkeypatch.setattr(fit_module, "_fits", lambda each: made.append(each) or whole(each))
    first = fit_results(build)
    first.clear()  # a caller's own
    assert len(fit_results(build)) == 2
    assert len(made) == 1
    enter(build, "bore", "diameter", "4", {("thrust", "top"): "4.1100"})
    assert len(fit_results(build)) == 4
    assert len(made) == 2


def test_the_plane_of_a_bank_from_its_corners(build):
    sizes = {
        ("inner", "front"): "9.1700",
        ("outer", "front"): "9.1710",
        ("inner", "rear"): "9.1730",
    }
    enter(build, "deck", "height", "left bank", sizes)
    (plane,) = bank_planes(build)  # three corners lie on one plane
    found = [inches(each) for each in (plane.along, plane.across, plane.twist)]
    np.testing.assert_allclose(found, [0.003, 0.001, 0], atol=1e-9)
    enter(build, "deck", "height", "left bank", {("outer", "rear"): "9.1760"})  # 0.002 twisted
    (plane,) = bank_planes(build)
    found = [inches(each) for each in (plane.along, plane.across, plane.twist)]
    np.testing.assert_allclose(found, [0.004, 0.002, 0.0005], atol=1e-9)
    assert plane.place == "left bank"
