"""Inertia, stretch, warmth, and what they leave of the quench."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.crank import piston_acceleration, piston_position, tdc_angle
from enginecalc.fits import oil_clearance
from enginecalc.forces import (
    elastic_stretch,
    greatest_inertia_force,
    mass_above_parting_line,
    reciprocating_force,
    reciprocating_mass,
    rod_bolt_load,
    running_quench,
    thermal_growth,
)
from enginecalc.units import Q
from tests.figures import WORKED, printed, random_cranks, worked

# --- against a source -------------------------------------------------------------------------


def test_bansal_1_28_a_rod_that_expands_freely():
    # [bansal_strength] Problem 1.28, p. 43: 2 m, from 10 to 80 degC, 12e-6 per degC: 0.168 cm
    rise = Q(80, "degC") - Q(10, "degC")
    growth = thermal_growth(Q(2, "m"), Q(12e-6, "1/delta_degC"), rise)
    assert_allclose(growth.m_as("cm"), 0.168, rtol=1e-12)


def test_wentzell_6_2_bolt_stretch():
    # [wentzell_design] Examples 6.1 and 6.2, pp. 120-121: 85 % of 85 000 psi on 0.334 in2, 5 in
    force, area = Q(0.85 * 85_000 * 0.334, "lbf"), Q(0.334, "inch**2")
    stretch = elastic_stretch(force, Q(5, "inch"), area, Q(30e6, "psi"))
    assert stretch.m_as("inch") == printed("0.01204")


def test_meriam_5_15_one_slug_feels_its_acceleration_in_pounds():
    # [meriam_dynamics] Sample Problem 5/15, p. 376: throw 5, rod 14 in, 1500 rev/min, 60 deg:
    # 3310 ft/s2 (recalled; three figures), towards the crank, so inertia pulls away from it
    crank = Q(10, "inch"), Q(14, "inch"), Q(1500, "rpm")
    force = reciprocating_force(Q(60, "deg"), Q(1, "slug"), *crank)
    assert_allclose(force.m_as("lbf"), -3310, atol=5)


# --- against the worked numbers of the invented engines ---------------------------------------

V8 = Q(3.640, "inch"), Q(5.960, "inch")
PARTS = {"piston": 438, "pin": 128, "rings": 34, "locks": 3, "small_end": 172}
RECIPROCATING = reciprocating_mass(**{part: Q(mass, "g") for part, mass in PARTS.items()})
STEEL = Q(12e-6, "1/K"), Q(205, "GPa"), Q(0.42, "inch**2")
ALUMINIUM = Q(23e-6, "1/K"), Q(71, "GPa"), Q(0.75, "inch**2")
CLEARANCES = {  # housing, journal and two shells of rod and main; the pin's is taken as none
    "rod_clearance": oil_clearance(*(Q(x, "inch") for x in (2.3250, 2.2000, 0.0613, 0.0613))),
    "main_clearance": oil_clearance(*(Q(x, "inch") for x in (2.7935, 2.6000, 0.0955, 0.0955))),
    "pin_clearance": Q(0.0, "inch"),
}


def growths(rod_expansion, block_expansion=11e-6):
    """Return what each part of the V8 grows: all 90 degC warmer, the piston 120."""
    sizes = {
        "rod_growth": (V8[1], rod_expansion.m_as("1/K"), 90),
        "stroke_growth": (V8[0], 12e-6, 90),
        "piston_growth": (Q(1.375, "inch"), 21e-6, 120),
        "block_growth": (Q(9.170, "inch"), block_expansion, 90),
    }
    return {
        name: thermal_growth(length, Q(expansion, "1/K"), Q(rise, "delta_degC"))
        for name, (length, expansion, rise) in sizes.items()
    }


def stretch(rod, speed=6200):
    """Return what inertia draws out of the rod at the top."""
    force = greatest_inertia_force(RECIPROCATING, *V8, Q(speed, "rpm"))
    return elastic_stretch(force, V8[1], area=rod[2], elastic_modulus=rod[1])


def running(rod, share=1.0, cold=0.043, speed=6200, block=11e-6, **more):
    """Return the running quench of the V8 in inches."""
    none = dict.fromkeys(("piston_rock", "crank_bend"), Q(0.0, "inch"))
    return running_quench(
        Q(cold, "inch"),
        **growths(rod[0], block),
        **CLEARANCES,
        **none | more,
        rod_stretch=stretch(rod, speed),
        clearance_share=share,
    ).m_as("inch")


def net_growth(rod):
    g = growths(rod[0])
    return (g["rod_growth"] + g["stroke_growth"] / 2 + g["piston_growth"] - g["block_growth"]).m_as(
        "inch"
    )


QUENCH = {
    "steel_growth": lambda: net_growth(STEEL),
    "steel_stretch": lambda: stretch(STEEL).m_as("inch"),
    "steel_running_measured_deck": lambda: running(STEEL),
    "steel_running_drawing_deck": lambda: running(STEEL, share=0.5),
    "steel_running_10_percent_over": lambda: running(STEEL, speed=6820),
    "aluminium_growth": lambda: net_growth(ALUMINIUM),
    "aluminium_stretch": lambda: stretch(ALUMINIUM).m_as("inch"),
    "aluminium_running_measured_deck": lambda: running(ALUMINIUM),
    "aluminium_running_drawing_deck": lambda: running(ALUMINIUM, share=0.5),
    "alu_block_opens": lambda: running(STEEL, block=23e-6) - running(STEEL),
    "static_0.004": lambda: running(STEEL, cold=0.004),
    "deduction_steel": lambda: 0.043 - running(STEEL),
    "clearances": lambda: sum(CLEARANCES.values()).m_as("inch"),
}


@pytest.mark.parametrize("figure", QUENCH)
def test_worked_quench(figure):
    assert QUENCH[figure]() == worked(f"quench.{figure}")


def test_worked_inertia():
    assert RECIPROCATING.m_as("g") == worked("bal.recip_g")
    pull = greatest_inertia_force(RECIPROCATING, *V8, Q(6200, "rpm"))
    assert pull.m_as("N") == worked("inertia.TDC_N")


def test_worked_inertia_by_crank_angle():
    angle = Q([0, WORKED["v8.ptv_i_at"]], "deg")
    top, at_intake = reciprocating_force(angle, RECIPROCATING, *V8, Q(6200, "rpm")).m_as("N")
    assert -top == worked("inertia.TDC_N")
    assert at_intake / top == worked("inertia.fraction_at_intake_minimum")


def test_worked_rod_bolt_load():
    above = mass_above_parting_line(Q(426, "g"), 0.45)
    assert above.m_as("g") == worked("bolt.mass_above_parting_line_g")
    load = rod_bolt_load(RECIPROCATING, above, *V8, Q(6200, "rpm"))
    assert load.m_as("lbf") == worked("bolt.load_per_bolt_lbf")


def test_ten_percent_over_speed_adds_twenty_one_percent_of_stretch():
    over = (stretch(STEEL, 6820) / stretch(STEEL, 6200)).m_as("")
    assert over == worked("inertia.stretch_ratio_10_percent_over")


# --- against geometry and identities ----------------------------------------------------------


def test_the_pull_is_mass_times_the_greatest_acceleration_of_a_turn():
    crank = {"stroke": Q(89.2, "mm"), "rod_length": Q(143, "mm"), "pin_offset": Q(-5, "mm")}
    turn = piston_acceleration(
        Q(np.arange(-30, 30, 0.01), "deg"), **crank, engine_speed=Q(7000, "rpm")
    )
    pull = greatest_inertia_force(Q(512.6, "g"), **crank, engine_speed=Q(7000, "rpm"))
    assert_allclose(pull.m_as("N"), 0.5126 * turn.m_as("m/s**2").max(), rtol=1e-7)


def test_inertia_is_mass_times_the_second_difference_of_the_path():
    stroke, rod, offset = random_cranks(60, seed=4)
    rod = np.maximum(rod, 0.6 * stroke + abs(offset))
    angle, step, speed = np.linspace(0, 6, 60), 1e-4, 500.0
    before, here, after = (
        piston_position.kernel(angle + way * step, stroke, rod, offset) for way in (-1, 0, 1)
    )
    force = reciprocating_force.kernel(angle, 0.7, stroke, rod, speed, offset)
    path = -0.7 * speed**2 * (before - 2 * here + after) / step**2
    assert_allclose(force, path, rtol=1e-5, atol=1e-5 * abs(force).max())


def test_inertia_mirrored_and_averaged_over_a_turn():
    crank = {"stroke": Q(89.2, "mm"), "rod_length": Q(143, "mm")}
    angle, speed = Q(np.arange(0, 360, 0.5), "deg"), Q(7000, "rpm")
    here = reciprocating_force(angle, Q(512.6, "g"), **crank, engine_speed=speed,
                               pin_offset=Q(-5, "mm"))  # fmt: skip
    mirrored = reciprocating_force(-angle, Q(512.6, "g"), **crank, engine_speed=speed,
                                   pin_offset=Q(5, "mm"))  # fmt: skip
    assert_allclose(here.m, mirrored.m, rtol=1e-9, atol=1e-9)
    assert_allclose(here.m.mean(), 0, atol=1e-9 * abs(here.m).max())
    greatest = greatest_inertia_force(Q(512.6, "g"), **crank, engine_speed=speed,
                                      pin_offset=Q(-5, "mm"))  # fmt: skip
    assert_allclose(-here.m.min(), greatest.m_as("N"), rtol=1e-5)


def test_bolts_hold_what_newton_needs_along_rod_and_throw():
    stroke, rod, offset, speed = 0.0892, 0.143, 0.012, 733.0
    top = tdc_angle.kernel(stroke, rod, offset)
    throw = stroke / 2 * np.array([np.sin(top), np.cos(top)])
    pin = np.array([offset, throw[1] + np.sqrt(rod**2 - (throw[0] - offset) ** 2)])
    along = (throw - pin) / rod  # from the piston towards the crank
    assert_allclose(along @ throw, -stroke / 2, rtol=1e-12)  # in one line
    step = 1e-4
    before, here, after = (
        piston_position.kernel(top + way * step, stroke, rod, offset) for way in (-1, 0, 1)
    )
    pull = 0.5126 * speed**2 * (before - 2 * here + after) / step**2
    wanted = pull / -along[1] + 0.2 * speed**2 * stroke / 2
    load = rod_bolt_load.kernel(0.5126, 0.2, stroke, rod, speed, offset, bolts=4)
    assert_allclose(4 * load, wanted, rtol=1e-6)
    mirrored = rod_bolt_load.kernel(0.5126, 0.2, stroke, rod, speed, -offset, bolts=4)
    assert_allclose(load, mirrored, rtol=1e-12)


def test_without_mass_above_the_joint_the_bolts_share_the_greatest_inertia():
    crank = 0.0892, 0.143, 733.0
    greatest = greatest_inertia_force.kernel(0.5126, *crank)
    assert_allclose(2 * rod_bolt_load.kernel(0.5126, 0.0, *crank), greatest, rtol=1e-12)


def test_big_end_parts_make_the_whole():
    above, cap = (mass_above_parting_line(Q(370, "g"), share).m_as("g") for share in (0.38, 0.62))
    assert_allclose(above + cap, 370, rtol=1e-12)


def test_allowances_are_taken_off_in_full():
    allowed = running(STEEL, piston_rock=Q(0.003, "inch"), crank_bend=Q(0.002, "inch"))
    assert_allclose(running(STEEL) - allowed, 0.005, rtol=1e-10)


def test_warming_and_cooling_undo_each_other():
    up, down = (
        thermal_growth(Q(9, "inch"), Q(11e-6, "1/K"), Q(t, "delta_degF")) for t in (54, -54)
    )
    assert_allclose(up.m_as("inch"), 9 * 11e-6 * 30, rtol=1e-12)
    assert_allclose((up + down).m_as("inch"), 0, atol=1e-18)


# --- behaviour --------------------------------------------------------------------------------


@pytest.mark.parametrize("wrong", ["length", "area", "elastic_modulus"])
def test_a_bar_without_size_or_stiffness_is_refused(wrong):
    bar = {"length": Q(5, "inch"), "area": Q(0.334, "inch**2"), "elastic_modulus": Q(30e6, "psi")}
    with pytest.raises(ValueError, match=rf"^elastic_stretch: {wrong} must be greater than zero"):
        elastic_stretch(Q(24_000, "lbf"), **bar | {wrong: -bar[wrong]})


def test_no_mass_and_a_short_rod_come_in_one_message():
    with pytest.raises(
        ValueError, match=r"reciprocating_mass must be .* rod_length must be longer"
    ):
        greatest_inertia_force(Q(-775, "g"), Q(120, "mm"), Q(55, "mm"), Q(6200, "rpm"))


def test_nothing_moving_has_no_inertia_to_ask_for():
    with pytest.raises(
        ValueError, match=r"^reciprocating_force: reciprocating_mass must be greater than zero, got"
    ):
        reciprocating_force(Q(9, "deg"), Q(0.0, "g"), *V8, Q(6200, "rpm"))


def test_bolts_and_masses_of_a_rod_are_above_zero():
    with pytest.raises(
        ValueError, match=r"^rod_bolt_load: mass_above_parting_line must be .*; bolts must be"
    ):
        rod_bolt_load(RECIPROCATING, Q(-234, "g"), *V8, Q(6200, "rpm"), bolts=0)
    with pytest.raises(ValueError, match="rod_length must be longer than half the stroke"):
        rod_bolt_load(RECIPROCATING, Q(234, "g"), V8[0], Q(1.8, "inch"), Q(6200, "rpm"))


def test_a_cap_is_no_more_than_its_rod_end():
    with pytest.raises(ValueError, match=r"cap_share must lie between 0 and 1, got 45\.$"):
        mass_above_parting_line(Q(426, "g"), 45)
    with pytest.raises(ValueError, match=r"mass_big_end must be .* cap_share must lie"):
        mass_above_parting_line(Q(0.0, "g"), np.array([0.4, -0.1]))


def test_a_crank_that_cannot_turn_is_nan_in_a_sweep():
    assert np.isnan(reciprocating_force.kernel(1.0, 0.7, 0.09, 0.044, 500.0))
    assert np.isnan(rod_bolt_load.kernel(0.7, 0.2, 0.09, 0.044, 500.0))
