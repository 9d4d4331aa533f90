"""Layouts, their firing, what is refused of them; the reference tables and where they lie."""

import ast
import itertools
import re
import sys
from pathlib import Path

import pytest

import enginecalc
from enginecalc.records import figures, folder, load_engine, reference
from enginecalc.records.layout import layout_names, layout_numberings, layout_table
from enginecalc.records.reference import rows, sizes, table
from enginecalc.units import read, ureg
from tests.figures import WORKED

ENGINES = Path(__file__).parent.parent / "data" / "engines"
V8 = load_engine(ENGINES / "quarry-pump-v8.toml")
I4 = load_engine(ENGINES / "ferry-four.toml")
ALL = [(name, each) for name in layout_names() for each in layout_numberings(name)]


def with_layout(name, numbering="along the crank"):
    return I4.altered({"layout": layout_table(name, numbering)})


def gaps(layout):
    """Return the angles from firing to firing, the last one to the first of the next cycle."""
    instants = [*layout.firing_angles().values(), 720.0]
    return [after - before for before, after in itertools.pairwise(instants)]


def groups(layout):
    return {frozenset(group) for group in layout.companions()}


# --- against a source: the worked numbers of the invented engines ------------------------------


def tops(layout):
    """Return the crank angle of each top with names as JSON writes them."""
    return {str(number): angle for number, angle in layout.tdc_angles().items()}


def test_phasing_of_the_cross_plane_v8():
    layout = V8.layout
    assert tops(layout) == pytest.approx(WORKED["phase.tdc"])
    assert list(layout.firing_angles()) == [1, 5, 7, 2, 6, 8, 4, 3]
    instants = list(layout.firing_angles().values())
    assert instants == pytest.approx(WORKED["phase.firing_instants"])
    assert groups(layout) == {frozenset(pair) for pair in WORKED["phase.companions"]}
    assert layout.pin_angles().m_as("deg") % 360 == pytest.approx([45, 135, 315, 225])
    assert gaps(with_layout("V6 90°, shared pins").layout) == pytest.approx(WORKED["phase.v6_gaps"])


MIRRORED = {"layout.rotation": "reverse"}
SAME_CRANK = {**MIRRORED, "layout.crank_pins": ["0 deg", "270 deg", "90 deg", "180 deg"],
              "layout.firing_order": [1, 3, 4, 8, 6, 2, 7, 5]}  # fmt: skip


def test_the_same_crank_turned_the_other_way():
    layout = V8.altered(SAME_CRANK).layout
    assert tops(layout) == pytest.approx(WORKED["phase.tdc_same_crank_reversed"])
    assert gaps(layout) == pytest.approx([90] * 8)


def test_the_same_leads_the_other_way_are_a_mirrored_crank():
    with pytest.raises(ValueError, match=WORKED["phase.reverse_same_leads_message"]) as refusal:
        V8.altered(MIRRORED)
    assert "same crank turned the other way? Then the leads change sign" in str(refusal.value)
    mirrored = V8.layout.model_copy(update={"rotation": "reverse"})
    assert tops(mirrored) == pytest.approx(WORKED["phase.tdc_reverse_same_leads"])


# --- against geometry and identities -----------------------------------------------------------

EVENLY = {"inline 1": 1, "inline 2, pins together": 2, "inline 3": 3, "inline 4": 4, "inline 5": 5,
          "inline 6": 6, "inline 8": 8, "V6 60°, split pins": 6, "V6 90°, split pins": 6,
          "V8 90°, cross-plane": 8, "V8 90°, flat-plane": 8, "flat 2": 2, "flat 4": 4,
          "flat 6": 6}  # fmt: skip
UNEVENLY = {"inline 2, pins opposed": [180, 540], "V6 60°, shared pins": [180, 60] * 3,
            "V6 90°, shared pins": [150, 90] * 3}  # fmt: skip
GAPS = {name: [720 / count] * count for name, count in EVENLY.items()} | UNEVENLY


@pytest.mark.parametrize(("name", "numbering"), ALL)
def test_every_layout_makes_an_engine_that_fires_as_stated(name, numbering):
    engine = with_layout(name, numbering)
    assert gaps(engine.layout) == pytest.approx(GAPS[name])
    assert max(engine.layout.firing_angles().values()) < 720
    assert len(engine.layout.cylinder) == len(GAPS[name])
    assert engine.displacement.m == pytest.approx(I4.displacement.m / 4 * len(GAPS[name]))
    doubt = [each for each in engine.remarks if "together, or a turn apart?" in each]
    assert len(doubt) == (name in ("inline 2, pins together", "flat 2"))


