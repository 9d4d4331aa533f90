"""The log of turning torque: increments set apart, a trace in its parts, what no trace shows."""

import numpy as np
import pytest
import sympy
from numpy.testing import assert_allclose
from scipy.optimize import least_squares

from enginecalc.crank import rod_tilt
from enginecalc.turning_torque import (
    OUTLYING,
    TOUCHING,
    contact_scores,
    drag_parts,
    drag_residuals,
    drag_shape,
    friction_torque,
    increment_scores,
    torque_increments,
)
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, random_cranks, worked

GIVEN = WORKED["inputs"]["torque"]
LBFT, RESOLUTION = "lbf*ft", Q(GIVEN["torque_resolution_lbfft"], "lbf*ft")
LOG = Q(np.array(GIVEN["torque_log_lbfft"]), LBFT)
STROKE = Q(GIVEN["torque_trace_cylinder_stroke_in"], "inch")
ROD = Q(GIVEN["torque_trace_rod_in"], "inch")
TRACE = Q(np.array(GIVEN["torque_trace_lbfft"]), LBFT)
DEGREES = GIVEN["torque_trace_step_deg"] * np.arange(len(TRACE))
TURN = Q(DEGREES * 1.0, "deg")


def deg(*angles):
    return Q(np.array(angles, float), "deg")


# --- against a source -------------------------------------------------------------------------


def test_the_worked_log_names_the_fifth_piston():
    found = torque_increments(LOG)
    assert found.m_as(LBFT).tolist() == [printed(str(each)) for each in WORKED["trq.inc"]]
    scores = increment_scores(found, RESOLUTION).m
    assert scores.tolist() == [printed(str(each)) for each in WORKED["trq.z"]]
    assert np.flatnonzero(scores > OUTLYING).tolist() == [4]


def test_the_worked_trace_falls_into_its_parts_and_its_contact():
    constant, ring = drag_parts(TURN, STROKE, ROD, TRACE).m_as(LBFT)
    assert constant == worked("trq.const")
    assert ring == worked("trq.ring")
    left = drag_residuals(TURN, STROKE, ROD, TRACE)
    scores = contact_scores(left, RESOLUTION).m
    assert DEGREES[scores > TOUCHING].tolist() == WORKED["trq.spike_deg"]


UPRIGHT = 9.80665 / 4.4482216 / 12  # lbf·ft of a kilogram that pulls on a lever of an inch
V8 = WORKED["inputs"]["v8"]
GOING = sum(V8[f"mass_{part}_g"] for part in ("piston", "pin", "rings", "locks", "rod_small_end"))
TURNING = V8["mass_rod_big_end_g"] + V8["mass_shells_per_rod_g"] + V8["mass_oil_per_pin_g"]


def turning_weights(degrees):
    """Return the torques of piston and of big end in lbf·ft, in a bore that stands upright.

    By the work of each weight over a small turn: how far it goes down for a radian.
    """
    throw, rod, small = V8["stroke_in"] / 2, V8["rod_length_in"], 1e-5

    def height(angle):
        return throw * np.cos(angle) + np.sqrt(rod**2 - (throw * np.sin(angle)) ** 2)

    at = np.radians(degrees)
    piston = (height(at - small) - height(at + small)) / (2 * small)
    return GOING / 1000 * UPRIGHT * piston, TURNING / 1000 * UPRIGHT * throw * np.sin(at)


def test_the_weight_of_a_piston_and_of_a_big_end_and_what_takes_them_out():
    # as large as the wrench's resolution at the worst angle; half the sum of both ways has neither
    piston, big_end = turning_weights(np.arange(0, 360.0))
    assert np.max(piston) == worked("trq.weight_piston_lbfft")
    assert np.max(big_end) == worked("trq.weight_big_end_lbfft")
    friction = 1.9
    one_way, other = (friction + side * (piston + big_end) for side in (1, -1))
    made = friction_torque(Q(one_way, LBFT), Q(other, LBFT)).m_as(LBFT)
    assert_allclose(made, friction, rtol=1e-12)
    alone = WORKED["trq.weight_piston_lbfft"] + WORKED["trq.weight_big_end_lbfft"]
    assert np.max(one_way) - friction == pytest.approx(alone, abs=0.02)


def test_the_rod_swings_fastest_where_the_rings_stand_still():
    # why a tight pin is felt at both dead centers: there the rod turns on it by 0.305 of a radian
    # for a radian of crank, and the drag of the rings is nil
    small = 1e-3
    at = np.arange(0.0, 360)
    tilt = [rod_tilt(Q(at + side * small, "deg"), STROKE, ROD).m_as("deg") for side in (1, -1)]
    swing = abs(tilt[0] - tilt[1]) / (2 * small)
    assert swing[0] == worked("trq.pin_swing_tdc")
    assert swing[180] == worked("trq.pin_swing_tdc")
    assert {*np.flatnonzero(swing > swing.max() - 1e-9)} == {0, 180}
    assert_allclose(swing[[90, 270]], 0, atol=1e-7)
    assert_allclose(drag_shape(deg(0, 180), STROKE, ROD).m, 0, atol=1e-12)


