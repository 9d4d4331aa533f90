"""Inertia, stretch, warmth, and what they leave of the quench."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.crank import piston_acceleration
from enginecalc.fits import oil_clearance
from enginecalc.forces import (
    elastic_stretch,
    greatest_inertia_force,
    reciprocating_mass,
    running_quench,
    thermal_growth,
)
from enginecalc.units import Q
from tests.figures import printed, worked

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
