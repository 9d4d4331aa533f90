"""The base of the chapters about a build: which one, units, answer, error, and when to work."""

import asyncio
import html

import ipywidgets as widgets

from enginecalc.records import folder
from enginecalc.records.build import build_names, load_build
from enginecalc.units import ureg
from enginecalc.views import tables
from enginecalc.views.style import KEYS, STYLE

PAUSE = 1.0  # seconds without a key before the page works out anew what the ledger comes to


class BuildPage(widgets.VBox):
    """A page on one build. Subclasses fill in `page` and `show`.

    Attributes
    ----------
    build : Build
        The one that is shown, None when it could not be opened.
    body : VBox
        What a build without an engine has none of.
    answer_line, error_line : str
        What the page says now, as plain text.
    """

    def __init__(self, build="quarry-pump"):
        super().__init__()
        self.add_class("enginecalc-page")
        self.build, self.answer_line, self.error_line = None, "", ""
        self._waiting = None
        names = build_names()
        first = build if build in names else next(iter(names), None)
        self.file = widgets.Dropdown(options=names, value=first, description="build")
        self.system = widgets.ToggleButtons(
            options=tables.SYSTEMS,
            tooltips=["inches", "millimetres"],
            style={"button_width": "5em"},
        )
        self.reread = widgets.Button(description="Refresh", tooltip="read build and ledger again")
        self.answer, self.error, self.body = widgets.HTML(), widgets.HTML(), widgets.VBox()
        beneath = self.page()
        row = widgets.Layout(flex_flow="row wrap")
        self.children = [
            widgets.HTML(STYLE + KEYS),
            widgets.HBox([self.file, self.system, self.reread], layout=row),
            self.answer,
            self.error,
            self.body,
            *beneath,
        ]
        self.file.observe(self._opened, "value")
        self.system.observe(self.refresh, "value")
        self.reread.on_click(self._reread)
        self._opened()

    # --- what a chapter says ---

    def page(self):
        """Make the widgets of `body`; return those beneath it."""
        return []

    def show(self, build, system):
        """Put a build on the page and return the answer; ValueError becomes a sentence."""
        return build.name

    def stale(self):
        """Return the widgets that grey out while there is an error."""
        return []

    # --- what the base does ---

    def ask_build(self):
        """Return the build that is open; ValueError when there is none."""
        if self.build is None:
            raise ValueError("no build is open: choose one above, or start one in chapter 06")
        return self.build

    def later(self):
        """Work out anew once nobody types any more; at once where no kernel runs."""
        self._stop_waiting()
        try:
            self._waiting = asyncio.get_running_loop().call_later(PAUSE, self.refresh)
        except RuntimeError:
            self.refresh()

    def still_typing(self):
        """Put off what `later` has put off."""
        if self._waiting is not None:
            self.later()

    def refresh(self, *_):
        """Read the ledger, work out, draw."""
        self._stop_waiting()
        if self.build is None:
            return
        try:
            answer = self.show(self.build, self.system.value)
        except ValueError as fault:
            self._say(error=str(fault))
            return
        self._say(answer=answer)

    def _stop_waiting(self):
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = None

    def offer_builds(self, chosen=None):
        """Offer what builds there are now, and open one by its name."""
        names, chosen = build_names(), chosen or self.file.value
        if self.file.options != tuple(names):
            self.file.unobserve(self._opened, "value")
            self.file.options = names
            self.file.value = chosen if chosen in names else next(iter(names), None)
            self.file.observe(self._opened, "value")
            self._opened()
        elif chosen != self.file.value:
            self.file.value = chosen

    def _reread(self, _):
        before = self.file.options
        self.offer_builds()
        if self.file.options == before:
            self._opened()

    def _opened(self, *_):
        """Read the chosen build's files anew."""
        was, self.build = self.build, None
        try:
            if self.file.value is None:
                raise ValueError("there is no build yet: start one in chapter 06, from an engine"
                                 " file")  # fmt: skip
            self.build = load_build(folder("builds") / self.file.value)
        except (ValueError, OSError) as fault:
            self._say(error=str(fault))
            return
        metric = self.build.engine.block.bore.units == ureg.Unit("mm")
        if was is None and metric and self.system.value == "inch":
            self.system.value = "metric"  # the first build opens in its own system
        else:
            self.refresh()

    def _say(self, answer="", error=""):
        self.answer_line, self.error_line = answer, error
        self.answer.value = (
            '<p class="enginecalc-answer" role="status" aria-live="polite">'
            f"{html.escape(answer)}</p>"
        )
        self.error.value = tables.refusal(error, "Not worked out:")
        self.body.layout.display = "none" if self.build is None else None
        for each in self.stale():
            (each.add_class if error else each.remove_class)("enginecalc-stale")


def titled(title, *some, grow=None):
    """Return widgets under a heading; `grow` is how they share a row with others."""
    head = widgets.HTML(f'<div class="enginecalc-group">{html.escape(title)}</div>')
    layout = widgets.Layout(flex=grow, min_width="0", margin="0 1em 0 0")
    return widgets.VBox([head, *some], layout=layout)
