"""Means of repeats, how sure they are, and sizes brought to 20 degC."""

import math
import statistics

import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.fits import piston_clearance
from enginecalc.forces import thermal_growth
from enginecalc.measured import mean_reading, reading_uncertainty, reference_size, repeat_spread
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, worked

# --- against a source -------------------------------------------------------------------------

# [callister_materials] Table B.6: 1e-6 per degC, 1e-6 per degF
COEFFICIENTS = {
    "steel 1020": ("11.7", "6.5"),
    "steel 1040": ("11.3", "6.3"),
    "steel 4140": ("12.3", "6.8"),
    "steel 4340": ("12.3", "6.8"),
    "gray iron": ("11.4", "6.3"),
    "ductile iron 60-40-18": ("11.2", "6.2"),
    "aluminium 356.0": ("21.5", "11.9"),
    "aluminium 6061": ("23.6", "13.1"),
}


@pytest.mark.parametrize("metal", COEFFICIENTS)
def test_callister_a_coefficient_means_the_same_by_either_thermometer(metal):
    celsius, fahrenheit = COEFFICIENTS[metal]
    size = Q(1e6, "mm")  # so that a degree moves it by the coefficient
    by_celsius = reference_size(size, Q(float(celsius) * 1e-6, "1/delta_degC"), Q(21, "degC"))
    assert (size - by_celsius).m_as("mm") == printed(celsius)
    by_fahrenheit = reference_size(size, Q(float(fahrenheit) * 1e-6, "1/delta_degF"), Q(69, "degF"))
    assert (size - by_fahrenheit).m_as("mm") == printed(fahrenheit)
    a_degf = reference_size(size, Q(float(celsius) * 1e-6, "1/delta_degC"), Q(69, "degF"))
    assert (size - a_degf).m_as("mm") == printed(fahrenheit)


def grown(length, expansion, cold, hot):
    """Return what a part is longer when hot, from what it comes to at 20 degC both times."""
    return reference_size(length, expansion, cold) - reference_size(length, expansion, hot)


def test_bansal_1_28_a_rod_that_expands_freely():
    # [bansal_strength] Problem 1.28, p. 43: 2 m, from 10 to 80 degC, 12e-6 per degC: 0.168 cm
    longer = grown(Q(2, "m"), Q(12e-6, "1/delta_degC"), Q(10, "degC"), Q(80, "degC"))
    assert longer.m_as("cm") == printed("0.168")


def test_beer_2_06_steel_that_shrinks():
    # [beer_materials] Example 2.06: 24 in, 6.5e-6 per degF, from 75 to -50 degF; -19.50e-3 in is
    # recalled from memory
    longer = grown(Q(24, "inch"), Q(6.5e-6, "1/delta_degF"), Q(75, "degF"), Q(-50, "degF"))
    assert longer.m_as("inch") == printed("-0.0195")


def test_gum_a_digit_that_may_be_anything_within_its_step():
    # [gum] F.2.2.1, from memory: a step of 1 alone leaves 0.29 of it; 4.2.3: s / sqrt(n)
    assert reading_uncertainty(Q([7.0], "mm"), Q(1, "mm")).m_as("mm") == printed("0.29")
    repeats = [104.394, 104.401, 104.388, 104.397, 104.402]
    u = reading_uncertainty(Q(repeats, "mm"), Q(1e-9, "mm")).m_as("mm")
    assert_allclose(u, statistics.stdev(repeats) / math.sqrt(5), rtol=1e-8)


# --- against the worked numbers of the invented engines ---------------------------------------

READ = WORKED["inputs"]["bore_readings"]
BORE, PISTON = (Q(READ[f"{part}_in"], "inch") for part in ("bore_for_temperature", "piston"))
IRON, ALLOY = (Q(READ[f"alpha_{part}_per_C"], "1/K") for part in ("bore", "piston"))


def test_worked_cold_block_and_warm_piston():
    assert piston_clearance(BORE, PISTON).m_as("inch") == worked("fit.ptw_apparent")
    bore = reference_size(BORE, IRON, Q(READ["bore_temperature_C"], "degC"))
    piston = reference_size(PISTON, ALLOY, Q(READ["piston_temperature_C"], "degC"))
    assert piston_clearance(bore, piston).m_as("inch") == worked("fit.ptw_at20")
    bore += thermal_growth(bore, IRON, Q(READ["running_rise_bore_C"], "delta_degC"))
    piston += thermal_growth(piston, ALLOY, Q(READ["running_rise_skirt_C"], "delta_degC"))
    assert piston_clearance(bore, piston).m_as("inch") == worked("fit.ptw_running")


# --- against geometry and identities ----------------------------------------------------------


def test_at_20_degrees_nothing_changes():
    for at in (Q(20, "degC"), Q(68, "degF"), Q(293.15, "K")):
        assert_allclose(
            reference_size(Q(83.5, "mm"), Q(23e-6, "1/K"), at).m_as("mm"), 83.5, rtol=1e-14
        )


