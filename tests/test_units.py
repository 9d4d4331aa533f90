"""Quantities at the door of the formulas, one registry, and what a person types."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from enginecalc.crank import (
    mean_piston_speed,
    piston_position,
    piston_velocity,
    rod_length_for,
    rod_ratio,
)
from enginecalc.cylinder import swept_volume
from enginecalc.forces import thermal_growth
from enginecalc.units import Q, UnitError, quantities, read, read_typed, size_in, to_si, ureg
from tests.figures import printed

CRANK = {"stroke": Q(86, "mm"), "rod_length": Q(143, "mm")}

# --- against a source -------------------------------------------------------------------------

# [wikibooks_statics] Engineering Statics, appendix "Conversion Factors", to SI (cubic inch in cm3)
WIKIBOOKS = [
    ("in³", "cm**3", "16.387"),
    ("lb·ft", "N*m", "1.3558"),
    ("lb·in", "N*m", "0.11298"),
    ("lbf", "N", "4.4482"),
    ("psi", "Pa", "6894.8"),
    ("lb", "kg", "0.45359"),
]


@pytest.mark.parametrize(("typed", "unit", "factor"), WIKIBOOKS)
def test_typed_unit_has_the_textbook_factor(typed, unit, factor):
    assert read(f"1 {typed}").m_as(unit) == printed(factor)


def test_horsepower_has_the_textbook_factor():
    assert Q(1, "horsepower").m_as("W") == printed("745.70")  # [wikibooks_statics], same table


@pytest.mark.parametrize(
    ("typed", "half_width_over_root_3"),
    [("9.170 ± 0.002 in", 0.0011547005), ("4.110 +0.001/-0.000 in", 0.00028867513)],
)
def test_limits_give_the_standard_uncertainty_of_the_guide(typed, half_width_over_root_3):
    # [gum] 4.3.7: a rectangular distribution of half width a has the variance a^2 / 3
    u = read_typed(typed).standard_uncertainty
    assert_allclose(u.m_as("inch"), half_width_over_root_3, rtol=1e-7)


# --- against geometry and identities ----------------------------------------------------------


def test_mean_speed_counts_turns_not_radians():
    # 86 mm at 6000 turns a minute: two strokes in each hundredth of a second.
    assert_allclose(mean_piston_speed(Q(86, "mm"), Q(6000, "rpm")).m_as("m/s"), 17.2, rtol=1e-12)


def test_two_strokes_times_rpm_in_pint_is_wrong_by_a_turn_in_radians():
    trap = (2 * Q(86, "mm") * Q(6000, "rpm")).m_as("m/s")
    assert_allclose(trap / 17.2, 2 * np.pi, rtol=1e-12)


@pytest.mark.parametrize("speed", [Q(100, "turn/s"), Q(36000, "deg/s"), Q(628.318531, "rad/s")])
def test_every_unit_that_says_what_turns_gives_one_speed(speed):
    assert_allclose(mean_piston_speed(Q(86, "mm"), speed).m_as("m/s"), 17.2, rtol=1e-8)


@pytest.mark.parametrize("angle", [Q(60, "deg"), Q(1 / 6, "turn"), Q(np.pi / 3, "rad")])
def test_every_angle_unit_gives_one_position(angle):
    sixty = piston_position.kernel(np.pi / 3, 0.086, 0.143)
    assert_allclose(piston_position(angle, **CRANK).m_as("m"), sixty, rtol=1e-14)


PLAIN = [("mm", "mm"), ("in", "inch"), ("cc", "cm**3"), ("deg", "deg"), ("N·m", "N*m"), ("g", "g")]


@settings(max_examples=150, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(PLAIN), st.booleans())
def test_a_number_written_out_is_read_back(number, unit, spaced):
    typed, name = unit
    assert read(f"{number!r}{' ' * spaced}{typed}") == Q(number, name)


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 999), st.integers(0, 99), st.integers(1, 63))
def test_grouping_decimal_comma_and_fractions_are_read_back(thousands, hundredths, sixtyfourths):
    grouped = f"{thousands},123.{hundredths:02d} mm"
    assert read(grouped).m_as("mm") == float(f"{thousands}123.{hundredths:02d}")
    comma, point = (f"{thousands}{mark}{hundredths:02d}" for mark in ",.")
    assert read(f"{comma}mm").m_as("mm") == float(point)
    assert read(f"{thousands} {sixtyfourths}/64 in").m_as("inch") == thousands + sixtyfourths / 64


# --- behaviour: quantities in, quantities out -------------------------------------------------


def test_a_bare_number_is_refused_by_name():
    with pytest.raises(
        UnitError,
        match=r"^mean_piston_speed: stroke needs a unit like m, got the bare 86\."
        r" Write Q\(number, 'unit'\)\.$",
    ):
        mean_piston_speed(86, Q(6000, "rpm"))


def test_a_wrong_dimension_is_refused_by_name():
    with pytest.raises(UnitError, match=r"^rod_ratio: rod_length needs a unit like m, got 600 g\."):
        rod_ratio(Q(86, "mm"), Q(600, "g"))


def test_all_wrong_arguments_come_in_one_message():
    with pytest.raises(
        UnitError,
        match=r"^piston_velocity: crank_angle needs a unit like rad, got the bare 40;"
        r" stroke needs a unit like m, got 86 kg; engine_speed needs a unit like rad/s, got 100 Hz;"
        r" pin_offset needs a unit like m, got the bare '2 mm'\. Write",
    ):
        piston_velocity(40, Q(86, "kg"), Q(143, "mm"), Q(100, "Hz"), pin_offset="2 mm")


@pytest.mark.parametrize("unit", ["Hz", "1/min", "1/s", "", "rad", "m/s"])
def test_a_speed_must_say_what_turns(unit):
    with pytest.raises(UnitError, match=r"engine_speed needs a unit like rad/s, got 6000"):
        mean_piston_speed(Q(86, "mm"), Q(6000, unit))


@pytest.mark.parametrize("unit", ["Hz", "1/min", "", "rpm", "mm"])
def test_an_angle_must_be_an_angle(unit):
    with pytest.raises(UnitError, match=r"crank_angle needs a unit like rad, got 40"):
        piston_position(Q(40, unit), **CRANK)


@pytest.mark.parametrize("ratio", [1.75, Q(1.75, ""), Q(175, "percent"), np.float64(1.75)])
def test_a_ratio_may_come_bare(ratio):
    assert_allclose(rod_length_for(Q(80, "mm"), ratio).m_as("mm"), 140, rtol=1e-14)


@pytest.mark.parametrize("ratio", ["1.75", Q(1.75, "mm"), Q(1.75, "deg")])
def test_a_ratio_with_a_unit_or_as_text_is_refused(ratio):
    with pytest.raises(UnitError, match=r"rod_ratio needs a unit like 1, got"):
        rod_length_for(Q(80, "mm"), ratio)


def test_a_ratio_comes_out_as_a_number():
    assert float(rod_ratio(Q(80, "mm"), Q(140, "mm"))) == pytest.approx(1.75, rel=1e-14)


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_a_rise_is_not_a_reading(unit):
    with pytest.raises(UnitError, match=r"temperature_rise needs a unit like delta_degC, got 70 °"):
        thermal_growth(Q(2, "m"), Q(12e-6, "1/K"), Q(70, unit))


@pytest.mark.parametrize("rise", [Q(70, "delta_degC"), Q(70, "K"), Q(126, "delta_degF")])
def test_a_rise_comes_in_any_size_of_degree(rise):
    assert_allclose(thermal_growth(Q(2, "m"), Q(12e-6, "1/K"), rise).m_as("mm"), 1.68, rtol=1e-12)


@pytest.mark.parametrize(
    ("quantity", "unit"),
    [
        (Q(3.25, "inch"), "mm"),
        (Q(82.55, "mm"), "inch"),
        (Q([1.0, 2.0], "lbf*ft"), "N*m"),
        (Q(68.0, "degF"), "degC"),
        (Q(20.0, "degC"), "degC"),
        (Q(5200, "rpm"), "rad/s"),
        (Q(1.75, ""), ""),
    ],
)
def test_learnt_factors_convert_as_pint_does(quantity, unit):
    for _ in range(2):  # as learnt, and as known
        assert_allclose(size_in(quantity, ureg.Unit(unit)), quantity.m_as(unit), rtol=1e-14)
        assert_allclose(to_si(quantity), quantity.to_base_units().m, rtol=1e-14)


def test_a_size_in_a_unit_of_another_kind_is_refused():
    with pytest.raises(pint.DimensionalityError):
        size_in(Q(3, "inch"), ureg.Unit("deg"))


def test_defaults_and_keywords():
    angle, none = Q(40, "deg"), Q(0, "mm")  # 0: no offset is the default
    plain = piston_position(angle, Q(86, "mm"), Q(143, "mm"))
    assert plain == piston_position(angle, pin_offset=none, **CRANK)
    assert plain != piston_position(angle, pin_offset=Q(2, "mm"), **CRANK)


def test_a_wrong_call_gives_pythons_own_error():
    with pytest.raises(TypeError, match=r"unexpected keyword argument 'rod'"):
        piston_position(Q(40, "deg"), **CRANK, rod=Q(143, "mm"))
    with pytest.raises(TypeError, match=r"too many positional arguments"):
        rod_ratio(Q(86, "mm"), Q(143, "mm"), Q(2, "mm"))
    with pytest.raises(TypeError, match=r"rod_ratio\(\) missing .* argument: 'rod_length'"):
        rod_ratio(Q(86, "mm"))


@pytest.mark.parametrize(
    ("args", "kwargs"), [(("stroke",), {}), (("stroke", "rod_length"), {"stroke": CRANK["stroke"]})]
)
def test_a_wrong_call_never_names_the_refusal(args, kwargs):
    with pytest.raises(TypeError, match=r"missing|multiple values") as caught:
        piston_position(Q(40, "deg"), *(CRANK[name] for name in args), **kwargs)
    assert "must_turn" not in str(caught.value)


def test_a_decorator_that_names_no_parameter_is_refused():
    with pytest.raises(TypeError, match=r"area has no parameter \['side'\]"):

        @quantities(returns="m**2", side="m")
        def area(length, width):
            return length * width


def test_the_kernel_and_its_units_stay_reachable():
    assert swept_volume.takes == {"bore": "m", "stroke": "m"}
    assert swept_volume.returns == "m**3"
    assert_allclose(swept_volume.kernel(0.08, 0.09), 0.36e-3 * np.pi * 0.4, rtol=1e-14)


@pytest.mark.parametrize("bad", [-80, 0, float("nan")], ids=["negative", "zero", "nan"])
def test_what_must_be_above_zero_is_refused_by_name(bad):
    with pytest.raises(ValueError, match=r"^swept_volume: bore must be greater than zero, got "):
        swept_volume(Q([70, bad, 75], "mm"), Q(90, "mm"))


def test_what_must_be_above_zero_is_shown_with_its_unit():
    with pytest.raises(ValueError, match=r"got -(80|0\.08) ?m"):
        swept_volume(Q(-80, "mm"), Q(90, "mm"))


# --- behaviour: one registry ------------------------------------------------------------------


def run_alone(code, **environment):
    """Run a few lines in a fresh Python and return what they print."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        env=os.environ | environment,
        cwd=Path(__file__).parents[1],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_the_registry_is_the_application_registry():
    assert pint.application_registry.get() is ureg
    bare = pint.Quantity  # what another package would use
    assert float(rod_ratio(bare(80, "mm"), bare(140, "mm"))) == pytest.approx(1.75, rel=1e-14)


