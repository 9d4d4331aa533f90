"""Results: every figure of the demo engines, how sure it is, and how it keeps its limits."""

import math
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from uncertainties import ufloat

from enginecalc import uncertainty
from enginecalc.records import Engine, Result, figures, load_engine, results
from enginecalc.units import Q
from tests.figures import WORKED, worked

ENGINES = Path(__file__).parent.parent / "data" / "engines"
FILES = {"v8": "quarry-pump-v8", "v8s": "quarry-pump-v8-long-stroke", "i4": "ferry-four"}
DEMO = {key: load_engine(ENGINES / f"{name}.toml") for key, name in FILES.items()}
V8, V8S, I4 = DEMO.values()
LENGTH = {"v8": "inch", "v8s": "inch", "i4": "mm"}

# The worked numbers' standard uncertainties, typed as the limits that stand for them.
GIVEN = WORKED["inputs"]["uncertainty"]
TYPED = {
    "block": ("block.deck_height", "9.170", "block_in"),
    "stroke": ("crank.stroke", "3.640", "stroke_in"),
    "rod": ("rod.length", "5.960", "rod_in"),
    "ch": ("piston.compression_height", "1.375", "compression_height_in"),
    "gasket_t": ("gasket.thickness", "0.028", "gasket_thickness_in"),
    "gasket_bore": ("gasket.bore", "4.180", "gasket_bore_in"),
    "bore": ("block.bore", "4.110", "bore_in"),
    "chamber": ("head.chamber_volume", "70.0", "chamber_cc"),
    "dish": ("piston.dish_volume", "5.5", "dish_cc"),
}
UNSURE = V8.altered(
    {
        path: f"{middle} ± {GIVEN[key] * math.sqrt(3):.12f} {key[-2:]}"
        for path, middle, key in TYPED.values()
    }
    | {f"{side}.lash": "0.016 in" for side in ("intake", "exhaust")}
    | {f"{side}.drop_at_tdc": "0.220 in" for side in ("intake", "exhaust")}
    | {f"{side}.centerline": "105 deg" for side in ("intake", "exhaust")}
)


def result(engine, name):
    return {each.name: each for each in results(engine)}[name]


def figure(engine, name):
    return result(engine, name).value


# --- against a source: the worked numbers of the invented engines ------------------------------

FIGURES = [
    ("disp_cc", "displacement", "cm**3"),
    ("disp_in3", "displacement", "inch**3"),
    ("cr", "compression_ratio", ""),
    ("dcr", "effective_compression_ratio", ""),
    ("deck", "deck_clearance", None),
    ("quench", "quench_distance", None),
    ("swept", "swept_volume", "cm**3"),
    ("vc", "clearance_volume", "cm**3"),
    ("rod_ratio", "rod_ratio", ""),
    ("mean_speed_m_s", "mean_piston_speed", "m/s"),
    ("vmax_m_s", "peak_piston_speed", "m/s"),
    ("acc_tdc_m_s2", "peak_piston_acceleration", "m/s**2"),
    ("tilt_max_deg", "greatest_rod_tilt", "deg"),
    ("true_stroke", "true_stroke", None),
]


@pytest.mark.parametrize("key", DEMO)
@pytest.mark.parametrize(("short", "name", "unit"), FIGURES, ids=[each[0] for each in FIGURES])
def test_every_figure_of_the_demo_engines(key, short, name, unit):
    unit = LENGTH[key] if unit is None else unit
    assert figure(DEMO[key], name).m_as(unit) == worked(f"{key}.{short}")
    if hasattr(Engine, name):
        assert getattr(DEMO[key], name) == figure(DEMO[key], name)


@pytest.mark.parametrize(
    ("name", "key", "unit"),
    [
        ("deck_clearance", "unc.deck_u", "inch"),
        ("quench_distance", "unc.quench_u", "inch"),
        ("compression_ratio", "unc.cr_u", ""),
    ],
)
def test_standard_uncertainty(name, key, unit):
    assert result(UNSURE, name).u.m_as(unit) == worked(key)


def test_what_makes_the_ratio_unsure_in_order():
    spread = result(UNSURE, "compression_ratio").spread
    paths = {path: name for name, (path, _, _) in TYPED.items()}
    parts = {paths[path]: abs(part) for path, part in spread.contributions.items()}
    assert parts == {
        key: pytest.approx(part, abs=5e-5) for key, part in WORKED["unc.cr_parts"].items()
    }
    shares = {paths[path]: 100 * share for path, share in spread.shares().items()}
    for key, percent in WORKED["unc.cr_variance_share_percent"].items():
        assert shares[key] == pytest.approx(percent, abs=0.05)
    assert list(parts)[:3] == list(WORKED["unc.cr_variance_share_percent"])
    assert sum(shares.values()) == pytest.approx(100)


def test_worst_case_of_the_deck_at_two_standard_uncertainties():
    worst = Q(2 * result(UNSURE, "deck_clearance").spread.worst, "m")
    assert worst.m_as("inch") == worked("unc.deck_worst_2u")


# --- against geometry and identities -----------------------------------------------------------


