"""Chapter 06: type in what was measured, see what it comes to, and match the parts."""

import ipywidgets as widgets

from enginecalc.records.doubts import cannot_be, doubtful_lines, numbered, sure_fits
from enginecalc.records.fit_results import fit_results, worst_first
from enginecalc.views import build_words, figures, tables
from enginecalc.views.build_figures import BlockMap, BoreMap, FitStrip
from enginecalc.views.build_forms import LedgerForm, NewBuildForm, SheetForm
from enginecalc.views.build_page import BuildPage, titled
from enginecalc.views.entry_form import EntryForm
from enginecalc.views.matching_form import MatchingForm

_DRAWINGS = {"block": (BlockMap, 5.5, 5.5), "bores": (BoreMap, 9, 6), "fits": (FitStrip, 9, 5)}


class MeasureChapter(BuildPage):
    """A build: readings in, what they come to place by place, and which part goes where.

    Attributes
    ----------
    entry : EntryForm
        Where readings are typed.
    """

    def page(self):
        self.doubts = widgets.HTML()
        self.entry = EntryForm(self.later, self.still_typing, self._point_out)
        self.matching = MatchingForm(self.ask_build, self.system.value)
        self.ledger = LedgerForm(self.ask_build, self.refresh)
        self.sheets = SheetForm(self._for_sheets)
        self.new = NewBuildForm(self.offer_builds)
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
        self.add_class("enginecalc-measure")
        row = widgets.Layout(flex_flow="row wrap")
        readings = [
            titled("readings", self.entry, grow="1 1 33em"),
            titled("where", self.pictures["block"], self.doubts, grow="1 1 27em"),
        ]
        paper = [
            titled("filled-in sheets and copies", self.ledger, grow="1 1 26em"),
            titled("blank sheets for the bench", self.sheets, grow="1 1 26em"),
        ]
        self.body.children = [
            widgets.HBox(readings, layout=row),
            titled("what the readings come to", self.pictures["fits"], self.pictures["bores"]),
            self.numbers,
            titled("which part goes where", self.matching),
            titled("what to ask the machine shop for", self.order),
            widgets.HBox(paper, layout=row),
        ]
        return [titled("start a build", self.new)]

    def stale(self):
        return [*self.pictures.values(), self.numbers, self.order]

    # --- what changes ---

    def _point_out(self):
        """Show on the block where it is measured now, unless all is drawn anew soon."""
        if self._waiting is None:
            self._draw("block", *self.entry.now)

    def _for_sheets(self):
        return self.ask_build().engine, self.system.value

    def show(self, build, system):
        self.entry.show(build, system)
        found = fit_results(build)
        self._draw("bores", system)
        self._draw("fits", found, system)
        self.numbers.value = (
            build_words.fits_table(found, system, build)
            + build_words.deck_table(build, system)
            + build_words.planned_beside_measured(build, system)
        )
        self.order.value = build_words.shop_order(build, system)
        self.doubts.value = build_words.doubts_list(build)
        self.matching.system = system
        return self._answer(found)

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


def _is_held(result):
    """Say whether there is a value and a limit to hold it against."""
    return result.value is not None and (result.low, result.high) != (None, None)


def _follows(fit, never):
    """Say whether a result is the form of a bore that cannot be, which then means nothing."""
    return fit.result.name.startswith("bore_") and fit.place in {each.place for each in never}