def test_the_scatter_is_that_of_a_statistics_program():
    # documentation of R's function mad: that of the whole numbers 1 to 9 is 2.965204 with 1.4826
    numbers = Q(np.arange(1.0, 10), "N*m")
    scores = increment_scores(numbers, Q(1e-6, "N*m")).m
    assert 1 / (scores[5] - scores[4]) == pytest.approx(2.965204, abs=5e-5)


# --- against geometry and identities ----------------------------------------------------------


def test_scores_by_hand():
    # 2, 4, 4, 5, 15: median 4, absolute deviations 2 0 0 1 11, their median 1
    made = increment_scores(Q(np.array([2.0, 4, 4, 5, 15]), "N*m"), Q(0.1, "N*m")).m
    assert_allclose(made * 1.4826, [-2, 0, 0, 1, 11], rtol=1e-12)


def test_alike_increments_are_measured_against_the_wrench():
    made = increment_scores(Q(np.array([2.0, 2, 2, 2, 3]), "N*m"), Q(0.5, "N*m")).m
    assert made.tolist() == [0, 0, 0, 0, 2]
    each = increment_scores(Q(np.array([2.0, 3, 1]), "N*m"), Q(np.array([0.1, 2.0, 4.0]), "N*m")).m
    assert_allclose(each, [0, 1 / 2, -1 / 4], atol=1e-12)


@pytest.mark.parametrize(("stroke", "rod", "offset"), np.array(random_cranks(6)).T)
def test_the_shape_is_the_pistons_travel_for_a_small_turn(stroke, rod, offset):
    # work of a steady force: force times the way the piston goes, by differences of the position
    angle = sympy.Symbol("angle")
    throw, swing = stroke / 2, stroke / 2 * sympy.sin(angle) - offset
    travel = throw * sympy.cos(angle) + sympy.sqrt(rod**2 - swing**2)
    rate = sympy.lambdify(angle, abs(sympy.diff(travel, angle)) / throw)
    at = np.linspace(0.1, 6.2, 9)
    found = drag_shape(Q(at, "rad"), *(Q(each, "m") for each in (stroke, rod, offset))).m
    assert_allclose(found, [float(rate(each)) for each in at], rtol=1e-9, atol=1e-12)


def test_the_shape_is_nil_at_dead_centers_and_full_at_right_angles():
    # at 90 deg the pin moves along the bore: the piston goes as fast as the pin
    made = drag_shape(deg(0, 90, 180, 270), Q(6.0, "mm"), Q(5.0, "mm")).m
    assert_allclose(made, [0, 1, 0, 1], atol=1e-15)


def test_weight_drops_out_of_a_trace_read_both_ways():
    # friction is the same either way round; a weight helps one way and hinders the other
    weight = Q(0.27 * np.sin(TURN.m_as("rad")), LBFT)
    made = friction_torque(TRACE + weight, TRACE - weight)
    assert_allclose(made.m_as(LBFT), TRACE.m, rtol=1e-14)


DRAWN = {"seed": 8}, {"seed": 21, "contact": [200, 205]}, {"seed": 34, "contact": [355, 0, 5]}


def traced(seed, contact=(), bearing=0.8, ring=2.6, noise=0.06, weight=(0, 0, 0)):
    """Return a trace made of parts, noise, and two torques more at each angle of contact."""
    at, radius, rod = np.radians(DEGREES), STROKE.m / 2, ROD.m
    swing = radius * np.sin(at)
    speed = np.sin(at) + np.cos(at) * swing / np.sqrt(rod**2 - swing**2)
    made = bearing + ring * abs(speed) + np.random.default_rng(seed).normal(0, noise, len(at))
    made += weight[0] * speed + weight[1] * np.sin(at) + weight[2] * np.cos(at)
    return Q(made + 2.0 * np.isin(DEGREES, contact), LBFT)


@pytest.mark.parametrize("drawn", DRAWN)
def test_parts_and_contacts_of_drawn_traces_come_back(drawn):
    # 72 readings off by 0.06 leave the parts good to 0.06 / sqrt(72) / 0.31, about 0.023: 4 of it
    trace = traced(**drawn)
    assert_allclose(drag_parts(TURN, STROKE, ROD, trace).m_as(LBFT), [0.8, 2.6], atol=0.09)
    left = drag_residuals(TURN, STROKE, ROD, trace)
    scores = contact_scores(left, Q(0.1, LBFT)).m
    assert sorted(DEGREES[scores > TOUCHING]) == sorted(drawn.get("contact", []))


@pytest.mark.parametrize("loss", ["huber", "soft_l1"])
@pytest.mark.parametrize("trace", [TRACE, *(traced(**drawn) for drawn in DRAWN)])
def test_another_robust_fit_agrees(trace, loss):
    at = np.radians(DEGREES)
    swing = STROKE.m / 2 * np.sin(at)
    speed = abs(np.sin(at) + np.cos(at) * swing / np.sqrt(ROD.m**2 - swing**2))
    other = least_squares(
        lambda parts: parts[0] + parts[1] * speed - trace.m, [1, 1], loss=loss, f_scale=0.1
    )
    assert_allclose(drag_parts(TURN, STROKE, ROD, trace).m_as(LBFT), other.x, atol=0.03)