def by_brute_force(key):
    """Work a demo engine out from the worked numbers' inputs, in mm, by stepping through a turn."""
    given = dict(WORKED["inputs"]["inline4" if key == "i4" else "v8"])
    given |= WORKED["inputs"]["v8_stroker_changes"] if key == "v8s" else {}

    def mm(name):
        return given[f"{name}_mm"] if key == "i4" else given[f"{name}_in"] * 25.4

    step = math.radians(0.01)
    angle = np.arange(-9000, 27001) * step
    throw, rod, offset = mm("stroke") / 2, mm("rod_length"), mm("pin_offset_local_x")
    over, across = throw * np.cos(angle), throw * np.sin(angle) - offset
    height = over + np.sqrt((rod - across) * (rod + across))
    top, at_top = height.max(), height.argmax()
    travel = top - height.min()
    disc, opening = (math.pi / 4 * mm(name) ** 2 for name in ("bore", "gasket_bore"))
    deck = mm("block_deck_height") - top - mm("compression_height")
    chamber = (given["chamber_cc"] + given["dish_cc"]) * 1000
    clearance = chamber + opening * mm("gasket_thickness") + disc * deck
    turns = given["speed_rev_min"] / 60
    rise = np.gradient(height, step) * 2 * math.pi * turns / 1000
    before, after = height[at_top - 1], height[at_top + 1]
    true_top = angle[at_top] + step * (before - after) / (before - 2 * top + after) / 2
    flank = np.linspace(0, given["intake_half_duration_crank_deg"], 1_000_001)
    lift = mm("intake_lobe_lift") * (1 - (flank / flank[-1]) ** 2) ** 2
    shut = flank[lift >= mm("intake_lash") / given["rocker_ratio"]][-1]
    closing = math.radians(given["intake_centerline_deg_atdc"] + shut) + true_top
    shut_at = top - np.interp(closing, angle, height)
    return {
        "displacement": disc * travel * given["cylinders"] / 1e9,
        "compression_ratio": (disc * travel + clearance) / clearance,
        "effective_compression_ratio": (disc * shut_at + clearance) / clearance,
        "deck_clearance": deck / 1000,
        "quench_distance": (deck + mm("gasket_thickness")) / 1000,
        "swept_volume": disc * travel / 1e9,
        "clearance_volume": clearance / 1e9,
        "rod_ratio": rod / throw / 2,
        "greatest_rod_tilt": np.arctan2(np.abs(across), height - over).max(),
        "true_stroke": travel / 1000,
        "mean_piston_speed": 2 * travel * turns / 1000,
        "peak_piston_speed": np.abs(rise).max(),
        "peak_piston_acceleration": np.abs(np.diff(height, 2)).max()
        / step**2
        * (2 * math.pi * turns) ** 2
        / 1000,
    }


@pytest.mark.parametrize("key", DEMO)
def test_every_figure_against_stepping_through_a_turn(key):
    for name, expected in by_brute_force(key).items():
        value = figure(DEMO[key], name).to_base_units().m
        assert_allclose(value, expected, rtol=2e-6, err_msg=name)


def test_inch_and_millimetre_give_the_same_engine():
    lengths = {}
    for path in ("block.bore", "block.deck_height", "crank.stroke", "rod.length",
                 "piston.compression_height", "gasket.bore", "gasket.thickness"):  # fmt: skip
        table, key = path.split(".")
        lengths[path] = f"{getattr(getattr(V8, table), key).m_as('mm'):.6f} mm"
    for one, other in zip(results(V8), results(V8.altered(lengths)), strict=True):
        if one.value is not None or other.value is not None:
            assert_allclose(one.value.m, other.value.m, rtol=1e-9, err_msg=one.name)


def test_uncertainty_of_the_ratio_against_another_propagation():
    sizes = {name: ufloat(float(middle), GIVEN[key]) for name, (_, middle, key) in TYPED.items()}
    cc = 2.54**3
    disc, opening = (math.pi / 4 * sizes[name] ** 2 * cc for name in ("bore", "gasket_bore"))
    deck = sizes["block"] - sizes["stroke"] / 2 - sizes["rod"] - sizes["ch"]
    room = sizes["chamber"] + sizes["dish"] + opening * sizes["gasket_t"] + disc * deck
    for name, expected in (
        ("compression_ratio", 1 + disc * sizes["stroke"] / room),
        ("clearance_volume", room),
        ("rod_ratio", sizes["rod"] / sizes["stroke"]),
    ):
        found = result(UNSURE, name)
        unit = "cm**3" if name == "clearance_volume" else ""
        assert_allclose(found.value.m_as(unit), expected.n, rtol=1e-9)
        assert_allclose(found.u.m_as(unit), expected.s, rtol=1e-3)


def test_uncertainty_of_every_result_against_drawing_lots():
    lots = np.random.default_rng(20)
    columns = figures.inputs(UNSURE)
    for path, _, key in TYPED.values():
        unit = Q(1, "inch" if key.endswith("in") else "cm**3").to_base_units().m
        columns[path] = columns[path] + lots.normal(0, GIVEN[key] * unit, 20_000)
    drawn = figures.Figures(columns)
    for each in results(UNSURE, figures.PLAN_RESULTS):
        assert_allclose(
            each.u.to_base_units().m, drawn[each.name].std(), rtol=0.02, err_msg=each.name
        )


