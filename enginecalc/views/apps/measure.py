"""Chapter 06: type in what was measured, see what it comes to, and match the parts."""

import asyncio
import html

import ipywidgets as widgets

from enginecalc.records import folder
from enginecalc.records.build import build_names, load_build
from enginecalc.records.doubts import cannot_be, doubtful_lines, numbered, sure_fits
from enginecalc.records.fit_results import fit_results, worst_first
from enginecalc.units import ureg
from enginecalc.views import build_words, figures, tables
from enginecalc.views.build_figures import BlockMap, BoreMap, FitStrip
from enginecalc.views.build_forms import LedgerForm, NewBuildForm, SheetForm
from enginecalc.views.entry_form import EntryForm
from enginecalc.views.matching_form import MatchingForm
from enginecalc.views.style import KEYS, STYLE

PAUSE = 1.0  # seconds without a key before the page works out anew what the readings come to
_DRAWINGS = {"block": (BlockMap, 5.5, 5.5), "bores": (BoreMap, 9, 6), "fits": (FitStrip, 9, 5)}


class MeasureChapter(widgets.VBox):
    """A build: readings in, what they come to place by place, and which part goes where.

    Attributes
    ----------
    build : Build
        The one that is shown, None when it could not be opened.
    entry : EntryForm
        Where readings are typed.
    answer_line, error_line : str
        What the page says now, as plain text.
    """

    def __init__(self, build="quarry-pump"):
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
        self.answer, self.error, self.doubts = (widgets.HTML() for _ in range(3))
        self.entry = EntryForm(self._later, self._still_typing, self._point_out)
        self.matching = MatchingForm(self.ask_build, self.system.value)
        self.ledger = LedgerForm(self.ask_build, self.refresh)
        self.sheets = SheetForm(self._for_sheets)
        self.new = NewBuildForm(self._made)
        self.figures, self.drawings, self.pictures = {}, {}, {}
        for name, (drawing, *size) in _DRAWINGS.items():
            self.figures[name] = figures.new_figure(*size)
            self.figures[name].set_layout_engine(None)  # a drawing has the whole figure
            self.drawings[name] = drawing(self.figures[name].add_axes([0, 0, 1, 1]))
            self.pictures[name] = widgets.HTML()
        for picture in self.pictures.values():
            picture.add_class("enginecalc-picture")
        self.pictures["block"].add_class("enginecalc-where")
        self.numbers, self.order = widgets.HTML(), widgets.HTML()
        for each in (self.numbers, self.order):
            each.add_class("enginecalc-numbers")
            each.layout = widgets.Layout(width="auto", min_width="0", max_width="100%")
        self.body = widgets.VBox()  # what a build without an engine has none of
        super().__init__(self._page())
        self.add_class("enginecalc-page")
        self.add_class("enginecalc-measure")
        self.file.observe(self._opened, "value")
        self.system.observe(self.refresh, "value")
        self.reread.on_click(self._opened)
        self._opened()

    def _page(self):
        """Return the widgets of the page, in the order in which one uses them."""
        row = widgets.Layout(flex_flow="row wrap")
        readings = [
            _titled("readings", self.entry, grow="1 1 33em"),
            _titled("where", self.pictures["block"], self.doubts, grow="1 1 27em"),
        ]
        paper = [
            _titled("filled-in sheets and copies", self.ledger, grow="1 1 26em"),
            _titled("blank sheets for the bench", self.sheets, grow="1 1 26em"),
        ]
        self.body.children = [
            widgets.HBox(readings, layout=row),
            _titled("what the readings come to", self.pictures["fits"], self.pictures["bores"]),
            self.numbers,
            _titled("which part goes where", self.matching),
            _titled("what to ask the machine shop for", self.order),
            widgets.HBox(paper, layout=row),
        ]
        return [
            widgets.HTML(STYLE + KEYS),
            widgets.HBox([self.file, self.system, self.reread], layout=row),
            self.answer,
            self.error,
            self.body,
            _titled("start a build", self.new),
        ]

    def ask_build(self):
        """Return the build that is open; ValueError when there is none."""
        if self.build is None:
            raise ValueError("no build is open: choose one above, or start one below")
        return self.build

    # --- what changes ---

    def _opened(self, *_):
        """Read the chosen build's files anew."""
        was, self.build = self.build, None
        try:
            if self.file.value is None:
                raise ValueError("there is no build yet: start one below, from an engine file")
            self.build = load_build(folder("builds") / self.file.value)
        except (ValueError, OSError) as fault:
            self._say(error=str(fault))
            return
        metric = self.build.engine.block.bore.units == ureg.Unit("mm")
        if was is None and metric and self.system.value == "inch":
            self.system.value = "metric"  # the first build opens in its own system
        else:
            self.refresh()

    def _made(self, name):
        self.file.options = build_names()
        self.file.value = name

    def _later(self):
        """Work out anew once nobody types any more; at once where no kernel runs."""
        self._stop_waiting()
        try:
            self._waiting = asyncio.get_running_loop().call_later(PAUSE, self.refresh)
        except RuntimeError:
            self.refresh()

    def _still_typing(self):
        if self._waiting is not None:
            self._later()

    def _stop_waiting(self):
        if self._waiting is not None:
            self._waiting.cancel()
        self._waiting = None

    def _point_out(self):
        """Show on the block where it is measured now, unless all is drawn anew soon."""
        if self._waiting is None:
            self._draw("block", *self.entry.now)

    def _for_sheets(self):
        return self.ask_build().engine, self.system.value

    def refresh(self, *_):
        """Read the ledger, work out, draw."""
        self._stop_waiting()
        if self.build is None:
            return
        system = self.system.value
        try:
            self.entry.show(self.build, system)
            found = fit_results(self.build)
            self._draw("bores", system)
            self._draw("fits", found, system)
            self.numbers.value = (
                build_words.fits_table(found, system, self.build)
                + build_words.deck_table(self.build, system)
                + build_words.planned_beside_measured(self.build, system)
            )
            self.order.value = build_words.shop_order(self.build, system)
            self.doubts.value = build_words.doubts_list(self.build)
            self.matching.system = system
        except ValueError as fault:
            self._say(error=str(fault))
            return
        self._say(answer=self._answer(found))

    def _draw(self, name, *what):
        figure, drawing = self.figures[name], self.drawings[name]
        words = drawing.place(*what) if name == "fits" else drawing.place(self.build, *what)
        self.pictures[name].value = figures.svg(figure, words)

    # --- what is said ---

    def _answer(self, found):
        """Return how many readings there are, what is in doubt, worst, impossible and torn.

        What rests on a reading in doubt is not held against its limit.
        """
        ledger, system = self.build.readings, self.system.value
        count, never = len(ledger.latest()), [fit for fit in found if cannot_be(fit.result)]
        said = f"{self.build.name}: {count} reading{'' if count == 1 else 's'}"
        if doubted := doubtful_lines(self.build):
            are = "is" if len(doubted) == 1 else "are"
            said += f"; {numbered(doubted)} {are} in doubt: measure again"
        held = [fit for fit in worst_first(sure_fits(self.build, found))
                if _is_held(fit.result) and not _follows(fit, never)]  # fmt: skip
        if held:
            worst, outside = held[0], sum(fit.result.status == "outside" for fit in held)
            said += (
                f"; worst against its limit: {worst.place}, {tables.name_of(worst.result.name)}"
                f" {tables.say_result(worst.result, system)}, {worst.result.status}"
                f" ({tables.say_limits(worst.result, system)})"
            )
            said += f"; {outside} are outside" if outside > 1 else ""
        sentences = [
            said,
            *dict.fromkeys(f"Cannot be: {fit.place}, {fit.result.reason}" for fit in never),
        ]
        problems = ledger.problems
        sentences += [f"The ledger: {problem}" for problem in problems[:2]]
        sentences += [f"And {len(problems) - 2} more"] * (len(problems) > 2)
        return " ".join(each if each.endswith("?") else f"{each}." for each in sentences)

    def _say(self, answer="", error=""):
        self.answer_line, self.error_line = answer, error
        self.answer.value = (
            '<p class="enginecalc-answer" role="status" aria-live="polite">'
            f"{html.escape(answer)}</p>"
        )
        self.error.value = (
            '<div class="enginecalc-error" role="alert"><b>Not worked out:</b>\n'
            f"{html.escape(error)}</div>" if error else ""
        )  # fmt: skip
        self.body.layout.display = "none" if self.build is None else None
        for each in (*self.pictures.values(), self.numbers, self.order):
            (each.add_class if error else each.remove_class)("enginecalc-stale")


def _is_held(result):
    """Say whether there is a value and a limit to hold it against."""
    return result.value is not None and (result.low, result.high) != (None, None)


def _follows(fit, never):
    """Say whether a result is the form of a bore that cannot be, which then means nothing."""
    return fit.result.name.startswith("bore_") and fit.place in {each.place for each in never}


def _titled(title, *some, grow=None):
    """Return widgets under a heading; `grow` is how they share a row with others."""
    head = widgets.HTML(f'<div class="enginecalc-group">{html.escape(title)}</div>')
    layout = widgets.Layout(flex=grow, min_width="0", margin="0 1em 0 0")
    return widgets.VBox([head, *some], layout=layout)
