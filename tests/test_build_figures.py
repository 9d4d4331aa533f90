"""Drawings of a build: a dot for every place, filled where it was measured, words for all."""

import shutil

import pytest
from matplotlib.figure import Figure

from enginecalc.records import matching
from enginecalc.records.build import load_build
from enginecalc.records.fit_results import fit_results
from enginecalc.records.places import boxes, measurement, measurements
from enginecalc.views.build_figures import BeforeAfter, BlockMap, BoreMap, FitStrip
from tests.builds import DEMO, bore, build_of
from tests.chapters import ENGINES, FOUR

V8 = load_build(DEMO)


def drawn(drawing, *what, **how):
    """Return the axes of a drawing and what it says."""
    ax = Figure(figsize=(9, 6)).subplots()
    return ax, drawing(ax).place(*what, **how)


def dots(ax):
    """Return {name: (x, y, filled)} of the dots that have a name."""
    return {line.get_gid(): (*line.get_xydata()[0], line.get_markerfacecolor() != "white")
            for line in ax.lines if line.get_gid()}  # fmt: skip


def texts(ax):
    return [each.get_text() for each in ax.texts]


# --- the block ----------------------------------------------------------------------------------


@pytest.mark.parametrize("what", measurements(), ids=lambda each: each.name)
@pytest.mark.parametrize("engine", ["quarry-pump", FOUR])
def test_every_place_has_a_dot_of_its_own(tmp_path, what, engine):
    build = V8
    if engine == FOUR:
        shutil.copy(ENGINES / f"{FOUR}.toml", tmp_path / "engine.toml")
        build = load_build(tmp_path)
    ax, said = drawn(BlockMap, build, what)
    found, asked = dots(ax), boxes(build.engine.layout, what)
    assert sorted(found) == sorted(box.words for box in asked)
    assert len({(round(x, 3), round(y, 3)) for x, y, _ in found.values()}) == len(asked)
    missing = sum(not filled for *_, filled in found.values())
    if missing and len(asked) > 1:
        assert f"{missing} of {len(asked)} missing" in said
    else:
        assert said.endswith("missing" if missing else "measured")


def test_front_is_at_the_top_and_the_left_bank_on_the_left():
    ax, _ = drawn(BlockMap, V8, measurement("piston", "diameter"))
    at = {number: dots(ax)[f"cylinder {number}, piston diameter, gauge point"][:2]
          for number in range(1, 9)}  # fmt: skip
    assert at[1][1] > at[3][1] > at[5][1] > at[7][1]
    assert {at[number][0] < 0 for number in (1, 3, 5, 7)} == {True}
    assert {at[number][0] > 0 for number in (2, 4, 6, 8)} == {True}
    assert "left bank" in texts(ax)
    assert any("as seen from the flywheel end" in each for each in texts(ax))


def test_the_valley_lies_inside_and_major_thrust_where_the_rotation_puts_it():
    ax, _ = drawn(BlockMap, V8, measurement("deck", "height"))
    x = {name: spot[0] for name, spot in dots(ax).items()}
    assert x["left bank, deck height, outer, front"] < x["left bank, deck height, inner, front"] < 0
    assert 0 < x["right bank, deck height, inner, rear"] < x["right bank, deck height, outer, rear"]
    ax, _ = drawn(BlockMap, V8, measurement("piston", "below deck"))
    for number in (1, 2):  # standard rotation: to the right, seen from above
        major, minor = (dots(ax)[f"cylinder {number}, piston below deck, {side} thrust"][0]
                        for side in ("major", "minor"))  # fmt: skip
        assert major > minor


def test_what_is_missing_is_a_ring_and_is_named(tmp_path):
    build = build_of(tmp_path, bore("3", 4.1100)[:-1])
    what = measurement("bore", "diameter")
    here = boxes(build.engine.layout, what)[0]
    ax, said = drawn(BlockMap, build, what, here)
    assert said == "bore diameter: 43 of 48 missing, the first: cylinder 1, thrust, top"
    found = dots(ax)
    assert found["cylinder 3, bore diameter, thrust, top"][2]
    assert not found["cylinder 3, bore diameter, axial, bottom"][2]
    assert found["here"][:2] == found[here.words][:2]


# --- bores and fits -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "figures"), [("inch", ("+2", "−42")), ("metric", ("+5", "−107"))]
)
def test_bores_are_drawn_as_far_as_they_are_off_the_plan(system, figures):
    ax, said = drawn(BoreMap, V8, system)
    assert len(dots(ax)) == 48
    assert {*figures} <= {*texts(ax)}
    assert f"farthest: cylinder 7, axial, middle, {figures[1]}" in said
    assert dots(ax)["1 thrust top"][0] > dots(ax)["1 axial bottom"][0]


def test_bores_about_their_mean_and_those_that_are_missing(tmp_path):
    build = build_of(tmp_path, [*bore("1", 4.1398), *bore("2", 4.1402)])
    ax, said = drawn(BoreMap, build, "inch", about_mean=True)
    assert "the mean 4.1400 in" in said
    assert {"+2", "−2", "missing"} <= {*texts(ax)}
    assert drawn(BoreMap, build_of_nothing(tmp_path), "inch")[1] == "no bore is measured"


def build_of_nothing(folder):
    (folder / "readings.csv").unlink()
    return load_build(folder)


def test_the_strip_has_the_worst_on_top_and_counts_the_rest():
    found = fit_results(V8)
    ax, said = drawn(FitStrip, found, "inch")
    rows = [each for each in texts(ax) if ": " in each and each.startswith(("cyl", "main", "pin"))]
    assert rows[0] == "cylinder 7: least piston clearance"
    assert "piston 4.1101 in is not less than bore 4.1058 in: swapped?" in texts(ax)
    assert "0.0028, outside: 0.0022–0.0027" in texts(ax)
    assert len(rows) == 16
    assert any(each.startswith("and 83 more: ") for each in texts(ax))
    assert "1 cannot be, 5 outside" in said


def test_a_dot_lies_between_its_limits_where_its_value_does():
    found = [fit for fit in fit_results(V8) if fit.result.name == "rod_oil_clearance"]
    ax, _ = drawn(FitStrip, found, "inch")
    names = [each for each in texts(ax) if each.endswith("rod oil clearance")]
    for fit in found:
        at = dots(ax)[f"row {names.index(f'{fit.place}: rod oil clearance')}"][0]
        part = (fit.result.value.m_as("inch") - 0.0022) / 0.0005
        assert (at - 43) / 22 == pytest.approx(part, abs=1e-6)
    assert drawn(FitStrip, [], "inch")[1].endswith("none is known")


# --- before and after -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "unit", "size"), [(None, "in", 0.0028), ("metric", "mm", 0.07112)]
)
def test_before_and_after_with_limits_and_target(system, unit, size):
    ax, said = drawn(BeforeAfter, matching.match_rods(V8), "oil clearance", system)
    lines = {line.get_label(): line.get_ydata() for line in ax.lines}
    assert max(lines["before"]) == pytest.approx(size, abs=1e-9)
    assert ax.get_ylabel() == f"oil clearance [{unit}]"
    assert sorted(each.split()[0] for each in texts(ax)) == ["greatest", "least", "target"]
    assert said.startswith("oil clearance before: ")
