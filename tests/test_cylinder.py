"""Volumes, deck and ratios: textbooks, real engines, the invented engines, and refusals."""

import dask
import dask.array as da
import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc import cylinder
from enginecalc.camshaft import intake_closing, seat_lobe_lift
from enginecalc.crank import bdc_angle, mean_piston_speed, piston_velocity, tdc_angle, true_stroke
from enginecalc.cylinder import (
    clearance_volume,
    compression_ratio,
    cylinder_volume,
    deck_clearance,
    dish_volume_from_fill,
    displacement,
    effective_compression_ratio,
    gasket_volume,
    quench_distance,
    swept_volume,
)
from enginecalc.lobes import SmoothLobe
from enginecalc.units import Q
from tests.figures import printed, worked

# --- against a source -------------------------------------------------------------------------


def test_mathur_1_1_cubic_capacity_of_a_four():
    capacity = displacement(Q(68, "mm"), Q(75, "mm"), 4)  # [mathur_sharma] Example 1.1, p. 3
    assert capacity.m_as("cm**3") == printed("1089.5")


# bore, stroke, clearance volume, ratio; the last two are printed as 6 ("nearly") and 8
RATIOS = {
    "solberg_heat Example 3.2, p. 132": ((3.25, "inch"), (4.0, "inch"), (6.0, "inch**3"), "6.531"),
    "gupta_ice Example 2.1, p. 44": ((20, "cm"), (25, "cm"), (1570, "cm**3"), "6.00"),
    "rajput_ice Example 3.8, p. 96": ((250, "mm"), (375, "mm"), (0.00263, "m**3"), "8.00"),
}


@pytest.mark.parametrize("source", RATIOS)
def test_compression_ratio_of_the_textbook(source):
    *sizes, ratio = RATIOS[source]
    bore, stroke, clearance = (Q(*size) for size in sizes)
    assert float(compression_ratio(swept_volume(bore, stroke), clearance)) == printed(ratio)


def test_gupta_2_4_volumes_of_a_ratio_of_sixteen():
    # [gupta_ice] p. 48: bore 0.2 m, stroke 0.3 m, ratio 16; a fifteenth of the swept volume is left
    bore, stroke, clearance = Q(0.2, "m"), Q(0.3, "m"), Q(np.pi * 0.1**2 * 0.3 / 15, "m**3")
    assert clearance.m_as("m**3") == printed("0.00063")
    bottom = cylinder_volume(Q(180, "deg"), bore, stroke, Q(0.62, "m"), clearance)  # any rod
    assert bottom.m_as("m**3") == printed("0.01005")
    assert float(compression_ratio(swept_volume(bore, stroke), clearance)) == pytest.approx(16)


def test_pulkrabek_2_1_square_v6():
    # [pulkrabek_ice] Example 2-1, recalled from memory: 3 l, six cylinders, bore = stroke, rod
    # 16.6 cm, ratio 9.5, 3600 rpm: bore 8.6 cm, mean speed 10.32 m/s, 6.89 m/s at 20 deg (the
    # book rounds on the way: 6.90 exactly), clearance 59 cm3.
    square, speed = Q((4 * 500 / np.pi) ** (1 / 3), "cm"), Q(3600, "rpm")
    assert square.m_as("cm") == printed("8.60")
    assert displacement(square, square, 6).m_as("liter") == pytest.approx(3, rel=1e-12)
    assert mean_piston_speed(square, speed).m_as("m/s") == printed("10.32")
    at_twenty = piston_velocity(Q(20, "deg"), square, Q(16.6, "cm"), speed)
    assert at_twenty.m_as("m/s") == pytest.approx(6.89, abs=0.02)
    ratio = compression_ratio(swept_volume(square, square), Q(59, "cm**3"))
    assert float(ratio) == pytest.approx(9.5, abs=9.5 * 0.5 / 59)


# [uci_automobile] rows of imports-85.data: cylinders, listed in3, bore, stroke in
ROWS = {19: (3, 61, 2.91, 3.03), 5: (5, 136, 3.19, 3.40), 13: (6, 164, 3.31, 3.19)}
ROWS[49] = (6, 258, 3.63, 4.17)


@pytest.mark.parametrize("row", ROWS)
def test_listed_displacement_of_a_real_engine_within_one_percent(row):
    cylinders, listed, bore, stroke = ROWS[row]
    size = displacement(Q(bore, "inch"), Q(stroke, "inch"), cylinders).m_as("inch**3")
    assert size == pytest.approx(listed, rel=0.01)


def test_row_3_of_the_real_engines_has_its_columns_swapped():
    listed, bore, stroke = 152, Q(2.68, "inch"), Q(3.47, "inch")
    assert displacement(bore, stroke, 6).m_as("inch**3") / listed == pytest.approx(0.773, abs=5e-4)
    assert displacement(stroke, bore, 6).m_as("inch**3") == pytest.approx(listed, rel=0.001)


