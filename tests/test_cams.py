"""Lobes of whole engines: from a card, from two pairs, from a lift table beside the file."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from enginecalc.records import load_engine, save_engine
from enginecalc.records.clearances import least_piston_to_valve
from enginecalc.units import Q
from tests.chapters import ENGINES, V8
from tests.figures import WORKED, worked

IN, MM = "inch", "mm"
CARD = 'lobe_lift = "0.340 in"\nduration = [{ angle = "284 deg", at_lift = "0 in" }]'
SOURCE = (ENGINES / f"{V8}.toml").read_text(encoding="utf-8")
DRAWN = load_engine(ENGINES / f"{V8}.toml")


def engine_file(folder, lobe='table = "lift.csv"', follower="flat"):
    """Write the V8's file with another intake lobe; return its path."""
    assert SOURCE.count(CARD) == SOURCE.count('follower = "flat"') == 1
    text = SOURCE.replace(CARD, lobe).replace('follower = "flat"', f'follower = "{follower}"')
    path = folder / "engine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def law(angle, lift=0.340, half=142.0):
    """Return the V8's intake lift in inches at crank degrees from the lobe's center."""
    return lift * (1 - np.clip(angle / half, -1, 1) ** 2) ** 2


def sampled(step=2.0, zero=0.0, column="lift [in]", scale=1.0, lift=0.340, digits=6):
    """Return a lift table of the V8's own law, its nose at the wheel's `zero`."""
    angles = np.arange(-144, 144.1, step)
    pairs = zip(angles + zero, scale * law(angles, lift), strict=True)
    return "\n".join(
        [f"angle [deg],{column}", *(f"{angle:.1f},{lift:.{digits}f}" for angle, lift in pairs), ""]
    )


def with_table(folder, text, follower="flat"):
    """Return the engine whose intake lobe is a table beside its file."""
    (folder / "lift.csv").write_text(text, encoding="utf-8")
    return load_engine(engine_file(folder, follower=follower))


def answers(engine):
    """Return the intake's least gap in inches, where it is, and the effective ratio."""
    found = least_piston_to_valve(engine, "intake")
    ratio = engine.effective_compression_ratio.m_as("")
    return found.clearance.m_as(IN), found.crank_angle.m_as("deg"), ratio


# --- against a source: the worked numbers of the invented V8 ------------------------------------

TABLES = {
    "inches": {},
    "millimetres": {"column": "lift [mm]", "scale": 25.4},
    "wheel zero anywhere": {"zero": 213.5},
    "past 720": {"zero": 660.0},
    "every degree": {"step": 1.0},
    "every four degrees": {"step": 4.0},
}


@pytest.mark.parametrize("kind", TABLES)
def test_a_table_of_the_engines_own_law_gives_its_figures(tmp_path, kind):
    engine = with_table(tmp_path, sampled(**TABLES[kind]))
    gap, angle, ratio = answers(engine)
    assert gap == pytest.approx(WORKED["v8.ptv_i"], abs=0.0005)
    assert angle == pytest.approx(WORKED["v8.ptv_i_at"], abs=0.5)
    assert ratio == pytest.approx(WORKED["v8.dcr"], abs=0.01)
    assert not [remark for remark in engine.remarks if "table" in remark]


def test_one_pair_of_the_card_gives_the_closed_law(tmp_path):
    pair = 'duration = [{ angle = "222.99 deg", at_lift = "0.050 in" }]'
    engine = load_engine(engine_file(tmp_path, f'lobe_lift = "0.340 in"\n{pair}'))
    gap, angle, ratio = answers(engine)
    assert (gap, angle) == (worked("v8.ptv_i"), pytest.approx(WORKED["v8.ptv_i_at"], abs=0.02))
    assert ratio == pytest.approx(WORKED["v8.dcr"], abs=0.001)  # the card's angle is rounded
    assert np.degrees(engine.lobes["intake"].duration(0.0)) == pytest.approx(284, abs=0.01)


@pytest.mark.parametrize(("follower", "refused"), [("flat", True), ("roller", False)])
def test_a_flank_is_concave_above_the_worked_lobe_lift(follower, refused):
    edge = WORKED["v8.lobe_i_concave_above"]
    for lift, beyond in ((edge - 1e-4, False), (edge + 1e-4, True), (0.40, True)):
        changes = {"camshaft.follower": follower, "intake.lobe_lift": f"{lift:.4f} in"}
        if refused and beyond:
            said = (
                r"^intake\.lobe_lift: lobe lift and base circle do not go together: the flank is"
                rf" concave for a flat follower above {edge} in$"
            )
            with pytest.raises(ValueError, match=said):
                DRAWN.altered(changes)
        else:
            made = DRAWN.altered(changes)
            assert made.lobes["intake"].lobe_lift == pytest.approx(lift * 0.0254, rel=1e-9)


