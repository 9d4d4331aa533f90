"""The steps in symbols against the formulas in numbers, and where two terms fail."""

import re
import sys

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import crank
from enginecalc.views import derivation, two_terms
from tests.figures import random_cranks

sp = pytest.importorskip("sympy")
NAMES = ("position", "velocity", "acceleration")


@pytest.fixture(scope="module")
def made():
    return derivation.formulas()


# --- against a source ---------------------------------------------------------------------------


def test_the_series_are_those_of_the_books(made):
    x = sp.Symbol("x", real=True)
    known = {
        1: 1,
        2: x + x**3 / 4 + 15 * x**5 / 128 + 35 * x**7 / 512,
        4: -(x**3 / 4 + 3 * x**5 / 16 + 35 * x**7 / 256),
        6: 9 * x**5 / 128 + 45 * x**7 / 512,
    }
    for order, series in known.items():
        assert sp.expand(made["orders"][order] - series) == 0


# --- against geometry and identities ------------------------------------------------------------


def test_symbols_and_kernels_give_the_same_motion(made):
    strokes, rods, offsets = random_cranks(40, seed=3)
    angles, speed = np.linspace(0.1, 6.2, 40), 512.0
    kernels = crank.motion(angles, strokes, rods, speed, offsets)
    names = ("t", "r", "L", "e", "omega")
    for name, exact in zip(NAMES, kernels, strict=True):
        symbols = [sp.Symbol(each, real=True) for each in names]
        worked_out = sp.lambdify(symbols, made[name])(angles, strokes / 2, rods, offsets, speed)
        assert_allclose(worked_out, exact, rtol=1e-9, atol=1e-12 * np.max(abs(exact)))


def test_the_series_end_where_the_projection_says(made):
    x = sp.Symbol("x", real=True)
    radius_over_rod = 0.3
    exact = crank.acceleration_harmonics.kernel(2 * radius_over_rod, 1.0)
    series = [float(made["orders"][order].subs(x, radius_over_rod)) for order in (2, 4, 6)]
    assert_allclose(series, exact[1:], atol=4e-5)  # the next terms are of the ninth power


# --- behaviour ----------------------------------------------------------------------------------


def test_the_steps_are_shown_as_formulas():
    shown = derivation.step_by_step()._repr_markdown_()
    assert shown.count("$$") % 2 == 0
    assert r"A_2 = x + \frac{x^{3}}{4} + \frac{15 x^{5}}{128}" in shown
    assert [f"**{at}. " in shown for at in (1, 2, 3, 4)] == [True] * 4


def test_without_sympy_one_sentence_says_so(monkeypatch):
    monkeypatch.setitem(sys.modules, "sympy", None)
    said = derivation.step_by_step()
    assert "not installed" in said
    assert "\n" not in said


def rows(title):
    """Return the rows of one of the tables, by their first cell."""
    part = two_terms.two_term_failures().partition(f"**{title}")[2].partition("**\n\n")[2]
    lines = part.partition("\n\n")[0].splitlines()[2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return {first: rest for first, *rest in cells}


@pytest.mark.parametrize("ratio", [2.5, 3.3, 4.0])
def test_two_terms_are_right_at_the_dead_centers_and_wrong_between(ratio):
    motion = rows(f"L/r {ratio:g},")
    assert motion["180°"][:2] in (["0.0000", "0.0000"], ["-0.0000", "-0.0000"])
    assert motion["180°"][2:] == [f"{1 / ratio - 1:.4f}"] * 2
    # at 90 degrees exactly -r w^2 / sqrt((L/r)^2 - 1), by two terms -r w^2 / (L/r)
    assert motion["90°"][2:] == [f"{-1 / np.sqrt(ratio**2 - 1):.4f}", f"{-1 / ratio:.4f}"]


def test_two_terms_put_the_peak_too_late():
    places = rows("where the piston is fastest")
    assert [*places] == ["2.5", "3.3", "3.9", "4"]
    for ratio, (exact, usual, off) in places.items():
        # the exact peak by a plain search of the exact speed
        fine = np.radians(np.arange(60, 90, 0.001))
        speed = crank.piston_velocity.kernel(fine, 2.0, float(ratio), 1.0)
        assert_allclose(float(exact.strip("°")), np.degrees(fine[speed.argmax()]), atol=0.006)
        late = float(usual.strip("°")) - float(exact.strip("°"))
        assert late > 0.2
        assert float(off.strip("°+")) == pytest.approx(late, abs=0.011)


def test_two_terms_draw_a_dent_that_is_not_there():
    places = rows("how hard it is turned round at the bottom")
    at = {ratio: [float(re.search(r"at (\S+)°", cell)[1]) for cell in cells[1:]]
          for ratio, cells in places.items()}  # fmt: skip
    assert at["3.9"][0] == 180.0, "no dent"
    assert at["3.9"][1] < 175, "two terms draw one"
    assert max(at["3.3"]) < 150, "here there is one"
    assert at["4"] == [180.0, 180.0]
