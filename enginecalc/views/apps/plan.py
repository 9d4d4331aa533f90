"""Chapter 01: plan A beside plan B, the stack to scale, and the one dimension still to be found."""

import textwrap

import ipywidgets as widgets
import numpy as np

from enginecalc import crank, cylinder
from enginecalc.records import results
from enginecalc.records.figures import PLAN_RESULTS
from enginecalc.units import Q
from enginecalc.views import tables
from enginecalc.views.chapter import Chapter
from enginecalc.views.figures import DeckZone, RatioLines, Stack
from enginecalc.views.finder import DimensionFinder, EngineSaver
from enginecalc.views.sources import engine_of

_SAME = "the same file"
_LENGTH = {"inch": ("in", 3), "metric": ("mm", 2)}
_GASKETS = 5
_STEP = {"inch": Q(0.010, "inch"), "metric": Q(0.25, "mm")}
_CAUTION = (
    "A computed gap replaces no clay, wire or feeler check. Catalogue figures are not parts: order"
    " no piston before the block's deck height has been measured. The part maker's figures win."
)
# heading or label, where it stands, kind, ends of its slider
_FIELDS = (
    ("plan B: block",),
    ("bore", "block.bore", "length", Q(3, "inch"), Q(5, "inch")),
    ("deck height", "block.deck_height", "length", Q(7, "inch"), Q(11, "inch")),
    ("plan B: crank, rod, piston",),
    ("stroke", "crank.stroke", "length", Q(2.5, "inch"), Q(4.75, "inch")),
    ("rod length", "rod.length", "length", Q(4.5, "inch"), Q(7.5, "inch")),
    (
        "compression height",
        "piston.compression_height",
        "length",
        Q(0.9, "inch"),
        Q(2.2, "inch"),
    ),
    ("dish + / dome −", "piston.dish_volume", "volume", Q(-30, "cc"), Q(40, "cc")),
    ("pin offset", "piston.pin_offset", "length", Q(-2, "mm"), Q(2, "mm")),
    ("plan B: gasket and head",),
    ("gasket bore", "gasket.bore", "length", Q(3, "inch"), Q(5.2, "inch")),
    ("gasket thickness", "gasket.thickness", "length", Q(0.015, "inch"), Q(0.12, "inch")),
    ("chamber volume", "head.chamber_volume", "volume", Q(25, "cc"), Q(120, "cc")),
    ("plan B: valves and speed",),
    ("intake centerline", "intake.centerline", "angle", Q(95, "deg"), Q(120, "deg")),
    ("engine speed", "running.engine_speed", "turning speed", Q(1000, "rpm"), Q(9000, "rpm")),
)