# --- against geometry and identities ------------------------------------------------------------

PAIRS = [  # crank degrees at lobe lifts in inches
    ((268, 0.006), (224, 0.050)),
    ((280, 0.004), (222, 0.050)),
    ((224, 0.050), (140, 0.200)),
    ((290, 0.0), (230, 0.050)),
]


@pytest.mark.parametrize("pairs", PAIRS)
def test_two_pairs_are_both_met_exactly(tmp_path, pairs):
    rows = ", ".join(f'{{ angle = "{angle} deg", at_lift = "{lift} in" }}' for angle, lift in pairs)
    text = f'lobe_lift = "0.340 in"\nduration = [{rows}]'
    engine = load_engine(engine_file(tmp_path, text, "roller"))
    swapped = engine.altered(
        {"intake.duration": [{"angle": f"{a} deg", "at_lift": f"{at} in"} for a, at in pairs[::-1]]}
    )
    for each in (engine, swapped):
        lobe = each.lobes["intake"]
        assert lobe.lobe_lift == pytest.approx(0.340 * 0.0254, rel=1e-12)
        for angle, lift in pairs:
            assert np.degrees(lobe.duration(lift * 0.0254)) == pytest.approx(angle, abs=1e-6)
            edges = np.radians([-angle / 2, angle / 2])
            assert_allclose(lobe.lift(edges) / 0.0254, lift, rtol=0, atol=1e-9)
    assert answers(swapped) == answers(engine)


@pytest.mark.parametrize(("encoding", "end"), [("utf-8", "\n"), ("utf-8-sig", "\r\n")])
def test_how_the_table_was_saved_changes_nothing(tmp_path, encoding, end):
    plain = with_table(tmp_path, sampled())
    (tmp_path / "other").mkdir()
    path = tmp_path / "other" / "lift.csv"
    path.write_bytes(sampled().replace(",", ", ").replace("\n", end).encode(encoding))
    assert answers(load_engine(engine_file(tmp_path / "other"))) == answers(plain)


def test_the_wheels_zero_does_not_matter(tmp_path):
    first = answers(with_table(tmp_path, sampled()))
    for zero in (-300.0, 17.25 * 2, 541.0):
        assert_allclose(answers(with_table(tmp_path, sampled(zero=zero))), first, rtol=1e-5)


# --- behaviour ----------------------------------------------------------------------------------


def test_the_table_is_found_beside_the_file_and_stays_through_changes(tmp_path, monkeypatch):
    beside, elsewhere = tmp_path / "beside", tmp_path / "elsewhere"
    beside.mkdir()
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    engine = with_table(beside, sampled())
    was = answers(engine)
    changed = engine.altered({"crank.stroke": "3.660 in"}).altered({"crank.stroke": "3.640 in"})
    assert answers(changed) == was
    assert answers(changed.altered({"intake.rocker_ratio": 1.65}))[0] == pytest.approx(
        WORKED["plan.ptv_i_ratio_1.65"], abs=0.0005
    )
    save_engine(engine.altered({"rod.mass_small_end": "170 g"}), beside / "engine.toml")
    again = load_engine(beside / "engine.toml")
    assert (answers(again), again.intake.table) == (was, "lift.csv")


def test_saving_elsewhere_without_the_table_is_refused(tmp_path):
    # written without its table, the file could not be read again; and the engine in hand, which
    # would look for the table in its new folder, could no longer be altered
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    engine = with_table(tmp_path, sampled())
    with pytest.raises(ValueError, match=r"lift\.csv"):
        save_engine(engine, elsewhere / "engine.toml")
    assert answers(engine.altered({"crank.stroke": "3.640 in"})) == answers(engine)


@pytest.mark.parametrize(("step", "digits"), [(1.0, 4), (2.0, 3), (5.0, 3)])
def test_a_table_read_to_what_an_indicator_shows_is_not_called_concave(tmp_path, step, digits):
    # the same lobe as above, rounded to the indicator's last digit: second differences of the rows
    # are that digit's noise, not the flank's shape, and the flat follower did make this lobe
    engine = with_table(tmp_path, sampled(step=step, digits=digits))
    gap, _, ratio = answers(engine)
    assert gap == pytest.approx(WORKED["v8.ptv_i"], abs=0.001)
    assert ratio == pytest.approx(WORKED["v8.dcr"], abs=0.02)


def test_a_table_changed_on_disk_is_read_anew(tmp_path):
    before = answers(with_table(tmp_path, sampled()))[0]
    assert answers(with_table(tmp_path, sampled(lift=0.330)))[0] > before + 0.003


