"""Events, degreeing and lash positions: a lecture's diagram, worked numbers, readings made here."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from enginecalc.camshaft import (
    centerline_between,
    centerline_from_pairs,
    duration_between,
    exhaust_closing,
    exhaust_opening,
    installed_advance,
    intake_closing,
    intake_opening,
    lash_margin,
    lash_setting_angle,
    lobe_center,
    lobe_separation_angle,
    midpoint,
    stop_bias,
    true_tdc_from_stop,
    valve_overlap,
)
from enginecalc.crank import dwell_angle, piston_position, tdc_angle
from enginecalc.lobes import SmoothLobe, card_lobe, table_lobe
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, worked

INCH, DEGREE = 0.0254, np.pi / 180
INTAKE = SmoothLobe(0.340 * INCH, 142 * DEGREE)
EXHAUST = SmoothLobe(0.345 * INCH, 146 * DEGREE)
V8 = {"stroke": Q(3.640, "inch"), "rod_length": Q(5.960, "inch")}
I4 = {"stroke": Q(89.2, "mm"), "rod_length": Q(143.0, "mm"), "pin_offset": Q(-0.6, "mm")}


def deg(value):
    return Q(np.asarray(value, float), "deg")


# --- against a source -------------------------------------------------------------------------


def test_the_lecturers_timing_diagram():
    # [timing_lecture] intake 20 before and 35 after, exhaust 35 before and 10 after; sums ours:
    # 235 and 225 deg of duration, 30 deg of overlap, lobes 100 cam degrees apart
    opens, shuts, exhaust_opens, exhaust_shuts = deg(20), deg(35), deg(35), deg(10)
    assert_allclose(duration_between(opens, shuts).m_as("deg"), 235, rtol=1e-13)
    assert_allclose(duration_between(exhaust_shuts, exhaust_opens).m_as("deg"), 225, rtol=1e-13)
    assert_allclose(valve_overlap(opens, exhaust_shuts).m_as("deg"), 30, rtol=1e-13)
    intake = centerline_between(opens, shuts)
    exhaust = centerline_between(exhaust_shuts, exhaust_opens)
    assert_allclose(lobe_separation_angle(intake, exhaust).m_as("deg"), 100, rtol=1e-13)


# Quarry pump V8 at 0.050 in of lobe lift, centerlines 105 after and 113 before
def v8_events():
    half = [Q(float(lobe.closing(0.050 * INCH)), "rad") for lobe in (INTAKE, EXHAUST)]
    intake, exhaust = deg(105), deg(113)
    return {
        "dur_i": 2 * half[0],
        "dur_e": 2 * half[1],
        "ivo_btdc": intake_opening(intake, half[0]),
        "ivc_abdc": intake_closing(intake, half[0]),
        "evo_bbdc": exhaust_opening(exhaust, half[1]),
        "evc_atdc": exhaust_closing(exhaust, half[1]),
        "lsa": lobe_separation_angle(intake, exhaust),
        "adv": installed_advance(intake, exhaust),
        "overlap": valve_overlap(
            intake_opening(intake, half[0]), exhaust_closing(exhaust, half[1])
        ),
    }


@pytest.mark.parametrize("event", list(v8_events()))
def test_events_of_the_quarry_pump(event):
    assert v8_events()[event].m_as("deg") == worked(f"v8.cam050.{event}")


def test_the_readings_that_give_the_quarry_pumps_centerline():
    before, after = WORKED["v8.centreline_readings"]  # 0.050 in down from the nose, wheel 1.5 off
    half = INTAKE.closing(0.290 * INCH) / DEGREE
    assert_allclose([105 + 1.5 - half, 105 + 1.5 + half], [before, after], atol=0.005)
    assert_allclose(midpoint(deg(before), deg(after), deg(1.5)).m_as("deg"), 105, atol=1e-9)
    found = centerline_from_pairs(Q(0.050, "inch"), deg(before), deg(after), deg(1.5))
    assert_allclose(found.centerline.m_as("deg"), 105, atol=1e-9)
    assert np.isnan(found.slope.m_as("deg/mm"))
    assert np.isnan(found.scatter.m_as("deg"))


def test_a_stop_on_the_quarry_pump():
    touch = dwell_angle(Q(0.400, "inch"), **V8).m_as("deg") / 2
    assert touch == worked("v8.stop_0.400_touch_deg")
    top = true_tdc_from_stop(deg(360 - touch + 1.5), deg(touch + 1.5))
    assert_allclose(top.m_as("deg"), 1.5, atol=1e-9)
    assert_allclose(stop_bias(Q(0.400, "inch"), **V8).m_as("deg"), 0, atol=1e-12)


@pytest.mark.parametrize("depth", [2, 10, 20])
def test_a_stop_on_an_offset_engine_is_off_by_next_to_nothing(depth):
    bias = stop_bias(Q(depth, "mm"), **I4).m_as("deg")
    assert bias == worked(f"i4.stop_bias_deg_{depth}mm")
    top = tdc_angle(**I4).m_as("rad")  # the same by stepping to the stop from either side

    def over(angle):
        return piston_position(Q(angle, "rad"), **I4).m_as("mm") - depth

    middle = (brentq(over, top - 2, top) + brentq(over, top, top + 2)) / 2
    assert_allclose(bias, (middle - top) / DEGREE, atol=1e-9)


@pytest.mark.parametrize("height", ["0.02", "0.05", "0.15"])
def test_the_middle_of_an_uneven_lobes_readings(height):
    lobe = card_lobe(0.340, [0.0], [140 * DEGREE], [148 * DEGREE])
    lift = 0.340 - float(height)
    before, after = (Q(float(angle), "rad") for angle in (lobe.opening(lift), lobe.closing(lift)))
    late = midpoint(deg(105) - before, deg(105) + after, deg(0)) - deg(105)
    assert late.m_as("deg") == worked(f"cam.asym_mid_deg_{height}")


def test_least_lash_margin_of_the_quarry_pump():
    crank = deg(np.arange(0, 720, 0.5))
    margins = []
    for lobe, center in ((INTAKE, 105), (EXHAUST, -113)):
        position = lash_setting_angle(crank, deg(center))
        margins.append(lash_margin(lobe, position, deg(center)).m_as("deg"))
    assert np.min(margins) == worked("v8.lash_position_margin_deg")


# --- against geometry and identities ----------------------------------------------------------


def test_events_give_their_lobe_back():
    opening, closing = deg(np.linspace(90, 130, 9)), deg(np.linspace(90, 130, 9))
    for advance in (-4, 0, 6):
        known = deg(108), opening, deg(advance)
        early, late = intake_opening(*known), intake_closing(known[0], closing, known[2])
        assert_allclose(duration_between(early, late).m_as("deg"), 2 * opening.m, rtol=1e-12)
        assert_allclose(centerline_between(early, late).m_as("deg"), 108 - advance, rtol=1e-12)
        late, early = exhaust_closing(known[0], closing, known[2]), exhaust_opening(*known)
        assert_allclose(duration_between(late, early).m_as("deg"), 2 * opening.m, rtol=1e-12)
        assert_allclose(centerline_between(late, early).m_as("deg"), 108 + advance, rtol=1e-12)


def test_an_event_before_becomes_negative_after():
    # opening 3 deg after the top is -3 before it
    assert_allclose(intake_opening(deg(112), deg(109)).m_as("deg"), -3, rtol=1e-12)


def test_a_lobes_center_by_valve():
    assert_allclose(lobe_center(deg(105), deg(4)).m_as("deg"), 101, rtol=1e-14)
    assert_allclose(lobe_center(deg(113), deg(4), "exhaust").m_as("deg"), -117, rtol=1e-14)


@pytest.mark.parametrize("top", [0, 1.5, 90, 179.5, 200, 359, -33])
@pytest.mark.parametrize("reach", [3, 34, 89.9])
def test_a_stop_is_read_either_side_of_zero(top, reach):
    before, after = np.mod(top - reach, 360), np.mod(top + reach, 360)
    off = true_tdc_from_stop(deg(before), deg(after)).m_as("deg") - top
    assert_allclose(np.mod(off + 180, 360), 180, atol=1e-9)


UNEVEN = card_lobe(0.340 * INCH, [0.0], [140 * DEGREE], [148 * DEGREE])


def readings(lobe, heights, center=105.0, zero=1.5):
    """Return what a wheel, `zero` deg off, reads at heights in inches below the nose."""
    lift = lobe.lobe_lift - heights * INCH
    wheel = deg(center + zero)
    before, after = wheel - Q(lobe.opening(lift), "rad"), wheel + Q(lobe.closing(lift), "rad")
    return Q(heights, "inch"), before, after, deg(zero)


def test_an_uneven_lobe_is_followed_up_to_its_nose():
    found = centerline_from_pairs(*readings(UNEVEN, np.array([0.02, 0.05, 0.15])))
    assert_allclose(found.centerline.m_as("deg"), 105, atol=0.1)
    middles = [WORKED[f"cam.asym_mid_deg_{height}"] for height in ("0.02", "0.05", "0.15")]
    slope = np.cov([0.02, 0.05, 0.15], middles)[0, 1] / np.var([0.02, 0.05, 0.15], ddof=1)
    assert_allclose(found.slope.m_as("deg/inch"), slope, rtol=1e-3)
    assert found.scatter.m_as("deg") < 0.1


def test_an_even_lobe_has_no_slope_and_no_scatter():
    found = centerline_from_pairs(*readings(INTAKE, np.linspace(0.02, 0.3, 8), -113), "exhaust")
    assert_allclose(found.centerline.m_as("deg"), 113, atol=1e-9)
    assert_allclose(found.slope.m_as("deg/mm"), 0, atol=1e-9)
    assert_allclose(found.scatter.m_as("deg"), 0, atol=1e-9)


def test_a_middle_that_drifts_with_the_root_of_the_height_is_met_exactly():
    heights = np.array([1.0, 4.0, 9.0])  # mm; middles 100.5, 101, 101.5: 100 at the nose
    middles = np.array([100.5, 101.0, 101.5])
    found = centerline_from_pairs(Q(heights, "mm"), deg(middles - 30), deg(middles + 30), deg(0))
    assert_allclose(found.centerline.m_as("deg"), 100, rtol=1e-12)
    # least squares by hand: sum((h - 14/3) (m - 101)) / sum((h - 14/3)^2)
    assert_allclose(found.slope.m_as("deg/mm"), 4 / (98 - 14**2 / 3), rtol=1e-12)


def test_scatter_is_the_standard_deviation_of_repeats():
    middles = np.array([104.0, 105.0, 106.0])  # the same height three times
    found = centerline_from_pairs(
        Q([1.27, 1.27, 1.27], "mm"), deg(middles - 40), deg(middles + 40), deg(0)
    )
    assert_allclose(found.centerline.m_as("deg"), 105, rtol=1e-13)
    assert_allclose(found.scatter.m_as("deg"), 1, rtol=1e-12)


def test_readings_across_the_wheels_zero():
    heights, before, after, zero = readings(INTAKE, np.array([0.05, 0.1]), 105, 250)
    wrapped = [deg(np.mod(angle.m_as("deg"), 360)) for angle in (before, after)]
    found = centerline_from_pairs(heights, *wrapped, zero)
    assert_allclose(found.centerline.m_as("deg"), 105, atol=1e-9)


def test_one_of_two_positions_a_turn_apart_is_far_from_every_lobe():
    crank, center = deg(np.arange(0, 720, 7.0)), deg(105)
    position = lash_setting_angle(crank, center).m_as("deg")
    assert set(np.round(position - crank.m, 9)) == {0.0, 360.0}
    off = np.abs((position - 105 + 360) % 720 - 360)
    assert np.all(off >= 180 - 1e-9)
    table = table_lobe(np.arange(-150, 151) * DEGREE, UNEVEN.lift(np.arange(-150, 151) * DEGREE))
    just_shut = lash_margin(table, deg([105 - 140, 105 + 149]), center).m_as("deg")
    assert_allclose(just_shut, [0, 1], atol=0.15)  # a turn of the cam after 148 deg: 1 to spare


# --- behaviour --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measured", "card", "valve", "words"),
    [
        (106.5, 105, "intake", "the cam is 1.5° retarded (crank)"),
        (103, 105, "intake", "the cam is 2.0° advanced (crank)"),
        (111, 113, "exhaust", "the cam is 2.0° retarded (crank)"),
        (116.2, 113, "exhaust", "the cam is 3.2° advanced (crank)"),
        (105.04, 105, "intake", "the cam stands as its card says"),
    ],
)
def test_the_cam_against_its_card_in_words(measured, card, valve, words):
    center = measured if valve == "intake" else -measured
    found = centerline_from_pairs(
        Q(1.27, "mm"), deg(center - 40), deg(center + 40), deg(0), valve=valve
    )
    assert found.against(deg(card)) == words


@pytest.mark.parametrize(("before", "after"), [(34, 326), (220, 140), (260, 95)])
def test_a_stop_past_a_quarter_turn_is_asked_about(before, after):
    with pytest.raises(ValueError, match="Which dead center is it"):
        true_tdc_from_stop(deg(before), deg(after))
    assert np.isfinite(true_tdc_from_stop.kernel(before * DEGREE, after * DEGREE))


def test_other_refusals_are_sentences():
    with pytest.raises(
        ValueError, match=r"heights must be above zero, one for each of the 2 pairs"
    ):
        centerline_from_pairs(Q([1.0, -1.0], "mm"), deg([60, 61]), deg([150, 151]), deg(0))
    with pytest.raises(ValueError, match="one for each of the 1 pairs"):
        centerline_from_pairs(Q([1.0, 2.0], "mm"), deg([60]), deg([150]), deg(0))
    with pytest.raises(ValueError, match="depth must lie between zero and the true stroke"):
        stop_bias(Q(95, "mm"), **I4)
    with pytest.raises(ValueError, match='valve must be "intake" or "exhaust", got \'inlet\''):
        lobe_center(deg(105), deg(0), "inlet")


def test_bare_numbers_are_refused_by_name():
    with pytest.raises(UnitError, match="before needs a unit like rad"):
        centerline_from_pairs(Q(1, "mm"), 60.0, deg(150), deg(0))
    with pytest.raises(UnitError, match="heights needs a unit like m"):
        centerline_from_pairs(0.05, deg(60), deg(150), deg(0))
    with pytest.raises(UnitError, match="centerline needs a unit like rad, got the bare 105"):
        intake_opening(105, deg(110))