class PlanChapter(Chapter):
    """Compare an engine as changed here (plan B) with one as it stands in a file (plan A)."""

    figure_sizes = ((6.4, 4.5), (6.4, 3.7))

    def __init__(self, file="quarry-pump-v8-long-stroke", beside="quarry-pump-v8"):
        self._beside, self._plan_a = beside, None
        super().__init__(file)

    def build(self):
        self.file.description = "plan B from"
        names = (_SAME, *self.file.options)
        self.beside = widgets.Dropdown(
            options=names,
            value=self._beside if self._beside in names else _SAME,
            description="plan A",
        )
        self.turn = widgets.IntSlider(
            description="crank angle after TDC",
            max=360,
            style={"description_width": "initial"},
            layout=widgets.Layout(width="auto"),
        )
        for control in (self.beside, self.turn):
            control.observe(self.refresh, "value")
        self.top.children = (self.beside, *self.top.children)
        self.make_artists()
        self.finder = DimensionFinder(self)
        self.saver = EngineSaver(self, self._saved)
        self.beneath.children = [
            self.group("find one dimension of plan B"),
            self.finder,
            self.group("keep plan B"),
            self.saver,
        ]
        return [
            *(self.field(*each) if len(each) > 1 else self.group(*each) for each in _FIELDS),
            self.group("view"),
            self.turn,
        ]

    def make_artists(self):
        """Put the drawings on the two figures, once."""
        plans = ("plan A", "plan B")
        halves = self.figures[0].subplots(1, 2)
        self.stacks = [Stack(ax, plan) for ax, plan in zip(halves, plans, strict=True)]
        left, right = self.figures[1].subplots(1, 2, width_ratios=(3, 2))
        self.lines = RatioLines(left, _GASKETS, plans)
        self.zone = DeckZone(right, plans)

    def _saved(self, stem):
        self.offer()
        beside = self.beside.value
        self.beside.unobserve(self.refresh, "value")
        self.beside.options = (_SAME, *self.file.options)
        self.beside.value = beside
        self.beside.observe(self.refresh, "value")
        self.drafts().clear()  # it is in the new file
        self.file.value = stem

    def refresh(self, *_):
        super().refresh()
        self.finder.forget()

    def results(self, engine):
        name = self.file.value if self.beside.value == _SAME else self.beside.value
        if self._plan_a is None or self._plan_a[0] != name:
            beside = engine_of(name)
            self._plan_a = name, beside, _by_name(results(beside, PLAN_RESULTS))
        return (
            self._plan_a[1:],
            (engine, _by_name(results(engine, PLAN_RESULTS))),
            self._ratios(engine.values, self._plan_a[1].values["head.chamber_volume"]),
        )

    def _ratios(self, values, other_chamber):
        """Return chamber volumes, gaskets, and a line of plan B's ratios for each gasket.

        The volumes reach as far as plan A's chamber, which has a point in the picture.
        """
        chamber = values["head.chamber_volume"]
        ends = min(0.75 * chamber, 0.95 * other_chamber), max(1.3 * chamber, 1.05 * other_chamber)
        chamber = np.linspace(*ends, 40)
        step, thickness = _STEP[self.system.value].m_as("m"), values["gasket.thickness"]
        thinnest = thickness - step if thickness > 1.5 * step else thickness
        gaskets = thinnest + step * np.arange(_GASKETS)
        volume = cylinder.clearance_volume.kernel(
            values["block.bore"],
            values["deck_clearance"],
            chamber,
            values["piston.dish_volume"],
            values["gasket.bore"],
            gaskets[:, np.newaxis],
            values["piston.crevice_volume"],
        )
        ratios = cylinder.compression_ratio.kernel(values["swept_volume"], volume)
        return Q(chamber, "m**3"), Q(gaskets, "m"), np.where(volume > 0, ratios, np.nan)

    def draw(self, found):
        (a, results_a), (b, results_b), (chamber, gaskets, ratios) = found
        system = self.system.value
        unit, decimals = _LENGTH[system]
        self._draw_stacks((a, b), system)
        self._draw_zone(((a, results_a), (b, results_b)), system)
        self.lines.place(
            chamber,
            ratios,
            [f"{each:.{decimals}f} {unit}" for each in gaskets.m_as(tables.UNITS[unit])],
            [(engine.head.chamber_volume, engine.values["compression_ratio"]) for engine in (a, b)],
        )
        causes = tables.main_causes(results_b["compression_ratio"])
        self.numbers.value = (
            tables.comparison_table(results_a.values(), results_b.values(), system)
            + tables.paragraphs(
                f"What makes plan B's compression ratio unsure: {causes}." if causes else "",
                _CAUTION,
            )
            + tables.not_worked_out(results_b.values())
        )
        answer = _answer(results_a, results_b, system)
        return answer, [
            f"Both plans cut open to scale, the crank {self.turn.value} degrees after top dead"
            f" center. {answer}",
            f"Compression ratio against chamber volume for {_GASKETS} gaskets from"
            f" {gaskets[0].m_as(tables.UNITS[unit]):.{decimals}f} {unit} up; plan B stands at"
            f" {b.head.chamber_volume:~P} and {b.values['compression_ratio']:.1f}.",
        ]

    def _draw_zone(self, plans, system):
        unit, _ = _LENGTH[system]
        quench = plans[1][1]["quench_distance"]
        limits = tables.say_limits(quench, system)
        self.zone.place(
            [
                (
                    named["deck_clearance"].value,
                    engine.gasket.thickness,
                    quench.low,
                    quench.high,
                    "quench\n" + tables.say_result(named["quench_distance"], system),
                )
                for engine, named in plans
            ],
            unit,
            textwrap.fill(f"dotted: the piston's flat at a quench of {limits}", 30)
            if limits
            else "",
        )

    def _draw_stacks(self, engines, system):
        """Hand each engine's sizes to its drawing, both to one scale."""
        unit, decimals = _LENGTH[system]
        for stack, engine in zip(self.stacks, engines, strict=True):
            parts, heights, pins = _stack_sizes(engine, np.radians(self.turn.value))
            names = ("half stroke", "rod length", "compression height", "deck clearance")
            shown = (heights[0], engine.rod.length, *heights[2:])
            labels = [
                f"{name}\n{tables.number(each.m_as(tables.UNITS[unit]), decimals)} {unit}"
                for name, each in zip(names, shown, strict=True)
            ]
            stack.place(parts, heights, pins, labels)
        boxes = [(stack.ax.get_xlim(), stack.ax.get_ylim()) for stack in self.stacks]
        for stack in self.stacks:
            stack.ax.set_xlim(min(box[0][0] for box in boxes), max(box[0][1] for box in boxes))
            stack.ax.set_ylim(min(box[1][0] for box in boxes), max(box[1][1] for box in boxes))