@pytest.mark.parametrize(
    "name", [name for name in layout_names() if len(layout_numberings(name)) == 2]
)
def test_numbering_per_bank_is_the_same_engine_by_other_names(name):
    along, per_bank = (with_layout(name, each).layout for each in ("along the crank", "per bank"))
    new = dict(zip(along.numbers, per_bank.numbers, strict=True))
    assert [new[number] for number in along.firing_order] == per_bank.firing_order
    assert {new[key]: angle for key, angle in along.tdc_angles().items()} == per_bank.tdc_angles()
    for side, letter in (("left", "L"), ("right", "R")):
        bank = [each.number for each in per_bank.cylinder if each.bank == side]
        assert bank == [f"{place}{letter}" for place in range(1, len(bank) + 1)]


COMPANIONS = {
    "inline 4": [{1, 4}, {2, 3}],
    "inline 6": [{1, 6}, {2, 5}, {3, 4}],
    "inline 3": [],
    "inline 2, pins together": [{1, 2}],
    "V6 90°, shared pins": [],
    "V6 60°, split pins": [{1, 4}, {2, 5}, {3, 6}],
    "V8 90°, flat-plane": [{1, 7}, {2, 8}, {3, 5}, {4, 6}],
    "flat 4": [{1, 2}, {3, 4}],
}


@pytest.mark.parametrize("name", COMPANIONS)
def test_companions_reach_the_top_together(name):
    assert groups(with_layout(name).layout) == {frozenset(group) for group in COMPANIONS[name]}


def test_the_cross_plane_crank_allows_eight_even_orders():
    # even is one every 90 degrees: by plain remainders, then by walking every order
    tops = {1: 0, 2: 270, 3: 270, 4: 180, 5: 90, 6: 0, 7: 180, 8: 90}
    even, walked = [], []
    for rest in itertools.permutations(range(2, 9)):
        order = [1, *rest]
        if all((90 * at - tops[number]) % 360 == 0 for at, number in enumerate(order)):
            even.append(order)
        layout = V8.layout.model_copy(update={"firing_order": order})
        if abs(max(layout.firing_angles().values()) - 630) < 1e-6:
            walked.append(order)
    assert len(even) == WORKED["phase.possible_orders"] == 8
    assert walked == even
    for order in even:
        layout = V8.altered({"layout.firing_order": order}).layout
        assert gaps(layout) == pytest.approx([90] * 8)


# --- behaviour: what is refused of a layout ----------------------------------------------------


@pytest.fixture
def must_end():
    """Turn a reader that goes round for ever into a failing test."""
    calls = itertools.count()

    def count(*_):
        if next(calls) > 400_000:
            sys.setprofile(None)
            raise RuntimeError("the reader goes round for ever")

    sys.setprofile(count)
    yield
    sys.setprofile(None)


def cylinders(**changes):
    made = layout_table("V8 90°, cross-plane")["cylinder"]
    made[2] |= changes
    return {"layout.cylinder": [{k: v for k, v in each.items() if v is not None} for each in made]}


PINS = ["0 deg", "90 deg", "270 deg"]
ORDER = [1, 5, 7, 2, 6, 8, 4]
FIRING, PIN = "layout.firing_order", "layout.crank_pins"
REFUSED = [
    ({FIRING: ORDER}, r"^layout\.firing_order leaves out 3; every cylinder stands in it once$"),
    ({FIRING: [*ORDER, 4]}, r"^layout\.firing_order leaves out 3 and repeats 4; every .* once$"),
    ({FIRING: [*ORDER, 9]}, r"^layout\.firing_order leaves out 3 and names 9; every .* once$"),
    ({FIRING: [*ORDER, "3"]}, r"^layout\.firing_order "),
    ({FIRING: [*ORDER, 3.5]}, r"^layout\.firing_order\.row 8: 3\.5 is not a cylinder number"),
    ({FIRING: [*ORDER, True]}, r"^layout\.firing_order\.row 8: True is not a cylinder number"),
    ({FIRING: [1, 2, 3, 4, 5, 6, 7, 8]}, "more than 720 degrees: cylinder 4 would fire at 900"),
    ({PIN: [*PINS, 180]}, r"^layout\.crank_pins\.row 4: 180 has no unit; write it like"),
    ({PIN: [*PINS, "180 mm"]}, r"^layout\.crank_pins\.row 4: 180 mm is not an angle"),
    ({PIN: [*PINS, ""]}, r"^layout\.crank_pins\.row 4"),
    ({PIN: PINS}, r"^layout\.cylinder 7: pin 4 is not one of the 3 crank_pins\n.* 8: pin 4"),
    ({"layout.bank_angle": None}, r"^layout\.bank_angle is missing: the angle between the banks"),
    ({"layout.bank_angle": "90 mm"}, r"^layout\.bank_angle: 90 mm is not an angle; .*$"),
    ({"layout.kind": "inline"}, r"^layout\.cylinder 1: bank left does not fit kind inline; write"),
    ({"layout.kind": "flat"}, "both banks on pin 1; that is a 180° V; a boxer has a pin per cyl"),
    ({"layout.kind": "W"}, r"^layout\.kind: 'W' is not one of inline, V, flat$"),
    ({"layout.rotation": "left"}, r"^layout\.rotation: 'left' is not one of standard, reverse$"),
    ({"layout.kind": None}, r"^layout\.kind is missing; start from a layout to have it written"),
    (cylinders(number=None), r"^layout\.cylinder\.row 3: number is missing$"),
    (cylinders(bank=None), r"^layout\.cylinder\.row 3: bank is missing$"),
    (cylinders(pin=0), r"^layout\.cylinder\.row 3\.pin: 0 is not a whole number from 1 up; .*$"),
    (cylinders(pin=9), r"^layout\.cylinder 3: pin 9 is not one of the 4 crank_pins$"),
    (cylinders(bank="inline"), r"^layout\.cylinder 3: bank inline does not fit kind V; write l"),
    (cylinders(pin=4), r"^layout\.cylinder 7: shares pin 4 and bank with cylinder 3$"),
    (cylinders(number=2), r"^layout\.cylinder 2: is listed twice\nlayout\.firing_order names 3; "),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "match"), REFUSED)