@pytest.mark.parametrize("temperature", [-10.0, 5.0, 33.0, 120.0])
def test_temperature_there_and_back(temperature):
    there = Q(83.5, "mm") + thermal_growth(
        Q(83.5, "mm"), Q(23e-6, "1/K"), Q(temperature - 20, "delta_degC")
    )
    back = reference_size(there, Q(23e-6, "1/K"), Q(temperature, "degC")).m_as("mm")
    small = 23e-6 * (temperature - 20)  # (1 + x) (1 - x) = 1 - x^2
    assert_allclose(back, 83.5 * (1 - small**2), rtol=1e-13)
    assert abs(back - 83.5) < 0.0005


@pytest.mark.parametrize("seed", range(4))
def test_repeats_are_summed_up_as_by_a_statistician(seed):
    readings = np.random.default_rng(seed).normal(83.5, 0.004, (3, 6))
    step = Q(0.002, "mm")
    for at, row in enumerate(readings):
        u = math.hypot(statistics.stdev(row) / math.sqrt(6), 0.002 / math.sqrt(12))
        many = Q(readings, "mm")
        assert_allclose(mean_reading(many)[at].m_as("mm"), statistics.fmean(row), rtol=1e-13)
        assert_allclose(repeat_spread(many)[at].m_as("mm"), max(row) - min(row), rtol=1e-9)
        assert_allclose(reading_uncertainty(many, step)[at].m_as("mm"), u, rtol=1e-9)


def test_a_step_spreads_a_reading_as_the_guide_says():
    # rounded to a step of 0.002 mm, sizes anywhere are off by 0.002 / sqrt(12), one with another
    sizes = np.random.default_rng(1).uniform(83.49, 83.51, 200_000)
    off = np.round(sizes / 0.002) * 0.002 - sizes
    u = reading_uncertainty(Q(sizes[:1], "mm"), Q(0.002, "mm")).m_as("mm")
    assert_allclose(off.std(), u, rtol=0.01)


def test_more_repeats_make_the_mean_surer_but_never_surer_than_the_step():
    step, pair = Q(0.0001, "inch"), [4.1100, 4.1102]
    counts = [1, 2, 8, 200]
    u = [reading_uncertainty(Q(pair * count, "inch"), step).m_as("inch") for count in counts]
    assert u == sorted(u, reverse=True)
    assert u[-1] > 0.0001 / math.sqrt(12)


# --- behaviour --------------------------------------------------------------------------------


def test_inch_and_millimetre_give_the_same_answer_and_lazy_readings_stay_lazy():
    readings, step = Q([[83.51, 83.512, 83.508], [83.5, 83.5, 83.504]], "mm"), Q(0.002, "mm")
    for formula, more in ((mean_reading, ()), (repeat_spread, ()), (reading_uncertainty, (step,))):
        found = formula(readings, *more).m
        inches = formula(readings.to("inch"), *(each.to("inch") for each in more)).m
        assert_allclose(inches, found, rtol=1e-9)
        kernel = [each.m_as("m") for each in more]
        lazy = formula.kernel(da.from_array(readings.m_as("m"), chunks=1), *kernel)
        assert isinstance(lazy, da.Array)
        assert_allclose(lazy.compute(scheduler="sync"), found, rtol=1e-9)


def test_many_sizes_at_many_temperatures():
    sizes, at = Q([83.5, 83.6, 83.7], "mm"), Q([15.0, 20.0, 30.0], "degC")
    loop = [reference_size(sizes[i], Q(11e-6, "1/K"), at[i]).m for i in range(3)]
    assert_allclose(reference_size(sizes, Q(11e-6, "1/K"), at).m, loop, rtol=1e-14)


@pytest.mark.parametrize("formula", [mean_reading, repeat_spread])
def test_no_readings_and_readings_that_are_none_are_refused(formula):
    for none in (83.5, np.array([])):
        with pytest.raises(ValueError, match="readings must hold 1 or more along the last axis"):
            formula(Q(none, "mm"))
    with pytest.raises(ValueError, match="readings must be finite, got nan"):
        formula(Q([0.02, np.nan], "mm"))
    assert formula(Q([-0.02, -0.02], "mm")).m <= 0  # an indicator reads both ways


def test_an_instrument_without_a_step_and_no_readings_come_in_one_message():
    with pytest.raises(
        ValueError, match=r"readings must hold 1 .* resolution must be greater than"
    ):
        reading_uncertainty(Q(83.5, "mm"), Q(0.0, "mm"))


def test_bare_temperatures_rises_and_sizes_below_zero_are_refused():
    for wrong, said in ((18, "the bare 18"), (Q(10, "delta_degC"), "10 Δ°C")):
        with pytest.raises(UnitError, match=f"temperature needs a unit like degC, got {said}"):
            reference_size(Q(83.5, "mm"), Q(11e-6, "1/K"), wrong)
    with pytest.raises(ValueError, match=r"size must be .*; expansion must be greater than zero"):
        reference_size(Q(-83.5, "mm"), Q(-11e-6, "1/K"), Q(18, "degC"))
