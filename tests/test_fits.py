"""Clearances of bearings, pistons, rods and crank, and the sizes to ask for."""

import math

import dask
import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import fits
from enginecalc.fits import (
    clearance_ratio,
    crank_end_play,
    oil_clearance,
    piston_clearance,
    rod_side_clearance,
    wanted_bore,
    wanted_journal,
)
from enginecalc.uncertainty import shifted, spread
from enginecalc.units import Q, UnitError
from tests.figures import WORKED, printed, worked

# --- against a source -------------------------------------------------------------------------

# journal, bearing, radial clearance, r/c, unit
BEARINGS = {
    "shigley8_solutions Problem 12-3": (3.000, 3.005, "0.0025", "600", "inch"),
    "shigley_si_solutions Problem 12-1": (25, 25.03, "0.015", "833.3", "mm"),
    "shigley_si_solutions Problem 12-2": (32, 32.05, "0.025", "640", "mm"),
}


@pytest.mark.parametrize("source", BEARINGS)
def test_bearing_of_the_textbook(source):
    journal, bearing, radial, ratio, unit = BEARINGS[source]
    clearance = oil_clearance(Q(bearing, unit), Q(journal, unit))
    assert clearance.m_as(unit) / 2 == printed(radial)
    assert float(clearance_ratio(Q(journal, unit), clearance)) == printed(ratio)


# [sharma_production] p. 376 and 379: hole and shaft from, to; least clearance, greatest. The
# greatest of Example 9.1 is not in the book: it follows from the same limits.
LIMITS = {
    "Example 9.1, p. 376": (37.50, 37.52, 37.45, 37.47, "0.03", "0.07"),
    "Example 9.5, p. 379": (30.000, 30.020, 29.982, 29.995, "0.005", "0.038"),
}


@pytest.mark.parametrize("example", LIMITS)
@pytest.mark.parametrize("clearance", [oil_clearance, piston_clearance])
def test_clearance_between_limits(example, clearance):
    small_hole, large_hole, small_shaft, large_shaft, least, greatest = LIMITS[example]
    holes, shafts = Q(np.array([small_hole, large_hole]), "mm"), Q([large_shaft, small_shaft], "mm")
    found = clearance(holes, shafts).m_as("mm")
    assert found[0] == printed(least)
    assert found[1] == printed(greatest)


def test_sharma_9_8_journal_and_bearing_by_hole_and_by_shaft():
    # [sharma_production] Example 9.8, p. 381: 100 mm, bearing tolerance 0.005, journal 0.004,
    # allowance 0.002. The companion prints 100.002 once where it means the journal's limit.
    basic, allowance = Q(100, "mm"), Q(0.002, "mm")
    upper = wanted_journal(basic, allowance)
    lower = upper - Q(0.004, "mm")
    assert upper.m_as("mm") == printed("99.998")
    assert lower.m_as("mm") == printed("99.994")
    assert (wanted_bore(basic, allowance) + Q(0.005, "mm")).m_as("mm") == printed("100.007")
    assert oil_clearance(Q(100.005, "mm"), lower).m_as("mm") == printed("0.011")


def test_two_tolerances_make_the_root_of_their_squares():
    # the limits of Example 9.1 read as standard uncertainties of 0.01 mm; 0.0141421 worked out
    sizes = {"bore": 37.51, "piston_diameter": 37.46}
    columns = shifted(sizes, dict.fromkeys(sizes, 0.01))
    found = spread(piston_clearance.kernel(**columns), tuple(sizes))
    assert_allclose([found.u, found.worst], [0.01 * math.sqrt(2), 0.02], rtol=1e-9)


# --- against the worked numbers of the invented engines ---------------------------------------


def inch(*sizes):
    return [Q(size, "inch") for size in sizes]


def v8(*names):
    """Return figures of the invented V8 in inches."""
    return inch(*(WORKED["inputs"]["v8"][f"{name}_in"] for name in names))


