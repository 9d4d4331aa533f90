"""The cards for the bench, read as a person reads them: from what stands on the paper."""

import itertools

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from enginecalc.records.assembly import Assembly
from enginecalc.records.layout import layout_table
from enginecalc.records.work_order import steps_of
from enginecalc.views.assembly_cards import CAUTION, cylinder_cards
from enginecalc.views.sheets import PAPERS
from tests.bench_work import BY, STEP, build_with
from tests.figures import WORKED
from tests.test_orientation import BACK, I4, V8

THIRTY = "three gaps, 30 deg from every axis"  # 30, 240 and 135 deg for standard rotation
RAILS = "five gaps, rails beside the expander"  # 315, 45, 180, 135 and 225 deg
GAPS = {
    ("standard", THIRTY): {"top": 30, "second": 240, "oil ring": 135},
    ("reverse", THIRTY): {"top": 330, "second": 120, "oil ring": 225},  # 360 less each
    ("standard", RAILS): {"top": 315, "second": 45, "oil expander": 180, "upper rail": 135,
                          "lower rail": 225},
    ("reverse", RAILS): {"top": 45, "second": 315, "oil expander": 180, "upper rail": 225,
                         "lower rail": 135},
}  # fmt: skip


@pytest.fixture
def bench(tmp_path):
    """Return a function that makes a build of an engine with the gaps and tangs it is told."""

    def made(engine, gaps="", tangs=None):
        build = build_with(tmp_path, engine)
        work = Assembly(build)
        if gaps:
            work.enter("engine", STEP["ring gap layout"], gaps, by=BY)
        for place, side in (tangs or {}).items():
            work.enter(place, STEP["tang side"], side, by=BY)
        return build

    return made


def page(card):
    """Return the axes over a whole card, in millimeters from its lower left corner."""
    return card.axes[-1]


def lines(card):
    """Return [[(x, words), ...], ...] of the lines of a card from above, each from the left."""
    by_height = {}
    for text in page(card).texts:
        (x, y), words = text.get_position(), text.get_text()
        if words:
            by_height.setdefault(round(y, 3), []).append((x, words))
    return [sorted(by_height[y]) for y in sorted(by_height, reverse=True)]


def facts(card):
    """Return {head: words} of what stands between picture and steps."""
    found, head = {}, ""
    for line in lines(card)[1:]:
        words = [words for _, words in line]
        if words[:2] == ["step", "must be"]:
            return found
        head = words[0] if len(words) == 2 else head
        found[head] = " ".join(filter(None, (found.get(head), words[-1])))
    raise AssertionError("the card has no steps")


def must_be(card):
    """Return {step: what must be found there}."""
    names = {each.name for each in steps_of("cylinder")}
    found = {}
    for line in lines(card):
        words = [words for _, words in line]
        if len(words) > 1 and words[1] in names:
            other = [each for each in words[2:] if each not in ("top", "second", "forward", "back")]
            found[words[1]] = other[0] if other else ""
    return found


def drawn(card):
    """Return the texts of the picture that are seen, in words without line breaks."""
    texts = [*card.texts, *(text for ax in card.axes[:-1] for text in (ax.title, *ax.texts))]
    return [text.get_text().replace("\n", " ") for text in texts
            if text.get_visible() and text.get_text()]  # fmt: skip


def gaps_drawn(card):
    """Return {ring: angle} of the gaps in the picture, from where the white line lies."""
    above, found = card.axes[0], {}
    names = [text for text in above.texts if text.get_visible() and text.get_text().endswith("°")]
    whites = [line for line in above.lines if line.get_color() == "white" and line.get_visible()]
    for white, text in zip(whites, names, strict=True):
        x, y = white.get_xydata().mean(axis=0)
        ring = text.get_text().rpartition("\n")[0].replace("\n", " ")
        found[ring] = np.degrees(np.arctan2(x, y)) % 360
    return found


# --- against a source -------------------------------------------------------------------------


