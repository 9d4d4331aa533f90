"""Chapter 03: what the rod's length does to the piston's motion and to the bore's wall."""

import ipywidgets as widgets
import numpy as np

from enginecalc import crank
from enginecalc.records.rod_study import ORDERS, rod_study
from enginecalc.units import Q, read, to_si
from enginecalc.views import figures, rod_words, tables
from enginecalc.views.chapter import Chapter
from enginecalc.views.motion_figures import HarmonicBars, MotionCurves, MovingView, SideLoad

_SECOND = "second_rod.length"
_SHAPE = ("crank.stroke", "rod.length", "piston.pin_offset")
_FIELDS = (
    ("crank and rod",),
    ("stroke", "crank.stroke", "length", Q(2.5, "inch"), Q(4.75, "inch")),
    ("rod length", "rod.length", "length", Q(4.5, "inch"), Q(7.5, "inch")),
    ("pin offset", "piston.pin_offset", "length", Q(-2, "mm"), Q(2, "mm")),
    ("engine speed", "running.engine_speed", "turning speed", Q(1000, "rpm"), Q(9000, "rpm")),
    ("beside it",),
    ("second rod length", _SECOND, "length", Q(4.5, "inch"), Q(7.5, "inch")),
)


class RodRatioChapter(Chapter):
    """One cylinder's motion beside a sine's, with two rods compared."""

    figure_sizes = ((6.6, 5.6), (6.6, 3.1))

    def build(self):
        self.found = None
        moving, still = self.figures
        grid = moving.add_gridspec(3, 2, width_ratios=(1.05, 1))
        self.view = MovingView(moving.add_subplot(grid[:, 0]))
        self.curves = MotionCurves([moving.add_subplot(grid[row, 1]) for row in range(3)])
        self.side = SideLoad(still.subplots())
        self.spectrum, self.orders = widgets.HTML(), figures.new_figure(4.6, 3.4)
        self.spectrum.add_class("enginecalc-picture")
        self.bars = HarmonicBars(self.orders.subplots(), ORDERS)
        figures.settle(self.orders)
        self.turn = widgets.IntSlider(
            45, 0, 360, description="crank angle after TDC [deg]",
            style={"description_width": "initial"}, layout={"width": "auto"},
        )  # fmt: skip
        self.play = widgets.Play(
            value=45, min=0, max=360, step=5, interval=250, repeat=True, tooltip="turn the crank"
        )
        widgets.link((self.play, "value"), (self.turn, "value"))
        self.turn.observe(self._turned, "value")
        self.now = widgets.HTML()
        self.now.add_class("enginecalc-caption")
        self.under[0].children = [self.turn, self.play, self.now]
        fields = [self.field(*each) if len(each) > 1 else self.group(*each) for each in _FIELDS]
        return [*fields, self.group("what repeats how often"), self.spectrum]

    # --- what is typed ---

    def drafts(self):
        """Return what was typed, with a second rod a little longer than the file's to begin with.

        It is no field of the engine, yet kept by file like one.
        """
        drafts = super().drafts()
        if self.base is not None and _SECOND not in drafts:
            rod = self.base.rod.length
            metric = str(rod.units) == "millimeter"
            longer = Q(6, "mm") if metric else Q(0.24, "inch")
            drafts[_SECOND] = rod_words.written(rod + longer, "metric" if metric else "inch")
        return drafts

    def typed(self):
        """Return what was changed, the block raised with it so that the deck clearance stays."""
        typed = super().typed()
        self._second = typed.pop(_SECOND, None)
        return self._raised(typed)

    def _raised(self, typed):
        """Return changes with the deck height that goes with them; as they are if one is amiss."""
        if not typed.keys() & set(_SHAPE):
            return typed
        values = self.base.values
        old = [values["crank.stroke"], values["rod.length"], values["piston.pin_offset"]]
        try:
            new = [
                to_si(read(typed[path], "length")) if typed.get(path) else here
                for path, here in zip(_SHAPE, old, strict=True)
            ]
        except ValueError:
            return typed  # the engine says what is wrong with it
        bore = values["block.bore_offset"] or 0.0
        tops = [
            (rod + stroke / 2) ** 2 - (offset + bore) ** 2 for stroke, rod, offset in (old, new)
        ]
        if min(tops) <= 0:
            return typed
        height = values["block.deck_height"] + np.sqrt(tops[1]) - np.sqrt(tops[0])
        return typed | {"block.deck_height": f"{1000 * height:.9f} mm"}

    # --- what follows ---

    def results(self, engine):
        if not self._second:
            raise ValueError(f"{_SECOND}: nothing was typed; write a rod length to compare with")
        changes = {**self.typed(), "rod.length": self._second}
        try:
            second = self.base.altered(self._raised(changes)).rod.length
        except ValueError as fault:
            raise ValueError(str(fault).replace("rod.length", _SECOND)) from None
        own = self.base.rod.length
        rods = [engine.rod.length, second]
        if all(abs(to_si(own) - to_si(rod)) > 1e-7 for rod in rods):
            rods.append(own)
        return [rod_study(engine, rod) for rod in rods]

    def draw(self, found):
        self.found, system = found, self.system.value
        first, second = found[:2]
        labels = [f"rod {rod_words.written(each.rod_length, system)}" for each in found[:2]]
        a, b = first.curves, second.curves
        names = ["sine", *labels]
        self.curves.place(a.angle, a.simple, a.motion, b.motion, names, tables.LENGTH[system][0])
        self.bars.place([each.orders.m_as("") for each in (first, second)], labels)
        label, loaded = rod_words.greatest_side_load(first)
        most = first.side_load_angle, first.side_load
        self.side.place(a.cycle_angle, a.side_load, b.side_load, most, label)
        said = self._turn_to()
        self.numbers.value = rod_words.numbers(found, self.engine.values["pin_axis_offset"], system)
        answer = rod_words.answer(first, second, system)
        self.spectrum.value = figures.svg(self.orders, rod_words.second_orders(first, second))
        return answer, [f"{said} {answer}", f"{loaded} {answer}"]

    def _grey(self, stale):
        super()._grey(stale)
        (self.spectrum.add_class if stale else self.spectrum.remove_class)("enginecalc-stale")

    def _turned(self, *_):
        """Turn the crank in the picture: nothing else on the page depends on its angle."""
        if self.found is not None:
            said = self._turn_to()
            self.pictures[0].value = figures.svg(self.figures[0], f"{said} {self.answer_line}")

    def _turn_to(self):
        """Move the picture to the crank angle; return where the piston is, in words."""
        study, values, system = self.found[0], self.engine.values, self.system.value
        angle = np.radians(self.turn.value)
        stroke, offset = values["crank.stroke"], values["pin_axis_offset"]
        geometry = stroke, to_si(study.rod_length), offset
        at = crank.tdc_angle.kernel(*geometry) + angle
        depth = crank.piston_position.kernel(at, *geometry)
        sine = crank.true_stroke.kernel(*geometry) / 2 * (1 - np.cos(angle))
        top = np.sqrt((geometry[1] + stroke / 2) ** 2 - offset**2)
        pins = stroke / 2 * np.sin(at), stroke / 2 * np.cos(at), offset, top - depth
        sizes = {name: Q(size, "m") for name, size in _sizes(values, top).items()}
        self.view.place(sizes, [Q(each, "m") for each in pins], Q(top - sine, "m"))
        self.curves.turn(Q(angle, "rad"))
        tilt = np.degrees(crank.rod_tilt.kernel(at, *geometry))
        down, simple = (tables.length(Q(each, "m"), system) for each in (depth, sine))
        said = (
            f"{self.turn.value}° after top dead center this piston is {down} down, a plain sine's"
            f" {simple}; its rod leans {abs(tilt):.1f}°."
        )
        self.now.value = tables.paragraphs(said)
        return said


def _sizes(values, top):
    """Return sizes for the moving view in m; what is not given is drawn in proportion."""
    bore, height = values["block.bore"], values["piston.compression_height"]
    journal = values.get("crank.rod_journal") or 0.55 * bore
    return {
        "bore": bore,
        "throw": values["crank.stroke"] / 2,
        "compression_height": height,
        "piston_height": height + (values["piston.skirt_below_pin"] or 0.2 * bore),
        "big_end": 0.62 * journal,
        "pin": (values["piston.pin_diameter"] or 0.23 * bore) / 2,
        "top": top,
    }