def _by_name(some):
    return {each.name: each for each in some}


def _stack_sizes(engine, after_tdc):
    """Return parts, heights, pins for `Stack.place`; what is not given is drawn in proportion."""
    values = engine.values
    bore, stroke, rod = (values[name] for name in ("block.bore", "crank.stroke", "rod.length"))
    offset, height = values["pin_axis_offset"], values["piston.compression_height"]
    angle = crank.tdc_angle.kernel(stroke, rod, offset) + after_tdc
    depth = crank.piston_position.kernel(angle, stroke, rod, offset)
    deck, clearance, throw = values["block.deck_height"], values["deck_clearance"], stroke / 2
    top = deck - clearance - height

    def size(given, otherwise):
        return otherwise if given is None else given.m_as("m")

    parts = {
        "bore": bore,
        "gasket_bore": values["gasket.bore"],
        "gasket_thickness": values["gasket.thickness"],
        "chamber_depth": values["head.chamber_volume"] / (np.pi / 4 * bore**2),
        "piston_height": height + size(engine.piston.skirt_below_pin, 0.2 * bore),
        "bore_bottom": size(engine.block.bore_bottom, deck - stroke - height - 0.1 * bore),
        "deck_height": deck,
        "throw": throw,
        "compression_height": height,
        "big_end": size(engine.crank.rod_journal, 0.55 * bore) * 0.62,
        "crank_pin": size(engine.crank.rod_journal, 0.55 * bore) / 2,
        "main": size(engine.crank.main_journal, 0.62 * bore) / 2,
        "pin": size(engine.piston.pin_diameter, 0.23 * bore) / 2,
    }
    heights = (throw, top - throw, height, clearance)
    pins = (throw * np.sin(angle), throw * np.cos(angle), offset, top - depth)
    return (
        {name: Q(each, "m") for name, each in parts.items()},
        [Q(each, "m") for each in heights],
        [Q(each, "m") for each in pins],
    )


def _answer(results_a, results_b, system):
    """Return plan B in one sentence."""
    deck, quench = results_b["deck_clearance"], results_b["quench_distance"]
    side = "below" if deck.value.magnitude >= 0 else "above"
    limits = tables.say_limits(quench, system, with_source=False)
    effective = tables.say_result(results_b["effective_compression_ratio"], system)
    size = results_b["displacement"]
    more = tables.say_change(results_a["displacement"], size, system)
    return (
        f"Plan B: the piston stands {tables.say('deck_clearance', abs(deck.value), system)} {side}"
        f" the deck; quench {tables.say_result(quench, system)}, {tables.say_status(quench)}"
        + (f": {limits} ({quench.source})" if limits else "")
        + f"; compression ratio {results_b['compression_ratio'].value.magnitude:.1f}"
        + (f", effective {effective}" if effective else "")
        + f"; {tables.say_result(size, system)}, {more} against plan A."
    )