def test_a_registry_already_set_is_reused():
    code = """
import pint
theirs = pint.UnitRegistry()
theirs.define("hand = 4 * inch")
pint.set_application_registry(theirs)
from enginecalc.units import Q, ureg
print(ureg is theirs, Q(3.0, "hand").m_as("inch"))
"""
    assert run_alone(code) == ["True", "12.0"]


def test_a_cache_folder_that_cannot_be_written_does_not_stop_the_import(tmp_path):
    (tmp_path / "file").write_text("a file where a folder is wanted")
    home = str(tmp_path / "file")
    code = "from enginecalc.units import Q; print(round(Q(1, 'inch').m_as('mm'), 9))"
    assert run_alone(code, XDG_CACHE_HOME=home, HOME=home, LOCALAPPDATA=home) == ["25.4"]


# --- behaviour: typed text --------------------------------------------------------------------

# Two of each unit in SI, worked out by hand: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g = 9.80665.
ALIASES = {
    ("in", "inch", "inches", '"', "”", "″", "IN"): (0.0508, "m"),
    ("thou",): (50.8e-6, "m"),
    ("mm", "MM"): (0.002, "m"),
    ("cm",): (0.02, "m"),
    ("m",): (2, "m"),
    ("µm", "μm", "um"): (2e-6, "m"),
    ("cc", "cm³", "cm3", "cm^3", "ccm", "ml"): (2e-6, "m**3"),
    ("mm³",): (2e-9, "m**3"),
    ("in³", "in3", "in^3", "in**3", "cu in", "cuin"): (32.774128e-6, "m**3"),
    ("l", "L", "litre", "liter"): (0.002, "m**3"),
    ("in²", "sq in"): (12.9032e-4, "m**2"),
    ("mm²", "mm^2"): (2e-6, "m**2"),
    ("cm²",): (2e-4, "m**2"),
    ("deg", "degree", "degrees", "°"): (0.034906585040, "rad"),
    ("rpm", "RPM", "rev/min", "r/min"): (0.20943951024, "rad/s"),
    ("g",): (0.002, "kg"),
    ("kg",): (2, "kg"),
    ("oz",): (0.05669904625, "kg"),
    ("lb", "lbs"): (0.90718474, "kg"),
    ("N·m", "N⋅m", "N*m", "N m", "N-m", "Nm"): (2, "N*m"),
    ("lbf·ft", "ft·lbf", "lb-ft", "ft lb", "ft-lbs"): (2.7116358966, "N*m"),
    ("lbf·in", "in·lbf", "lb-in", "in lb", "in-lbs"): (0.22596965805, "N*m"),
    ("kgf·m",): (19.6133, "N*m"),
    ("N",): (2, "N"),
    ("kN",): (2000, "N"),
    ("lbf",): (8.8964432305, "N"),
    ("psi",): (13789.514586, "Pa"),
    ("ksi",): (13789514.586, "Pa"),
    ("bar",): (2e5, "Pa"),
    ("kPa",): (2e3, "Pa"),
    ("MPa", "N/mm²"): (2e6, "Pa"),
    ("GPa",): (2e9, "Pa"),
    ("°C", "degC"): (275.15, "kelvin"),
    ("°F", "degF"): (256.483333333, "kelvin"),
}
EVERY_ALIAS = [(alias, *si) for aliases, si in ALIASES.items() for alias in aliases]


