"""The box that makes the assembler's prints: ring-gap clocks and cards for the bench."""

import ipywidgets as widgets

from enginecalc.views.assembly_cards import cylinder_cards
from enginecalc.views.assembly_words import engine_at, ring_layout
from enginecalc.views.clock_print import ring_gap_clock
from enginecalc.views.print_form import PaperForm

_THIS, _ALL = "this cylinder", "every cylinder"


class AssemblyPrintForm(PaperForm):
    """Clock at true scale and bench card, of one cylinder or of all.

    `asked()` returns the build, the cylinder on the page or None, and the unit system.
    """

    def __init__(self, asked):
        self._asked = asked
        self.which = widgets.Dropdown(
            options=(_THIS, _ALL), description="for", style={"description_width": "12em"},
            layout={"width": "auto"},
        )  # fmt: skip
        super().__init__([self.which], {"Ring-gap clock": self._clock, "Bench cards": self._cards})

    def _chosen(self):
        """Return build, numbers of cylinders and unit system."""
        build, number, system = self._asked()
        if self.which.value == _ALL:
            return build, build.cylinders, system
        if number is None:
            raise ValueError(f"no cylinder is on the page: choose one above, or {_ALL}")
        return build, [number], system

    def _clock(self, **paper):
        build, numbers, _ = self._chosen()
        placement = ring_layout(build)
        clocks = [ring_gap_clock(engine_at(build, at), at, placement, **paper) for at in numbers]
        return [sheet for clock in clocks for sheet in clock]

    def _cards(self, *, paper, scale):
        build, numbers, system = self._chosen()
        return cylinder_cards(build, numbers, system=system, paper=paper)
