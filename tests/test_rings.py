"""Ring gaps cold and hot, what to file off, and the ring's play in its groove."""

import dask
import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import rings
from enginecalc.rings import (
    butting_rise,
    hot_ring_gap,
    ring_filing,
    ring_gap_change,
    ring_side_clearance,
    wanted_ring_gap,
)
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, worked


def inch(size):
    return Q(size, "inch")


def rise(degrees, unit="delta_degC"):
    return Q(degrees, unit)


# --- against a source -------------------------------------------------------------------------


def test_a_polymer_ring_grows_as_the_forum_worked_out():
    # [ring_forum_thread], a weak authority: 30.101 in along the ring, 8.9e-5 per degF, 230 degF
    # warmer: 0.616 in. The bore stays as it is; the gap of 0.136 in is long gone.
    gap, bore = inch(0.136), inch(30.101 / np.pi)
    polymer, warmed = Q(8.9e-5, "1/delta_degF"), rise(230, "delta_degF")
    still = {"bore_expansion": Q(6.3e-6, "1/delta_degF"), "bore_rise": rise(0.0, "delta_degF")}
    hot = hot_ring_gap(gap, bore, **still, ring_expansion=polymer, ring_rise=warmed)
    assert (gap - hot).m_as("inch") == printed("0.616")
    butts = butting_rise(gap, bore, **still, ring_expansion=polymer).m_as("delta_degF")
    assert_allclose(butts, 0.136 / (30.101 * 8.9e-5), rtol=1e-12)
    # worked out beside it: an iron ring, 6.3e-6 per degF, takes a fourteenth of that
    iron = still["bore_expansion"]
    hot = hot_ring_gap(gap, bore, **still, ring_expansion=iron, ring_rise=warmed)
    assert (gap - hot).m_as("inch") == printed("0.04361635")


def test_a_ring_moved_to_a_larger_bore():
    # [geometry] from 4.000 to 4.005 in, derived and not published: pi x 0.005 in
    assert ring_gap_change(inch(4.005) - inch(4.000)).m_as("inch") == printed("0.0157080")


# --- against the worked numbers of the invented engines ---------------------------------------

RING = WORKED["inputs"]["ring_gap"]
TOP, SECOND = RING["top_factor"], RING["second_factor"]


@pytest.mark.parametrize(
    ("key", "bore", "factor"),
    [
        ("ring.top_cold", inch(4.110), TOP),
        ("ring.second_cold", inch(4.110), SECOND),
        ("plan.v8.gap_top", inch(4.110), TOP),
        ("plan.v8.gap_second", inch(4.110), SECOND),
        ("plan.i4.gap_top", Q(83.5, "mm"), TOP),
        ("plan.i4.gap_second", Q(83.5, "mm"), SECOND),
    ],
)
def test_worked_gap(key, bore, factor):
    assert wanted_ring_gap(bore, factor).m_as(bore.units) == worked(key)


def test_worked_gap_for_a_thousandth_of_bore():
    assert ring_gap_change(inch(0.001)).m_as("inch") == worked("ring.gap_per_001_bore")


def test_worked_hot_gap():
    gap, bore = inch(RING["cold_in"]), inch(RING["bore_in"])
    of_block, of_ring = (Q(RING[f"alpha_{part}_per_C"], "1/K") for part in ("block", "ring"))
    block = of_block, rise(RING["bore_rise_C"])
    hot = hot_ring_gap(gap, bore, *block, of_ring, rise(RING["ring_rise_C"]))
    assert hot.m_as("inch") == worked("ring.top_hot_180C_ring_90C_rise_bore")
    butts = butting_rise(gap, bore, *block, of_ring)
    assert butts.m_as("delta_degC") == worked("ring.butt_rise_C")


# --- against geometry and identities ----------------------------------------------------------


def circumference(diameter, sides=200_000):
    """Return the sum of a many-sided figure's sides."""
    turn = np.linspace(0, 2 * np.pi, sides + 1)
    corners = diameter / 2 * np.array([np.cos(turn), np.sin(turn)])
    return np.hypot(*np.diff(corners)).sum()


@pytest.mark.parametrize("grown", [-0.003, 0.001, 0.02, 0.4])
def test_the_gap_changes_by_what_the_bore_has_more_of_round(grown):
    more = circumference(4.11 + grown) - circumference(4.11)  # the ring keeps its length
    assert_allclose(ring_gap_change(inch(grown)).m_as("inch"), more, rtol=1e-8)


def test_hot_gap_is_what_a_warm_circle_has_more_than_a_warm_ring():
    # an iron ring in a bore of bare aluminium: both lengths warmed, then one less the other
    gap, bore, ring = 0.45, 83.5, circumference(83.5) - 0.45
    hot_bore, hot_ring = circumference(bore * (1 + 23e-6 * 90)), ring * (1 + 11e-6 * 180)
    found = hot_ring_gap(
        *(Q(gap, "mm"), Q(bore, "mm"), Q(23e-6, "1/K"), rise(90), Q(11e-6, "1/K"), rise(180))
    ).m_as("mm")
    assert_allclose(found, hot_bore - hot_ring, atol=1e-3)
    assert found < hot_bore - hot_ring  # to the tight side