@pytest.mark.usefixtures("must_end")
def test_a_layout_that_cannot_be_is_refused(changes, match):
    with pytest.raises(ValueError, match=match) as refusal:
        V8.altered(changes)
    if match.endswith("$"):
        assert len(str(refusal.value).splitlines()) == 1


def test_an_unknown_layout_or_numbering_is_told_the_known_ones():
    with pytest.raises(ValueError, match=r"^layout 'W12' is not known; take one of inline 1; inl"):
        layout_table("W12")
    with pytest.raises(ValueError, match=r"'per bank' is not known for inline 4; take along the "):
        layout_table("inline 4", "per bank")
    with pytest.raises(ValueError, match=r"for flat 4; take along the crank or per bank$"):
        layout_table("flat 4", "from the rear")


# --- behaviour: the reference tables -----------------------------------------------------------


@pytest.mark.parametrize("name", ["limits", "ranges", "materials", "layouts"])
def test_every_row_of_a_table_has_a_source(name):
    assert len(table(name)) > 5
    assert all(source.strip() for source in table(name)["source"])


def test_tables_hold_figures_that_can_be_read():
    for row in table("limits").to_dict("records"):
        sides = [float(row[side]) for side in ("low", "high") if row[side]]
        assert sides == sorted(sides)
        assert sides
        assert (
            ureg.Unit(row["unit"]).dimensionality
            == ureg.Unit(figures.UNITS[row["result"]]).dimensionality
        )
    for path, ranges in sizes().items():
        for unit, ends in ranges.items():
            low, high = (read(f"{end} {unit}") for end in ends)
            assert low < high, path
    for row in rows("materials", "material").values():
        assert 5e-6 < float(row["expansion_per_degC"]) < 30e-6
        assert 50 < float(row["elastic_modulus_GPa"]) < 250


@pytest.mark.parametrize(("name", "key"), [("glossary", "name"), ("sources", "key")])
def test_keys_are_there_once(name, key):
    keys = list(table(name)[key])
    assert sorted(set(keys)) == sorted(keys)
    assert all(keys)


def test_book_numbers_have_the_right_check_digit():
    books = re.findall(r"ISBN ([\dX-]+)", " ".join(table("sources")["identifier"]))
    assert len(books) > 5
    for book in books:
        digits = [int(digit) for digit in book.replace("-", "")]
        assert len(digits) == 13, book
        assert sum(digits[::2] + [3 * digit for digit in digits[1::2]]) % 10 == 0, book


def test_every_source_named_is_in_the_list_of_sources():
    named = [
        (each.name, each.read_text(encoding="utf-8")) for each in folder("reference").glob("*.csv")
    ]
    for path in Path(enginecalc.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                named.append((path.name, ast.get_docstring(node) or ""))
    found = {
        (key, where)
        for where, text in named
        for key in re.findall(r"(?<!`)\[([a-z][a-z0-9_]{2,})\](?!`)", text)
        if key not in ureg  # units of parameters stand in brackets as well
    }
    assert len({key for key, _ in found}) > 8
    assert [each for each in sorted(found) if each[0] not in rows("sources", "key")] == []


def test_data_may_lie_in_a_folder_of_ones_own(tmp_path, monkeypatch):
    monkeypatch.delenv("ENGINECALC_DATA", raising=False)
    shipped = folder("engines")
    (tmp_path / "engines").mkdir()
    monkeypatch.setenv("ENGINECALC_DATA", str(tmp_path))
    assert folder("engines") == tmp_path / "engines"
    assert folder("reference").parent == shipped.parent
    monkeypatch.delenv("ENGINECALC_DATA")
    assert folder("engines") == shipped
    monkeypatch.setattr(reference, "_CHECKOUT", tmp_path / "nowhere")
    with pytest.raises(FileNotFoundError, match="no folder for builds: make builds in"):
        folder("builds")
    with pytest.raises(ValueError, match="kind must be one of engines, builds, "):
        folder("engine")