@pytest.mark.parametrize(
    ("part", "thou"),
    [
        ("rod_housing crank_pin rod_shell", 2.4),
        ("main_housing main_journal main_shell", 2.5),
    ],
)
def test_oil_clearance_of_the_v8(part, thou):
    housing, journal, shell = v8(*part.split())
    assert_allclose(oil_clearance(housing, journal, shell, shell).m_as("thou"), thou, rtol=1e-9)


def test_worked_mains():
    inputs = WORKED["inputs"]["select"]
    housings, journals = (
        Q(np.array(inputs[f"mains_{part}_in"]), "inch") for part in ("housings", "journals")
    )
    as_came = oil_clearance(housings, journals, *inch(0.0955, 0.0955)).m_as("inch")
    assert_allclose(as_came, WORKED["sel.mains_std"], atol=1e-12)
    upper, lower = Q(np.array(WORKED["sel.mains_upper_lower"]).T, "inch")
    chosen = oil_clearance(housings, journals, upper, lower).m_as("inch")
    assert_allclose(chosen, WORKED["sel.mains_best"], atol=1e-12)


def test_worked_piston_in_its_bore():
    read = WORKED["inputs"]["bore_readings"]
    bores = Q(np.array([*read["thrust_in"], *read["axial_in"]]), "inch")
    clearances = piston_clearance(bores, Q(read["piston_in"], "inch")).m_as("inch")
    assert clearances.min() == worked("fit.ptw_min")
    assert clearances.max() == worked("fit.ptw_max")


def test_worked_rods_on_a_pin():
    pin, rod = v8("crank_pin_width", "rod_width")
    assert rod_side_clearance(pin, rod, rod).m_as("inch") == worked("rod.side_clearance")
    assert_allclose(rod_side_clearance(pin, rod).m_as("inch"), 0.960, rtol=1e-12)


# --- against geometry and identities ----------------------------------------------------------


@pytest.mark.parametrize("unit", ["mm", "inch"])
def test_the_size_asked_for_gives_the_clearance_wanted(unit):
    shells = Q(2.3, unit), Q(2.4, unit)
    journal = wanted_journal(Q(65, unit), Q(0.06, unit), *shells)
    assert_allclose(oil_clearance(Q(65, unit), journal, *shells).m_as(unit), 0.06, rtol=1e-11)
    bore = wanted_bore(Q(83.4, unit), Q(0.05, unit))
    assert_allclose(piston_clearance(bore, Q(83.4, unit)).m_as(unit), 0.05, rtol=1e-11)


def test_a_thousandth_for_each_inch_is_a_ratio_of_a_thousand():
    for journal in inch(1.9, 2.2, 2.6):
        assert_allclose(float(clearance_ratio(journal, journal / 1000)), 1000, rtol=1e-12)


def test_end_play_of_a_drawing():
    assert_allclose(crank_end_play(Q(30.15, "mm"), Q(30, "mm")).m_as("mm"), 0.15, rtol=1e-11)


# --- behaviour --------------------------------------------------------------------------------

FORMULAS = [each for each in vars(fits).values() if hasattr(each, "kernel")]
IN_USE = """
    59 housing; 55.88 journal; 1.53 upper_shell; 1.52 lower_shell; 0.06 oil_clearance; 83.5 bore
    83.45 piston_diameter; 0.05 piston_clearance; 48 pin_width; 23.8 rod_width
    23.7 second_rod_width; 30.15 thrust_width; 30 thrust_bearing_width
"""
IN_USE = [entry.split() for entry in IN_USE.replace("\n", ";").split(";") if entry.strip()]
USUAL = {name: float(number) for number, name in IN_USE}


def named(formula):
    return formula.__name__