@pytest.mark.parametrize(("alias", "si", "unit"), EVERY_ALIAS)
def test_every_alias_is_read_with_and_without_a_space(alias, si, unit):
    for text in (f"2 {alias}", f"2{alias}", f" 2.0\u00a0{alias} "):
        assert_allclose(read(text).m_as(unit), si, rtol=1e-10)


NUMBERS = [
    ("3 7/8 in", 3.875, "inch"),
    ("3\u00a07/8in", 3.875, "inch"),
    ("-3 7/8 in", -3.875, "inch"),
    ('1/16"', 0.0625, "inch"),
    ("−0.020 in", -0.020, "inch"),
    ("– 5.5 cc", -5.5, "cm**3"),
    ("+5.5 cc", 5.5, "cm**3"),
    (".5 in", 0.5, "inch"),
    ("1.5e-3 m", 1.5, "mm"),
    ("86,5 mm", 86.5, "mm"),
    ("86,50mm", 86.5, "mm"),
    ("0,110 in", 0.110, "inch"),
    ("00,110 in", 0.110, "inch"),
    (",110 in", 0.110, "inch"),
    ("4,1100 in", 4.110, "inch"),
    ("1234,567 mm", 1234.567, "mm"),
    ("1,234.5 mm", 1234.5, "mm"),
    ("1.234,5 mm", 1234.5, "mm"),
    ("1,234,567 psi", 1234567, "psi"),
    ("12.345 mm", 12.345, "mm"),
]