def test_a_table_is_not_scaled_by_a_lobe_lift_left_in_the_file(tmp_path):
    (tmp_path / "lift.csv").write_text(sampled(lift=0.330), encoding="utf-8")
    with pytest.raises(ValueError, match="a lift table and a card's lobe_lift or duration; give"):
        load_engine(engine_file(tmp_path, f'table = "lift.csv"\n{CARD}'))


HEAD = "angle [deg],lift [in]"
FAULTS = {
    "not closed": ("\n-60,0.08\n-30,.2\n0,.34\n30,.2\n60,0", "not closed: ends at 0.08 and 0 "),
    "not rising": ("\n-60,0\n-30,.2\n-30,.34\n30,.2\n60,0", "row 3: angles must rise"),
    "negative": ("\n-60,0\n-30,-.2\n0,.34\n30,.2\n60,0", "row 2: negative lift, got -30 deg, -0.2"),
    "text": ("\n-60,0\n-30,.2\n0,.34\n30,0.2o\n60,0", "row 4: lift is not a number"),
    "text angle": ("\n-60,0\nx,.2\n0,.34\n30,.2\n60,0", "row 2: angle is not a number"),
    "blank": ("\n-60,0\n-30,.2\n0,\n30,.2\n60,0", "row 3: lift is not a number"),
    "too long": ("\n-60,0\n-30,.2\n0,.34\n30,.2\n661,0", "row 5: more than 720 deg"),
    "too short": ("\n-60,0\n0,.34\n60,0", "a lobe needs five rows"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_of_the_table_names_the_field_and_the_row(tmp_path, fault):
    rows, said = FAULTS[fault]
    with pytest.raises(ValueError, match=f"(?i)^engine.toml: intake.table: .*{said}"):
        with_table(tmp_path, HEAD + rows)


@pytest.mark.parametrize(
    "text",
    ["angle,lift\n0,0\n", "angle [deg],lift [cm]\n0,0\n", "angle [deg],lift [in],lift [mm]\n", "x"],
)
def test_other_columns_are_refused_with_those_that_are_needed(tmp_path, text):
    said = r"intake\.table: lift\.csv needs the columns angle \[deg\] and lift \[in\] or lift \[mm"
    with pytest.raises(ValueError, match=said):
        with_table(tmp_path, text)


# pandas' own words name neither the file nor what to write in it
@pytest.mark.parametrize("text", ["", "\x00\x01\n", "angle [deg],lift [in]\n0,0\n1,2,3\n"])
def test_what_is_no_table_at_all_is_a_fault_of_that_field(tmp_path, text):
    with pytest.raises(ValueError, match=r"^engine\.toml: intake\.table: .*lift(\.csv| table)"):
        with_table(tmp_path, text)


def test_decimal_commas_are_never_read_as_other_lifts(tmp_path):
    with pytest.raises(ValueError, match=r"intake\.table: "):
        with_table(tmp_path, sampled().replace(".", ","))


def test_a_table_that_is_not_there_is_named(tmp_path):
    said = r"intake\.table: there is no file lift\.csv beside the engine file"
    with pytest.raises(ValueError, match=said):
        load_engine(engine_file(tmp_path))


def test_rows_that_may_be_misread_are_remarked_and_still_used(tmp_path):
    rows = sampled(step=4.0).splitlines()
    rows[60] = f"{rows[60].partition(',')[0]},0.100000"  # well down the closing flank
    wide = [row for at, row in enumerate(rows) if at not in range(20, 24)]
    engine = with_table(tmp_path, "\n".join(wide), "roller")
    said = [remark for remark in engine.remarks if remark.startswith("intake lift table: ")]
    assert any("rises again" in remark and "misread row" in remark for remark in said)
    assert any("row 20: a step of more than 15" in remark for remark in said)
    assert Q(engine.lobes["intake"].lobe_lift, "m").m_as(IN) == pytest.approx(0.340, abs=1e-4)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (
            '{ angle = "224 deg", at_lift = "6 thou" }, { angle = "268 deg", at_lift = "50 thou" }',
            r"intake\.duration: .*lower one with the longer",
        ),
        ('{ angle = "224 deg" }', r"intake\.duration\.row 1: at_lift is missing"),
        ('{ angle = "224 deg", at_lift = "0.4 in" }', r"must be less than the lobe lift of 0\.34"),
    ],
)
def test_pairs_that_do_not_go_together_are_refused(tmp_path, rows, said):
    with pytest.raises(ValueError, match=said):
        load_engine(engine_file(tmp_path, f'lobe_lift = "0.340 in"\nduration = [{rows}]'))