def test_a_trace_read_one_way_gives_up_its_weight():
    noisy = traced(3, weight=(0.27, 0.1, -0.12))
    plain = drag_parts(TURN, STROKE, ROD, noisy, one_way=True).m_as(LBFT)
    assert_allclose(plain[:2], [0.8, 2.6], atol=0.09)
    exact = traced(3, noise=0, weight=(0.27, 0.1, -0.12))
    found = drag_parts(TURN, STROKE, ROD, exact, one_way=True).m_as(LBFT)
    assert_allclose(found, [0.8, 2.6, 0.27, 0.1, -0.12], atol=1e-9)
    as_both = drag_residuals(TURN, STROKE, ROD, exact).m_as(LBFT)
    assert np.std(as_both) > 0.1  # the weight would stand in what is left


def test_a_trace_without_noise_comes_back_whole_but_for_its_contact():
    trace = traced(5, contact=[40, 45], noise=0)
    assert_allclose(drag_parts(TURN, STROKE, ROD, trace).m_as(LBFT), [0.8, 2.6], atol=1e-9)
    left = drag_residuals(TURN, STROKE, ROD, trace).m_as(LBFT)
    assert_allclose(left, 2.0 * np.isin(DEGREES, [40, 45]), atol=1e-9)


def test_no_more_than_rounding_is_no_contact():
    # whole steps of the wrench: in each of two readings half a step is lost at most
    rounded = np.round(traced(5, noise=0).m / 0.25) * 0.25
    left = drag_residuals(TURN, STROKE, ROD, Q(rounded, LBFT))
    assert contact_scores(left, RESOLUTION).m.max() < TOUCHING
    flat = np.zeros(72)
    flat[9] = 0.5
    assert_allclose(contact_scores(Q(flat, LBFT), RESOLUTION).m[9], 2 * np.sqrt(6), rtol=1e-12)


# --- behaviour --------------------------------------------------------------------------------


def test_newton_meters_and_millimeters_give_the_same_parts():
    other = drag_parts(TURN.to("rad"), STROKE.to("mm"), ROD.to("mm"), TRACE.to("N*m"))
    assert_allclose(other.m_as(LBFT), drag_parts(TURN, STROKE, ROD, TRACE).m_as(LBFT), rtol=1e-9)


def test_logs_run_along_the_last_axis():
    both = Q(np.array([LOG.m, LOG.m[::-1]]), LBFT)
    found = torque_increments(both)
    assert_allclose(found.m_as(LBFT)[1], -np.diff(LOG.m)[::-1], rtol=1e-12)
    scores = increment_scores(found, RESOLUTION).m
    assert_allclose(scores[1], -scores[0][::-1], atol=1e-9)


def test_a_crank_that_cannot_turn_has_no_parts():
    assert np.isnan(drag_parts.kernel(np.radians(DEGREES), 0.1, 0.02, TRACE.m)).all()


REFUSED = [
    (friction_torque, (Q(2.0, "N*m"), Q(-1.9, "N*m")),
     r"^friction_torque: back_torque must be zero or more, got -1\.9 N\*m\. Type both directions"
     r" as positive\.$"),
    (friction_torque, (Q(np.nan, "N*m"), Q(1.9, "N*m")), "forward_torque must be zero or more"),
    (torque_increments, (Q(np.array([2.0]), "N*m"),), "logged_torque must hold 2 or more"),
    (increment_scores, (Q(np.array([2.0, np.inf]), "N*m"), RESOLUTION), "increments must be fin"),
    (increment_scores, (LOG, Q(0.0, "N*m")), "resolution must be greater than zero"),
    (contact_scores, (TRACE, Q(-0.1, "N*m")), "resolution must be greater than zero"),
    (contact_scores, (TRACE[:5], RESOLUTION), "drag_residuals must hold 8 or more"),
    (drag_shape, (TURN, STROKE, Q(1.0, "inch")), "rod_length must be longer than half the stroke"),
    (drag_parts, (TURN[:5], STROKE, ROD, TRACE[:5]), "crank_angle must hold 8 or more .* got 5"),
    (drag_residuals, (TURN, STROKE, ROD, TRACE[:60]), "must be as many, got 72 and 60"),
]  # fmt: skip


@pytest.mark.parametrize(("formula", "given", "message"), REFUSED)
def test_what_cannot_be_is_refused(formula, given, message):
    with pytest.raises(ValueError, match=message):
        formula(*given)


def test_a_torque_is_no_length_and_an_angle_says_what_turns():
    with pytest.raises(UnitError, match="forward_torque needs a unit like N"):
        friction_torque(Q(2.0, "N"), Q(2.0, "N*m"))
    with pytest.raises(UnitError, match="crank_angle needs a unit like rad"):
        drag_shape(40.0, STROKE, ROD)