@pytest.mark.parametrize(("text", "number", "unit"), NUMBERS)
def test_number_is_read(text, number, unit):
    assert_allclose(read(text).m_as(unit), number, rtol=1e-14)


TOLERANCES = [
    ("9.170 ± 0.002 in", 9.170, 0.002, 0.002),
    ("9.170 in ± 0.002", 9.170, 0.002, 0.002),
    ("9.170 in ± 2 thou", 9.170, 0.002, 0.002),
    ("9.170in±0.0508mm", 9.170, 0.002, 0.002),
    ("9.170 +/- 0.002 in", 9.170, 0.002, 0.002),
    ("4.110 +0.001/-0.003 in", 4.110, 0.001, 0.003),
    ("4.110 in +0.001/−0.003", 4.110, 0.001, 0.003),
    ("3 7/8 in ± 1/64 in", 3.875, 0.015625, 0.015625),
    ("9,17 ± 0,002 in", 9.17, 0.002, 0.002),
]


@pytest.mark.parametrize(("text", "middle", "plus", "minus"), TOLERANCES)
def test_tolerance_is_read_either_side(text, middle, plus, minus):
    typed = read_typed(text, "length")
    inches = [each.m_as("inch") for each in (typed.value, typed.plus, typed.minus)]
    assert_allclose(inches, [middle, plus, minus], rtol=1e-13)
    assert typed.text == text


def test_without_limits_there_is_no_uncertainty():
    typed = read_typed("9.170 in")
    assert (typed.plus, typed.minus, typed.standard_uncertainty) == (None, None, None)


