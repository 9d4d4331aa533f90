"""The box that prints a rod's outline and all that its big end sweeps."""

import numpy as np

from enginecalc.records.figures import where_to_measure
from enginecalc.units import Q
from enginecalc.views.print_form import PaperForm
from enginecalc.views.rod_prints import rod_outline, swept_envelope


class RodPrintForm(PaperForm):
    """A rod's outline to lay on the rod, and the swept envelope of a cylinder, at true scale.

    `asked()` returns engine, the cylinder's `Frame`, its rows of clearances, whose they are, and
    what says in words how a row stands; ValueError when there is nothing to print.
    """

    def __init__(self, asked):
        self._asked = asked
        super().__init__([], {"Rod outline": self._outline, "Swept envelope": self._envelope})

    def _known(self):
        engine, *rest = self._asked()
        if not engine.rod.outline:
            raise ValueError(f"rod.outline is not measured: {where_to_measure('rod.outline')}")
        return engine, *rest

    def _outline(self, **paper):
        engine, *_ = self._known()
        discs = [
            Q(np.array([getattr(disc, key).m_as("mm") for disc in engine.rod.outline]), "mm")
            for key in ("x", "y", "radius")
        ]
        return rod_outline(discs, engine=engine.name, **paper)

    def _envelope(self, **paper):
        engine, frame, rows, what, told = self._known()
        return swept_envelope(frame.sweep(rows, told), engine=engine.name, what=what, **paper)