# --- against the worked numbers of the invented engines ---------------------------------------

V8 = {
    "bore": Q(4.110, "inch"),
    "crank": {"stroke": Q(3.640, "inch"), "rod_length": Q(5.960, "inch")},
    "block": Q(9.170, "inch"),
    "compression_height": Q(1.375, "inch"),
    "gasket": (Q(4.180, "inch"), Q(0.028, "inch")),
    "chamber": Q(70.0, "cc"),
    "dish": Q(5.5, "cc"),
    "cylinders": 8,
    "lobe": SmoothLobe(Q(0.340, "inch").m_as("m"), Q(142, "deg").m_as("rad")),
    "lash": (Q(0.016, "inch"), 1.55),
    "centerline": Q(105, "deg"),
    "card": Q(0.006, "inch"),
    "unit": "inch",
}
LONG = {"crank": V8["crank"] | {"stroke": Q(3.840, "inch")}, "compression_height": Q(1.275, "inch")}
I4 = {
    "bore": Q(83.5, "mm"),
    "crank": {"stroke": Q(89.2, "mm"), "rod_length": Q(143.0, "mm"), "pin_offset": Q(-0.6, "mm")},
    "block": Q(218.2, "mm"),
    "compression_height": Q(30.4, "mm"),
    "gasket": (Q(84.6, "mm"), Q(0.90, "mm")),
    "chamber": Q(44.0, "cc"),
    "dish": Q(2.0, "cc"),
    "cylinders": 4,
    "lobe": SmoothLobe(Q(9.60, "mm").m_as("m"), Q(132, "deg").m_as("rad")),
    "lash": (Q(0.20, "mm"), 1.00),
    "centerline": Q(106, "deg"),
    "card": Q(0.15, "mm"),
    "unit": "mm",
}
ENGINES = {"v8": V8, "v8s": V8 | LONG, "i4": I4}


def deck(e):
    return deck_clearance(e["block"], compression_height=e["compression_height"], **e["crank"])


def swept(e):
    return swept_volume(e["bore"], true_stroke(**e["crank"]))


def clearance(e, **changed):
    """Return the clearance volume of an engine, some of its parts changed."""
    e = e | changed
    return clearance_volume(e["bore"], deck(e), e["chamber"], e["dish"], *e["gasket"])


def closing(e, lobe_lift=None, advance=0):
    """Return how long after bottom dead center the intake has closed to a lobe lift."""
    lift = seat_lobe_lift(*e["lash"]) if lobe_lift is None else lobe_lift
    from_center = Q(e["lobe"].closing(lift.m_as("m")), "rad")
    return intake_closing(e["centerline"], from_center, Q(advance, "deg"))


def effective(e, lobe_lift=None, advance=0):
    after_bottom = closing(e, lobe_lift, advance)
    known = {"clearance_volume": clearance(e), "intake_closing": after_bottom}
    return float(effective_compression_ratio(e["bore"], **e["crank"], **known))


def ratio(e, **changed):
    return float(compression_ratio(swept(e), clearance(e, **changed)))


FIGURES = {
    "deck": lambda e: deck(e).m_as(e["unit"]),
    "quench": lambda e: quench_distance(deck(e), e["gasket"][1]).m_as(e["unit"]),
    "swept": lambda e: swept(e).m_as("cc"),
    "vg": lambda e: gasket_volume(*e["gasket"]).m_as("cc"),
    "vd": lambda e: (clearance(e) - e["chamber"] - e["dish"] - gasket_volume(*e["gasket"])).m_as(
        "cc"
    ),
    "vc": lambda e: clearance(e).m_as("cc"),
    "cr": ratio,
    "disp_cc": lambda e: displacement(e["bore"], true_stroke(**e["crank"]), e["cylinders"]).m_as(
        "cc"
    ),
    "disp_in3": lambda e: displacement(e["bore"], true_stroke(**e["crank"]), e["cylinders"]).m_as(
        "inch**3"
    ),
    "closing_lobe_lift": lambda e: seat_lobe_lift(*e["lash"]).m_as(e["unit"]),
    "ivc_abdc": lambda e: closing(e).m_as("deg"),
    "ivc_abdc_card": lambda e: closing(e, e["card"]).m_as("deg"),
    "dcr": effective,
    "dcr_adv4": lambda e: effective(e, advance=4),
    "dcr_card": lambda e: effective(e, e["card"]),
    "dcr_card_adv4": lambda e: effective(e, e["card"], advance=4),
}


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("figure", FIGURES)
def test_worked_number(engine, figure):
    assert FIGURES[figure](ENGINES[engine]) == worked(f"{engine}.{figure}")


