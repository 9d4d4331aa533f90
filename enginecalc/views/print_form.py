"""The box that makes prints: choose paper and size, get a PDF to save."""

import base64
import html

import ipywidgets as widgets

from enginecalc.units import read
from enginecalc.views import tables
from enginecalc.views.prints import degree_wheel, timing_tape
from enginecalc.views.sheets import PAPERS, pdf_bytes, scale_factor, svg_text

_WIDE = {"width": "auto"}
_MOUNTED = {
    "wheel on the crank, pointer fixed": "crank",
    "wheel fixed, pointer on the crank": "fixed",
}


class PrintForm(widgets.VBox):
    """A degree wheel with this engine's events, and a timing tape, at true scale.

    `asked()` returns the engine's name, its rotation and its events as (words, crank angle after
    overlap TDC); ValueError when there is nothing to print.
    """

    def __init__(self, asked):
        self._asked = asked
        style = {"description_width": "12em"}

        def box(name, text):
            return widgets.Text(text, description=name, continuous_update=False, style=style,
                                layout=_WIDE)  # fmt: skip

        self.paper = widgets.Dropdown(options=list(PAPERS), description="paper", style=style)
        self.bar = box("100 mm bar measures", "100.0 mm")
        self.mounted = widgets.Dropdown(
            options=list(_MOUNTED), description="wheel", style=style, layout=_WIDE
        )
        self.wheel = box("wheel's diameter", "180 mm")
        self.damper = box("damper's diameter", "7.250 in")
        self.tape = box("tape's thickness", "0.1 mm")
        self.make_wheel = widgets.Button(description="Degree wheel")
        self.make_tape = widgets.Button(description="Timing tape")
        self.answer = widgets.HTML()
        self.make_wheel.on_click(lambda _: self._make("degree-wheel", self._wheel))
        self.make_tape.on_click(lambda _: self._make("timing-tape", self._tape))
        super().__init__(
            [
                self.paper,
                self.bar,
                self.mounted,
                self.wheel,
                self.damper,
                self.tape,
                widgets.HBox([self.make_wheel, self.make_tape]),
                self.answer,
            ]
        )

    def _make(self, name, sheets):
        """Offer a print as a PDF, or say why there is none."""
        try:
            engine, rotation, events = self._asked()
            paper = {
                "engine": engine,
                "rotation": rotation,
                "paper": self.paper.value,
                "scale": scale_factor(read(self.bar.value, "length")),
            }
            made = sheets(events, paper)
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
            return
        files = [(f"{name}.pdf", "application/pdf", pdf_bytes(made))]
        for at, each in enumerate(made, 1):
            number = f"-{at}" if len(made) > 1 else ""
            files.append((f"{name}{number}.svg", "image/svg+xml", svg_text(each).encode()))
        words = f"{len(made)} sheet{'s' if len(made) > 1 else ''} of {self.paper.value}"
        self.answer.value = (
            "<br>".join(_link(*each) for each in files)
            + f"<p>{html.escape(words)}. Print at 100 %, then measure the bars"
            " before use; when the 100 mm bar is out, type what it measures above and print"
            " again.</p>"
        )

    def _wheel(self, events, paper):
        return degree_wheel(
            events, read(self.wheel.value, "length"), mounted=_MOUNTED[self.mounted.value], **paper
        )

    def _tape(self, events, paper):
        return timing_tape(
            read(self.damper.value, "length"), read(self.tape.value, "length"), **paper
        )


def _link(name, kind, data):
    """Return a link that saves a file from the page itself."""
    return (
        f'<a download="{name}" href="data:{kind};base64,{base64.b64encode(data).decode()}">'
        f"Save {name}</a>"
    )
