"""The box for rules of ring gaps: where gaps stand best by them, and when rules clash."""

import ipywidgets as widgets
import numpy as np

from enginecalc.records.ring_placement import check, clash
from enginecalc.ring_gaps import best_gap_angles, greatest_axis_distance
from enginecalc.units import read
from enginecalc.views.assembly_words import ring_layout
from enginecalc.views.tables import note, paragraphs

_STYLE, _WIDE = {"description_width": "12em"}, {"width": "auto"}
_AXES = {"pin and thrust axis": "both", "pin axis": "pin", "thrust axis": "thrust"}


class RingRulesForm(widgets.VBox):
    """Rules typed, the placement that keeps them best, and what the chosen one breaks.

    `asked()` returns the build, ValueError when there is none.
    """

    def __init__(self, asked):
        self._asked = asked
        self.count = widgets.Dropdown(
            options=(2, 3, 4, 5), value=3, description="gaps", style=_STYLE, layout=_WIDE
        )
        self.apart = self._box("apart at least", "120 deg")
        self.away = self._box("from the axes at least", "15 deg")
        self.axes = widgets.Dropdown(
            options=list(_AXES), description="keep from", style=_STYLE, layout=_WIDE
        )
        self.button = widgets.Button(description="Where they stand best", layout={"width": "auto"})
        self.button.layout.align_self = "flex-start"
        self.answer = widgets.HTML(paragraphs("The ring maker's figure comes first."))
        self.answer.add_class("enginecalc-numbers")
        self.button.on_click(self._clicked)
        super().__init__([self.count, self.apart, self.away, self.axes, self.button, self.answer])

    def _box(self, name, text):
        return widgets.Text(
            text, description=name, continuous_update=False, style=_STYLE, layout=_WIDE
        )

    def _clicked(self, _):
        try:
            apart, away = self._read(self.apart), self._read(self.away)
            rules = apart, away, _AXES[self.axes.value]
            best = best_gap_angles(self.count.value, apart, rules[2]).m_as("deg")
            most = greatest_axis_distance(self.count.value, apart, rules[2]).m_as("deg")
            clashes = clash(self.count.value, *rules)
            broken = check(ring_layout(self._asked()), *rules)
        except ValueError as fault:
            self.answer.value = note(str(fault))
            return
        angles = ", ".join(f"{each:g}°" for each in np.round(best, 1))
        said = note(f"The rules clash: {clashes}") if clashes else ""
        said += paragraphs(
            f"Best for this separation: {angles} clockwise from the front mark, {most:g}° from the"
            f" {self.axes.value}."
        )
        mine = " ".join(broken) or "keeps these rules."
        self.answer.value = said + paragraphs(f"The layout of this build: {mine}")

    def _read(self, box):
        try:
            return read(box.value, "angle")
        except ValueError as fault:
            raise ValueError(f"{box.description}: {fault}") from None