TWO_WAYS = "can be read as {0}.{1} {2} or as {0}{1} {2}; write {0}.{1} {2} or {0}{1} {2}$"
LIKE = '; write it like "83.5 mm"$'
REFUSED = [
    ("6,200 rpm", TWO_WAYS.format(6, 200, "rpm")),
    ("4,110 in", TWO_WAYS.format(4, 110, "in")),
    ("100,000 psi", TWO_WAYS.format(100, "000", "psi")),
    ("1.2.3 mm", "has its points and commas mixed; write one decimal point$"),
    ("12,34,5 mm", "has its points and commas mixed; write one decimal point$"),
    ("", "^nothing was typed" + LIKE),
    (" \t", "^nothing was typed" + LIKE),
    ("83.5", "^83.5 has no unit" + LIKE),
    (83.5, "^83.5 has no unit" + LIKE),
    (None, "^None has no unit" + LIKE),
    ("six mm", '^"six mm" is not a number with a unit' + LIKE),
    ("mm", '^"mm" is not a number with a unit' + LIKE),
    ("nan mm", '^"nan mm" is not a number with a unit' + LIKE),
    ("inf mm", '^"inf mm" is not a number with a unit' + LIKE),
    ("9.170 ± nan in", "is not a number with a unit" + LIKE),
    ("1e400 mm", '^"1e400 mm" is too large to be meant' + LIKE),
    ("1/0 in", '^"1/0 in" divides by zero' + LIKE),
    ("83.5 furlong", '^"83.5 furlong": furlong is not a unit known here' + LIKE),
    ("100 Hz", "hz is not a unit known here"),
    ("6000 1/min", "1/min is not a unit known here"),
    ("2*3 mm", r"\*3 mm is not a unit known here"),
    ("2**3 mm", "is not a unit known here"),
    ("5 mm + 3 mm", "is not a unit known here"),
    ("__import__('os').abort() mm", "is not a number with a unit" + LIKE),
    ("86 mm ± 0.5 deg", "^86 mm ± 0.5 deg mixes units of different kinds" + LIKE),
    ("9.170 ± -0.002 in", 'has a negative tolerance; write it like "9.170 ± 0.002 in"$'),
]


@pytest.mark.parametrize(("text", "sentence"), REFUSED)
def test_what_cannot_be_read_is_refused_in_one_sentence(text, sentence):
    with pytest.raises(ValueError, match=sentence):
        read(text)


WRONG_KIND = [
    ("83.5 deg", "length", r'^83\.5 deg is not a length; write it like "83\.5 mm"$'),
    ("70 cc", "length", r'^70 cc is not a length; write it like "83\.5 mm"$'),
    ("5 mm", "angle", r'^5 mm is not an angle; write it like "105 deg"$'),
    ("6200 rpm", "angle", r'^6200 rpm is not an angle; write it like "105 deg"$'),
    ("105 deg", "turning speed", r'^105 deg is not a turning speed; write it like "6200 rpm"$'),
    ("5 lb", "force", r'^5 lb is not a force; write it like "10700 lbf"$'),
    ("45 lbf", "torque", r'^45 lbf is not a torque; write it like "61 N·m"$'),
    ("438", "mass", r'^438 has no unit; write it like "438 g"$'),
]


@pytest.mark.parametrize(("text", "kind", "sentence"), WRONG_KIND)
def test_a_figure_of_the_wrong_kind_is_refused_with_an_example(text, kind, sentence):
    with pytest.raises(ValueError, match=sentence):
        read(text, kind)


def test_a_temperature_rise_is_read_as_a_difference():
    typed = read_typed("90 ± 3 °C", "temperature rise")
    assert [each.m_as("K") for each in (typed.value, typed.plus)] == pytest.approx([90, 3])


def test_a_temperature_with_a_tolerance_has_an_uncertainty():
    u = read_typed("20 ± 3 °C", "temperature").standard_uncertainty
    assert u.m_as("delta_degC") == pytest.approx(1.7320508)


def test_an_unfinished_tolerance_is_refused():
    with pytest.raises(ValueError, match=r"5 mm ±"):
        read("5 mm ±")


def test_both_readings_of_a_comma_are_named_with_the_unit_of_the_tolerance():
    with pytest.raises(ValueError, match=r"read as 9\.170 in or as 9170 in;"):
        read("9,170 ± 0.002 in")


def test_a_fraction_too_large_is_refused():
    with pytest.raises(ValueError, match=r"is too large to be meant"):
        read(f"{'9' * 400}/7 mm")