@pytest.mark.parametrize("bore_rise", [0.0, 60.0, 90.0])
def test_at_the_butting_rise_nothing_is_left_of_the_gap(bore_rise):
    cold = Q(0.38, "mm"), Q(83.5, "mm"), Q(12e-6, "1/K"), rise(bore_rise), Q(11e-6, "1/K")
    butts = butting_rise(*cold)
    assert_allclose(hot_ring_gap(*cold, butts).m_as("mm"), 0, atol=1e-14)
    assert hot_ring_gap(*cold, butts + rise(1)).m < 0 < hot_ring_gap(*cold, butts - rise(1)).m


def test_a_filed_ring_has_the_gap_wanted():
    wanted, found = wanted_ring_gap(Q(83.5, "mm"), 0.0045), Q(0.24, "mm")
    off = ring_filing(wanted, found)
    assert_allclose((found + off).m_as("mm"), 0.37575, rtol=1e-12)
    assert ring_filing(wanted, wanted).m == 0
    assert_allclose(ring_filing(wanted, Q(0.0, "mm")).m_as("mm"), 0.37575, rtol=1e-12)


def test_a_ring_of_1_2_mm_in_a_groove_of_1_25():
    clearance = ring_side_clearance(Q(1.25, "mm"), Q(1.2, "mm"))
    assert_allclose(clearance.m_as("mm"), 0.05, rtol=1e-12)


# --- behaviour --------------------------------------------------------------------------------

FORMULAS = [f for f in vars(rings).values() if getattr(f, "__module__", "") == rings.__name__]
FORMULAS = [f for f in FORMULAS if hasattr(f, "kernel")]
USUAL = {
    "bore": Q(83.5, "mm"),
    "gap_factor": Q(0.0045, "1"),
    "bore_change": Q(0.02, "mm"),
    "wanted_gap": Q(0.4, "mm"),
    "ring_end_gap": Q(0.3, "mm"),
    "bore_expansion": Q(11e-6, "1/K"),
    "ring_expansion": Q(12e-6, "1/K"),
    "bore_rise": rise(90.0),
    "ring_rise": rise(180.0),
    "groove_width": Q(1.25, "mm"),
    "ring_width": Q(1.2, "mm"),
}
IN_INCHES = {"m": "inch", "1/K": "1/delta_degF", "delta_degC": "delta_degF", "1": "1"}


def named(formula):
    return formula.__name__


def usual(formula, **changed):
    return {name: (USUAL | changed)[name] for name in formula.takes}


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_inch_and_fahrenheit_give_the_same_answer(formula):
    inches = {name: usual(formula)[name].to(IN_INCHES[u]) for name, u in formula.takes.items()}
    assert_allclose(formula(**inches).m, formula(**usual(formula)).m, rtol=1e-11)


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_an_array_gives_what_a_loop_gives_and_a_lazy_one_stays_lazy(formula):
    many = {name: value * np.array([1.0, 1.02, 1.05]) for name, value in usual(formula).items()}
    loop = [formula(**{name: values[i] for name, values in many.items()}).m for i in range(3)]
    assert_allclose(formula(**many).m, loop, rtol=1e-13)
    plain = {name: many[name].m_as(unit) for name, unit in formula.takes.items()}
    lazy = {name: da.from_array(values, chunks=2) for name, values in plain.items()}
    with dask.config.set(scheduler="sync"):
        assert_allclose(formula.kernel(**lazy).compute(), loop, rtol=1e-12)


def test_a_ring_gap_that_is_too_wide_is_not_filed():
    with pytest.raises(
        ValueError,
        match=r"^ring_filing: ring_end_gap must not exceed wanted_gap, got 0\.48 mm against 0\.47"
        r" mm\. The gap is too wide already: file nothing, take another ring\.$",
    ):
        ring_filing(Q(0.47, "mm"), Q(0.48, "mm"))


def test_a_ring_wider_than_its_groove_is_refused():
    with pytest.raises(ValueError, match=r"ring_width must not exceed groove_width, got 1\.27 mm "):
        ring_side_clearance(Q(1.25, "mm"), Q([1.2, 1.27], "mm"))
    assert ring_side_clearance.kernel(0.00125, 0.00127) < 0


def test_a_temperature_is_not_a_rise():
    # a ring at 200 degC is 180 warmer than the shop: only the rise may enter
    with pytest.raises(UnitError, match="ring_rise needs a unit like delta_degC, got 200 °C"):
        hot_ring_gap(**usual(hot_ring_gap, ring_rise=Q(200.0, "degC")))


@pytest.mark.parametrize("size", [-1.5, 0.0, np.nan])
@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_sizes_that_cannot_be_are_refused(formula, size):
    allowed = {"bore_change", "bore_rise", "ring_rise"}  # these may have either sign
    for name in formula.takes.keys() - allowed:
        wrong = usual(formula, **{name: Q(size, USUAL[name].units)})
        if (size, name, formula) == (0.0, "ring_end_gap", ring_filing):
            continue  # ends that touch can be filed
        with pytest.raises(ValueError, match=f"{name} must be greater than zero"):
            formula(**wrong)