@pytest.mark.parametrize(("engine", "key"), [(V8, "tdc"), (BACK, "tdc_same_crank_reversed")])
def test_the_crank_is_set_half_a_turn_after_each_worked_top(bench, engine, key):
    for number, card in enumerate(cylinder_cards(bench(engine)), 1):
        bottom = f"{(WORKED[f'phase.{key}'][str(number)] + 180) % 360:g}°"
        assert facts(card)["crank to"] == f"{bottom} from cylinder 1 at its top"
        assert any(each.startswith(f"from the front: crank at {bottom}, ") for each in drawn(card))


# --- against geometry and identities ----------------------------------------------------------


def test_every_card_is_of_its_own_cylinder(bench):
    # the pair on a pin is back to back: odd rods at the front with their chamfer to it
    cards = cylinder_cards(bench(V8))
    assert len(cards) == 8
    for number, card in enumerate(cards, 1):
        bank, faces = ("left", "front") if number % 2 else ("right", "rear")
        other = number + 1 if number % 2 else number - 1
        assert lines(card)[0] == [(12.0, f"Cylinder {number}, {bank} bank"),
                                  (pytest.approx(198.0), "Quarry pump V8")]  # fmt: skip
        told = must_be(card)
        assert [*told] == [each.name for each in steps_of("cylinder")]
        assert (told["cap number"], told["rod chamfer"]) == (str(number), faces)
        assert told["bolt torque"] == "45 lbf·ft"
        assert told["ring gaps filed"] == "0.0185 in · 0.0206 in or more"
        shown = drawn(card)
        assert {str(number), str(other), f"{bank} bank"} <= {*shown}
        assert not {str(each) for each in range(1, 9)} - {str(number), str(other)} & {*shown}
        chamfer = "◀ chamfer" if faces == "front" else "chamfer ▶"
        assert f"rod {number} {chamfer}" in shown
        assert f"of all rods on pin {(number + 1) // 2} together" in facts(card)["side play"]


@pytest.mark.parametrize("side", ["outer", "valley"])
def test_tangs_are_drawn_on_the_side_that_was_found_first(bench, side):
    # banks are mirrored and pairs back to back: outer is out on both
    assert all("tangs" not in drawn(card) for card in cylinder_cards(bench(V8)))
    cards = cylinder_cards(bench(V8, tangs={"4": side}))
    for number, card in enumerate(cards, 1):
        assert must_be(card)["tang side"] == side
        assert "tangs" in drawn(card)
        front = card.axes[1]
        (words,) = (text for text in front.texts if text.get_text() == "tangs")
        own, pin = np.radians(45.0 if number % 2 else -45.0), -1.0
        up, right = np.array([np.sin(own), np.cos(own)]), np.array([np.cos(own), -np.sin(own)])
        out = (np.array(words.get_position()) - pin * up) @ right * (1 if number % 2 else -1)
        assert (out > 0) == (side == "outer")  # the left bank leans right in the front view


@pytest.mark.parametrize(("turn", "name"), GAPS)
def test_gaps_are_those_of_the_layout_that_was_chosen(bench, turn, name):
    build = bench({"standard": V8, "reverse": BACK}[turn], name)
    for card in cylinder_cards(build, [1, 2, 8]):
        due = GAPS[turn, name]
        said = ", ".join(f"{ring} {angle}°" for ring, angle in due.items())
        assert facts(card)["ring gaps"] == f"{said}, clockwise from the front mark"
        assert gaps_drawn(card) == pytest.approx(due)


def test_gaps_that_nobody_chose_say_so(bench):
    (card,) = cylinder_cards(bench(V8), [3])
    assert facts(card)["ring gaps"].endswith("clockwise from the front mark (not chosen yet)")


# --- behaviour --------------------------------------------------------------------------------


