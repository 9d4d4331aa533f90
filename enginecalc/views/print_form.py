"""The box that makes prints: choose paper and size, get a PDF to save."""

import html

import ipywidgets as widgets

from enginecalc.units import read
from enginecalc.views import tables
from enginecalc.views.prints import degree_wheel, timing_tape
from enginecalc.views.saving import link
from enginecalc.views.sheets import PAPERS, pdf_bytes, scale_factor, svg_text

_WIDE, _STYLE = {"width": "auto"}, {"description_width": "12em"}
_MOUNTED = {
    "wheel on the crank, pointer fixed": "crank",
    "wheel fixed, pointer on the crank": "fixed",
}


class PaperForm(widgets.VBox):
    """Paper, a bar that puts the printer right, a button for each print, and what comes of it.

    Parameters
    ----------
    boxes : sequence of widget
        What else is asked, between paper and buttons.
    prints : dict
        {words on the button: sheets}; `sheets(paper=…, scale=…)` returns figures, and raises
        ValueError when there is nothing to print.
    """

    def __init__(self, boxes, prints):
        self.paper = widgets.Dropdown(
            options=list(PAPERS), description="paper", style=_STYLE, layout=_WIDE
        )
        self.bar = self.box("100 mm bar measures", "100.0 mm")
        self.answer = widgets.HTML()
        self.buttons = []
        for words, sheets in prints.items():
            button = widgets.Button(description=words)
            button.on_click(lambda _, words=words, sheets=sheets: self._make(words, sheets))
            self.buttons.append(button)
        super().__init__([self.paper, self.bar, *boxes, widgets.HBox(self.buttons), self.answer])

    def box(self, name, text):
        """Return a box for one typed figure."""
        return widgets.Text(
            text, description=name, continuous_update=False, style=_STYLE, layout=_WIDE
        )

    def _make(self, words, sheets):
        """Offer a print as a PDF, or say why there is none."""
        try:
            scale = scale_factor(read(self.bar.value, "length"))
            made = sheets(paper=self.paper.value, scale=scale)
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
            return
        name = words.lower().replace(" ", "-")
        files = [(f"{name}.pdf", "application/pdf", pdf_bytes(made))]
        for at, each in enumerate(made, 1):
            number = f"-{at}" if len(made) > 1 else ""
            files.append((f"{name}{number}.svg", "image/svg+xml", svg_text(each).encode()))
        count = f"{len(made)} sheet{'s' if len(made) > 1 else ''} of {self.paper.value}"
        self.answer.value = (
            "<br>".join(link(*each) for each in files)
            + f"<p>{html.escape(count)}. Print at 100 %, then measure the bars"
            " before use; when the 100 mm bar is out, type what it measures above and print"
            " again.</p>"
        )


class PrintForm(PaperForm):
    """A degree wheel with this engine's events, and a timing tape, at true scale.

    `asked()` returns the engine's name, its rotation and its events as (words, crank angle after
    overlap TDC); ValueError when there is nothing to print.
    """

    def __init__(self, asked):
        self._asked = asked
        self.mounted = widgets.Dropdown(
            options=list(_MOUNTED), description="wheel", style=_STYLE, layout=_WIDE
        )
        self.wheel = self.box("wheel's diameter", "180 mm")
        self.damper = self.box("damper's diameter", "7.250 in")
        self.tape = self.box("tape's thickness", "0.1 mm")
        super().__init__(
            [self.mounted, self.wheel, self.damper, self.tape],
            {"Degree wheel": self._wheel, "Timing tape": self._tape},
        )

    def _wheel(self, **paper):
        engine, rotation, events = self._asked()
        paper |= {"engine": engine, "rotation": rotation}
        mounted = _MOUNTED[self.mounted.value]
        return degree_wheel(events, read(self.wheel.value, "length"), mounted=mounted, **paper)

    def _tape(self, **paper):
        engine, rotation, _ = self._asked()
        paper |= {"engine": engine, "rotation": rotation}
        sizes = (read(each.value, "length") for each in (self.damper, self.tape))
        return timing_tape(*sizes, **paper)