def test_a_spread_by_hand():
    # a product 3 x 4: one u of 0.1 changes it by 0.4, one of 0.2 by 0.6; the third plays no part
    uncertain = {"a": 0.1, "b": 0.2, "c": 5.0}
    columns = uncertainty.shifted({"a": 3.0, "b": 4.0, "c": 1.0}, uncertain)
    spread = uncertainty.spread(columns["a"] * columns["b"], uncertain)
    assert spread.contributions == {"b": pytest.approx(0.6), "a": pytest.approx(0.4)}
    assert list(spread.contributions) == ["b", "a"]
    assert (spread.u, spread.worst) == (pytest.approx(math.sqrt(0.52)), pytest.approx(1.0))
    assert spread.shares() == {"b": pytest.approx(0.36 / 0.52), "a": pytest.approx(0.16 / 0.52)}
    assert uncertainty.spread(12.0, uncertain) is None


# --- behaviour ---------------------------------------------------------------------------------

NAMES = [
    "displacement", "compression_ratio", "effective_compression_ratio", "deck_clearance",
    "quench_distance", "running_quench", "swept_volume", "clearance_volume", "rod_ratio",
    "greatest_rod_tilt", "true_stroke", "mean_piston_speed", "peak_piston_speed",
    "peak_piston_acceleration", "pin_to_oil_groove", "skirt_below_bore",
    "intake_piston_to_valve", "exhaust_piston_to_valve",
    "intake_piston_to_valve_running", "exhaust_piston_to_valve_running", "intake_coil_bind",
    "exhaust_coil_bind",
]  # fmt: skip


@pytest.mark.parametrize("key", DEMO)
def test_results_keep_their_names_and_order(key):
    assert [each.name for each in results(DEMO[key])] == NAMES
    for each in results(DEMO[key]):
        assert (each.value is None) == bool(each.reason) == (each.status == "not measured")
        assert (each.u is None) == (each.spread is None)
        assert key != "i4" or each.u is None
        assert each.source or (each.low is None and each.high is None)


LIMITS = {"low": Q(0.035, "inch"), "high": Q(0.045, "inch"), "source": "the builder"}


@pytest.mark.parametrize(
    ("value", "u", "status"),
    [
        (Q(0.040, "inch"), None, "within"),
        (Q(1.016, "mm"), Q(0.01, "mm"), "within"),
        (Q(0.0355, "inch"), None, "close"),
        (Q(0.045, "inch"), None, "close"),
        (Q(0.040, "inch"), Q(0.2, "mm"), "close"),
        (Q(0.0349, "inch"), None, "outside"),
        (Q(1.2, "mm"), None, "outside"),
        (None, None, "not measured"),
    ],
)
def test_status_is_one_of_four_words(value, u, status):
    assert Result("quench_distance", value, u, **LIMITS).status == status


def test_without_limits_a_value_is_within():
    assert Result("displacement", Q(6, "liter")).status == "within"
    assert Result("running_quench", Q(0.019, "inch"), low=Q(0.020, "inch")).status == "outside"


@pytest.mark.parametrize(
    ("rod", "low", "high"), [("steel", 0.035, 0.045), ("aluminium", 0.055, 0.065)]
)
def test_the_quench_wanted_goes_by_the_rod(rod, low, high):
    quench = result(V8.altered({"rod.material": rod}), "quench_distance")
    assert (quench.low, quench.high) == (Q(low, "inch"), Q(high, "inch"))
    assert f"{rod} rod" in quench.source
    assert quench.status == ("within" if rod == "steel" else "outside")


@pytest.mark.parametrize("rod", ["titanium", None])
def test_no_quench_is_wanted_where_none_is_known_for_the_rod(rod):
    quench = result(V8.altered({"rod.material": rod}), "quench_distance")
    assert (quench.low, quench.high, quench.source) == (None, None, "")


OWN = [
    ("quench_distance", {"low": "1.2 mm", "source": "part maker"}, "outside", "part maker"),
    ("quench_distance", {"low": "0.03 in", "high": "0.06 in"}, "within", "the engine file"),
    ("rod_ratio", {"low": 1.6374, "high": 2}, "outside", "the engine file"),
    ("compression_ratio", {"high": 10.5, "source": "fuel"}, "close", "fuel"),
    ("displacement", {"high": "6.2 litre"}, "outside", "the engine file"),
    ("greatest_rod_tilt", {"high": "25 deg"}, "within", "the engine file"),
    ("mean_piston_speed", {"high": "19 m/s"}, "outside", "the engine file"),
    ("peak_piston_acceleration", {"high": "20000 m/s²"}, "outside", "the engine file"),
]


@pytest.mark.parametrize(("name", "limits", "status", "source"), OWN)
def test_the_engine_files_own_limits_go_first(name, limits, status, source):
    found = result(V8.altered({f"limits.{name}": limits}), name)
    assert (found.status, found.source) == (status, source)
    for side in ("low", "high"):
        assert (getattr(found, side) is None) == (side not in limits)