def test_a_cylinder_keeps_its_name(bench):
    engine = V8.altered({"layout": layout_table("V8 90°, cross-plane", "per bank")})
    names = engine.layout.numbers
    cards = cylinder_cards(bench(engine))
    assert [lines(card)[0][0][1] for card in cards] == [
        f"Cylinder {name}, {'left' if str(name).endswith('L') else 'right'} bank" for name in names
    ]
    for name, card in zip(names, cards, strict=True):
        assert must_be(card)["cap number"] == str(name)
        assert facts(card)["crank to"].endswith(f"from cylinder {names[0]} at its top")


def test_a_card_speaks_the_units_it_is_asked_for(bench):
    # 45 lbf·ft are 61.0 N·m; 4.110 in by 0.0045 and 0.0050 are 0.470 and 0.522 mm
    (card,) = cylinder_cards(bench(V8), [3], system="metric")
    assert must_be(card)["bolt torque"] == "61 N·m"
    assert must_be(card)["ring gaps filed"] == "0.470 mm · 0.522 mm or more"
    assert facts(card)["side play"].startswith("0.457 mm as planned")  # 1.902 less 2 x 0.942 in


WORDY = V8.altered({
    "name": "Quarry pump V8 of the northern pit, third rebuild after the flood",
    "layout": layout_table("V8 90°, cross-plane", "per bank"),
    "rod_bolt.lubricant": "paste of molybdenum as the maker of the bolts sells it",
})  # fmt: skip
SEEN = [(V8, [1, 2, 5, 6], RAILS, {"1": "outer"}), (I4, [1, 2, 4], THIRTY, {"1": "left"}),
        (BACK, [1, 2, 7, 8], RAILS, {"1": "valley"}), (V8, [4], "", {}),
        (WORDY, ["1L", "4R"], RAILS, {"1L": "outer"})]  # fmt: skip


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("engine", "numbers", "gaps", "tangs"), SEEN)
def test_words_stand_whole_and_apart_on_the_paper(bench, engine, numbers, gaps, tangs, paper):
    build = bench(engine, gaps, tangs)
    cards = cylinder_cards(build, numbers, paper=paper)
    for card in [*cards, *cylinder_cards(build, numbers[:1], system="metric", paper=paper)]:
        FigureCanvasAgg(card).draw()
        assert card.get_size_inches() * 25.4 == pytest.approx(np.array(PAPERS[paper]))
        texts = [text for ax in card.axes for text in (ax.title, *ax.texts)] + card.texts
        texts = [text for text in texts if text.get_visible() and text.get_text()]
        spots = [(text.get_text(), text.get_window_extent()) for text in texts]
        assert CAUTION in dict(spots)
        edge = 5 / 25.4 * card.dpi  # what a printer may leave out
        for words, box in spots:
            assert box.x0 > edge, words
            assert box.y0 > edge, words
            assert box.x1 < card.bbox.width - edge, words
            assert box.y1 < card.bbox.height - edge, words
        for (one, here), (other, there) in itertools.combinations(spots, 2):
            assert not here.overlaps(there), (one, other)
        frames = [patch.get_window_extent() for patch in page(card).patches]
        assert len(frames) == 2 * len(steps_of("cylinder")) + 2  # two ring gaps, torque both ways
        for (words, box), frame in itertools.product(spots, frames):
            inside = frame.contains(*box.min) and frame.contains(*box.max)
            assert inside or not frame.overlaps(box), words


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"system": "feet"}, r'^cylinder_cards: system must be inch or metric, got "feet"\.$'),
        ({"paper": "A3"}, r'^cylinder_cards: paper must be A4 or Letter, got "A3"\.$'),
        ({"system": "mm", "paper": "B5"},
         r'^cylinder_cards: system must be .*, got "mm"; paper must be A4 or Letter, got "B5"\.$'),
        ({"cylinders": [1, 9]}, "9 is not in the engine; take one of 1, 2, 3, 4, 5, 6, 7, 8$"),
    ],
)  # fmt: skip
def test_what_there_is_not_is_refused(bench, asked, said):
    with pytest.raises(ValueError, match=said):
        cylinder_cards(bench(V8), **asked)