def test_worked_numbers_of_the_usual_mistakes():
    bore_for_gasket = V8["bore"], V8["gasket"][1]
    assert ratio(V8, dish=-V8["dish"]) == worked("v8.cr_if_dish_sign_wrong")
    assert ratio(V8, gasket=bore_for_gasket) == worked("v8.cr_if_bore_used_for_gasket")


@pytest.mark.parametrize("lift", ["0.004", "0.010"])
def test_effective_ratio_at_other_closing_lifts(lift):
    assert effective(V8, Q(float(lift), "inch")) == worked(f"v8.dcr_at_{lift}")


def test_the_chamber_worked_out_for_a_wanted_ratio_gives_it():
    # v8.chamber_for_10.8 is 65.694 cc: half its last digit moves the ratio by 0.00006
    assert ratio(V8, chamber=Q(65.694, "cc")) == pytest.approx(10.8, abs=1e-4)


def test_a_lobe_through_the_card_figure_closes_like_the_lobe_itself():
    # the engine file knows the V8's intake lobe by 222.99 deg at 0.050 in
    card = Q(222.99, "deg").m_as("rad"), Q(0.050, "inch").m_as("m")
    through = V8 | {"lobe": SmoothLobe.through(V8["lobe"].lobe_lift, *card)}
    assert closing(through).m_as("deg") == worked("v8.ivc_abdc")
    # the card's last digit, 0.005 deg, moves the ratio by 0.0002
    assert effective(through) == pytest.approx(effective(V8), abs=2e-4)


def test_worked_down_fill():
    dish = dish_volume_from_fill(V8["bore"], Q(0.250, "inch"), Q(61.0, "cc"))
    assert dish.m_as("cc") == worked("v8.downfill_dish_cc")


# --- against geometry and identities ----------------------------------------------------------

FIFTY = Q((4 * 50 / np.pi) ** 0.5, "cm")  # the bore of 50 cm2


def test_a_plain_cylinder():
    assert_allclose(swept_volume(FIFTY, Q(8, "cm")).m_as("cc"), 400, rtol=1e-14)
    assert_allclose(displacement(FIFTY, Q(8, "cm"), 6).m_as("cc"), 2400, rtol=1e-14)
    assert_allclose(gasket_volume(FIFTY, Q(0.1, "cm")).m_as("cc"), 5, rtol=1e-14)
    # 40 chamber - 3 dome + 5 gasket + 50 x 0.04 deck + 0.7 crevice
    volume = clearance_volume(
        *(FIFTY, Q(0.4, "mm"), Q(40, "cc"), Q(-3, "cc"), FIFTY, Q(1, "mm"), Q(0.7, "cc"))
    )
    assert_allclose(volume.m_as("cc"), 44.7, rtol=1e-14)
    assert_allclose(
        dish_volume_from_fill(FIFTY, Q(6, "mm"), Q(26, "cc")).m_as("cc"), -4, rtol=1e-13
    )


def test_three_four_five_half_way_down():
    # throw 3, rod 5 cm: at 90 deg the piston is 4 cm down, 200 cc under 25 cc
    half = cylinder_volume(Q(90, "deg"), FIFTY, Q(6, "cm"), Q(5, "cm"), Q(25, "cc"))
    assert_allclose(half.m_as("cc"), 225, rtol=1e-14)


def test_deck_clearance_is_what_the_stack_leaves():
    # e, y and the straight crank and rod are 5, 12, 13: 20 deck - 12 top - 3 piston
    left = deck_clearance(*(Q(x, "cm") for x in (20, 6, 10, 3, 5)))
    assert_allclose(left.m_as("cm"), 5, rtol=1e-14)


@pytest.mark.parametrize("engine", ENGINES)
def test_closing_at_the_true_bottom_gives_the_geometric_ratio(engine):
    e = ENGINES[engine]
    at_bottom = bdc_angle(**e["crank"]) - tdc_angle(**e["crank"]) - Q(180, "deg")
    known = {"clearance_volume": clearance(e), "intake_closing": at_bottom}
    found = effective_compression_ratio(e["bore"], **e["crank"], **known)
    assert float(found) == pytest.approx(ratio(e), rel=1e-12)


@pytest.mark.parametrize("engine", ENGINES)
def test_volume_at_the_dead_centers(engine):
    e = ENGINES[engine]
    top, bottom = (
        cylinder_volume(f(**e["crank"]), e["bore"], clearance_volume=clearance(e), **e["crank"])
        for f in (tdc_angle, bdc_angle)
    )
    assert_allclose(top.m_as("cc"), clearance(e).m_as("cc"), rtol=1e-12)
    assert_allclose((bottom / top).m_as(""), ratio(e), rtol=1e-12)


# --- behaviour --------------------------------------------------------------------------------