def usual(formula, **changed):
    return {name: Q((USUAL | changed)[name], "mm") for name in formula.takes}


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_inch_and_millimetre_give_the_same_answer(formula):
    inches = {name: size.to("inch") for name, size in usual(formula).items()}
    assert_allclose(formula(**inches).m, formula(**usual(formula)).m, rtol=1e-11)


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_an_array_gives_what_a_loop_gives_and_a_lazy_one_stays_lazy(formula):
    many = {name: size * np.array([1.0, 1.02, 1.05]) for name, size in usual(formula).items()}
    loop = [formula(**{name: sizes[i] for name, sizes in many.items()}).m for i in range(3)]
    assert_allclose(formula(**many).m, loop, rtol=1e-13)
    lazy = {name: da.from_array(sizes.m_as("m"), chunks=2) for name, sizes in many.items()}
    with dask.config.set(scheduler="sync"):
        assert_allclose(formula.kernel(**lazy).compute(), loop, rtol=1e-12)


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_every_bare_number_is_named(formula):
    bare = {name: USUAL[name] for name in formula.takes}
    with pytest.raises(UnitError) as refused:
        formula(**bare)
    for name, size in bare.items():
        assert f"{name} needs a unit like m, got the bare {size}" in str(refused.value)


# formula, what does not go in, what it says
SHELLS = "upper_shell + lower_shell"
TOO_LARGE = [
    (
        oil_clearance,
        {"journal": 55.96},
        f"journal + {SHELLS} must not exceed housing, got 59.01 mm against 59 mm. Are these",
    ),
    (
        wanted_journal,
        {"upper_shell": 57.42},
        f"{SHELLS} + oil_clearance must be less than housing, got 59 mm against 59 mm. No",
    ),
    (
        piston_clearance,
        {"bore": 83.44},
        "piston_diameter must be less than bore, got 83.45 mm against 83.44 mm. Swapped?",
    ),
    (
        piston_clearance,
        {"bore": 83.45},
        "piston_diameter must be less than bore, got 83.45 mm against 83.45 mm. Swapped?",
    ),
    (
        rod_side_clearance,
        {"rod_width": 24.4},
        "rod_width + second_rod_width must not exceed pin_width, got 48.1 mm against 48 mm. The",
    ),
    (
        crank_end_play,
        {"thrust_width": 29.9},
        "thrust_bearing_width must not exceed thrust_width, got 30 mm against 29.9 mm. The",
    ),
]


@pytest.mark.parametrize(("formula", "changed", "sentence"), TOO_LARGE)
def test_what_does_not_go_in_is_refused_and_the_kernel_says_by_how_much(formula, changed, sentence):
    wrong = usual(formula, **changed)
    with pytest.raises(ValueError) as refused:  # noqa: PT011 (the whole sentence is below)
        formula(**wrong)
    assert str(refused.value).startswith(f"{formula.__name__}: {sentence}")
    assert formula.kernel(**{name: size.m_as("m") for name, size in wrong.items()}) < 1e-12


def test_one_wrong_pair_of_many_is_named():
    with pytest.raises(ValueError, match=r"got 83\.52 mm against 83\.5 mm"):
        piston_clearance(Q([83.5, 83.5, 83.5], "mm"), Q([83.45, 83.52, 83.44], "mm"))


def test_equal_sizes_in_two_units_are_equal():
    assert abs(oil_clearance(Q(2.2, "inch"), Q(55.88, "mm")).m_as("mm")) < 1e-9
    for size in np.arange(3800, 4300) / 1000:  # of some the inches come out a last bit larger
        with pytest.raises(ValueError, match="must be less than bore"):
            piston_clearance(Q(size, "inch"), Q(round(size * 25.4, 4), "mm"))


@pytest.mark.parametrize("size", [-1.5, 0.0, np.nan, np.inf])
@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_sizes_that_cannot_be_are_refused(formula, size):
    for name in formula.takes:
        if size == 0 and name in ("upper_shell", "lower_shell", "second_rod_width"):
            formula(**usual(formula, **{name: size}))  # not there
            continue
        with pytest.raises(ValueError, match=f"{name} must be (greater than zero|finite)"):
            formula(**usual(formula, **{name: size}))