FORMULAS = [f for f in vars(cylinder).values() if getattr(f, "__module__", "") == cylinder.__name__]
FORMULAS = [f for f in FORMULAS if hasattr(f, "kernel")]
IN_USE = """
    83.5 mm bore; 89.2 mm stroke; 143 mm rod_length; -0.6 mm pin_offset; 218.2 mm block_deck_height
    30.4 mm compression_height; 0.2 mm deck_clearance; 84.6 mm gasket_bore; 0.9 mm gasket_thickness
    44 cc chamber_volume; 2 cc dish_volume; 0.3 cc crevice_volume; 488 cc swept_volume
    52 cc clearance_volume; 77 deg crank_angle; 48 deg intake_closing
    37 cc fluid_volume; 6.35 mm depth
"""
IN_USE = [entry.split() for entry in IN_USE.replace("\n", ";").split(";") if entry.strip()]
USUAL = {name: (float(number), unit) for number, unit, name in IN_USE}


def named(formula):
    return formula.__name__


def usual(formula, **changed):
    """Return a formula's arguments as quantities, some of them changed, and its plain count."""
    count = {"cylinders": 5} if formula is displacement else {}
    return {name: Q(*(USUAL | changed)[name]) for name in formula.takes} | count


def imperial(value):
    for dimension, unit in (("[length]", "inch"), ("[volume]", "inch**3")):
        if isinstance(value, Q) and value.check(dimension):
            return value.to(unit)
    return value


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_inch_and_millimetre_give_the_same_answer(formula):
    metric = usual(formula)
    inches = {name: imperial(value) for name, value in metric.items()}
    assert_allclose(formula(**inches).m, formula(**metric).m, rtol=1e-11)


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_an_array_gives_what_a_loop_gives(formula):
    many = {name: value * np.array([1.0, 1.02, 1.05]) for name, value in usual(formula).items()}
    loop = [formula(**{name: value[i] for name, value in many.items()}).m for i in range(3)]
    assert_allclose(formula(**many).m, loop, rtol=1e-13)


@pytest.mark.parametrize("formula", FORMULAS, ids=named)
def test_lazy_arrays_go_through_the_kernel_and_stay_lazy(formula):
    def too_early(*_, **__):
        raise AssertionError("computed before anybody asked")

    plain = {
        n: getattr(v, "to_base_units", lambda v=v: Q(v))().m for n, v in usual(formula).items()
    }
    eager = {name: value * np.array([1.0, 1.02, 1.05]) for name, value in plain.items()}
    lazy = {name: da.from_array(value, chunks=2) for name, value in eager.items()}
    with dask.config.set(scheduler=too_early):
        result = formula.kernel(**lazy)
    assert isinstance(result, da.Array)
    assert_allclose(result.compute(scheduler="sync"), formula.kernel(**eager), rtol=1e-14)


MUST_BE_ABOVE_ZERO = {
    swept_volume: "bore stroke",
    displacement: "bore stroke",
    gasket_volume: "gasket_bore gasket_thickness",
    quench_distance: "gasket_thickness",
    clearance_volume: "bore gasket_bore gasket_thickness",
    compression_ratio: "swept_volume clearance_volume",
    cylinder_volume: "bore clearance_volume",
    effective_compression_ratio: "bore clearance_volume",
    dish_volume_from_fill: "bore depth",
}


@pytest.mark.parametrize("size", [-1.5, 0.0, np.nan])
@pytest.mark.parametrize("formula", MUST_BE_ABOVE_ZERO, ids=named)
def test_sizes_not_above_zero_are_refused_all_in_one_message(formula, size):
    wrong = MUST_BE_ABOVE_ZERO[formula].split()
    sentences = "; ".join(f"{name} must be greater than zero, got (-|0|nan)[^;]*" for name in wrong)
    with pytest.raises(ValueError, match=f"^{formula.__name__}: {sentences}$"):
        formula(**usual(formula, **{name: (size, USUAL[name][1]) for name in wrong}))


@pytest.mark.parametrize("count", [0, -4])
def test_an_engine_without_cylinders_is_refused(count):
    with pytest.raises(ValueError, match=f"cylinders must be greater than zero, got {count}"):
        displacement(Q(83.5, "mm"), Q(89.2, "mm"), count)


@pytest.mark.parametrize(
    "formula", [deck_clearance, cylinder_volume, effective_compression_ratio], ids=named
)
def test_a_crank_that_cannot_turn_is_refused(formula):
    with pytest.raises(ValueError, match=r"or the crank cannot turn, got 45 mm against 45\.2 mm"):
        formula(**usual(formula, rod_length=(45, "mm")))


def test_everything_wrong_with_a_cylinder_comes_in_one_message():
    wrong = {"bore": (-83.5, "mm"), "clearance_volume": (-52, "cc"), "rod_length": (40, "mm")}
    with pytest.raises(ValueError, match=r"bore must .* clearance_volume must .* rod_length must"):
        cylinder_volume(**usual(cylinder_volume, **wrong))
