"""Chapter 07: what an engine shakes, the bob weight of its crank, and when it fires."""

import ipywidgets as widgets
import numpy as np

from enginecalc.balance import ORDERS
from enginecalc.records.bob_card import share_of
from enginecalc.records.layout import layout_names
from enginecalc.units import Q
from enginecalc.views import balance_words, figures, tables
from enginecalc.views.balance_figures import FiringLines, OrderBars, Traces
from enginecalc.views.balance_study import bob_cards, of_layout, shaken
from enginecalc.views.bob_print import BobPrintForm
from enginecalc.views.chapter import Chapter
from enginecalc.views.mass_field import MassField

_NONE = "no other layout"
_SHARE = "balance.reciprocating_share"
_FIELDS = (
    ("crank and rod",),
    ("engine speed", "running.engine_speed", "turning speed", Q(1000, "rpm"), Q(9000, "rpm")),
    ("rod length", "rod.length", "length", Q(4.5, "inch"), Q(7.5, "inch")),
    ("stroke", "crank.stroke", "length", Q(2.5, "inch"), Q(4.75, "inch")),
    ("masses",),
)
_SHARE_FIELD = ("reciprocating share", _SHARE, "ratio", Q(0.01, ""), Q(1, ""))
_FIELD_OF = {
    "bob_weight: reciprocating_share": _SHARE,
    "shaking_force: rod_length": "rod.length",
    "shorter stroke": "shorter crank.stroke",
}
_KINDS = {"force": "N", "couple": "N*m"}


class BalanceChapter(Chapter):
    """Shaking force and couple by crank angle and by order, the bob weight, the firing."""

    figure_sizes = ((6.8, 3.6), (6.8, 2.5), (6.8, 2.3))

    def build(self):
        self.found, self._viewed = None, None
        traces, orders, firings = self.figures
        widths = 0.06, 1, 0.16, 1, 0.08  # with room for longer ticks and words
        grid = traces.add_gridspec(1, 5, width_ratios=widths)
        self.traces = Traces([traces.add_subplot(grid[at]) for at in (1, 3)])
        titles = ("force by order (in m r ω²)", "couple by order (in m r ω² p)")
        self.bars = [
            OrderBars(ax, title, ORDERS)
            for ax, title in zip(orders.subplots(1, 2), titles, strict=True)
        ]
        self.firing = FiringLines(firings.subplots())
        self.seen, self.view = widgets.HTML(), figures.new_figure(4.6, 3.6)
        self.seen.add_class("enginecalc-picture")
        self.seen.layout = widgets.Layout(width="auto", max_width="28em")
        self.front = figures.FrontView(self.view.subplots())
        self.card = widgets.HTML()
        self.card.add_class("enginecalc-numbers")
        self.prints = BobPrintForm(self._to_print)
        wide = {"description_width": "initial"}
        self.weighted = widgets.Checkbox(
            True, description="counterweights balance each pin", indent=False
        )
        self.beside = widgets.Dropdown(
            options=(_NONE, *layout_names()), description="compare with", style=wide,
            layout={"width": "auto"},
        )  # fmt: skip
        self.turn = widgets.IntSlider(
            0, 0, 360, description="crank angle [deg]", style=wide,
            layout={"width": "auto"},
        )  # fmt: skip
        for control in (self.weighted, self.beside):
            control.observe(self.refresh, "value")
        self.turn.observe(self._turned, "value")
        self.now = widgets.HTML()
        self.now.add_class("enginecalc-caption")
        self.under[0].children = [self.turn, self.now]
        self.put_below(bob_weight_card=[self.card, self.prints])
        fields = [self.field(*each) if len(each) > 1 else self.group(*each) for each in _FIELDS]
        return [
            *fields,
            self.add(MassField("piston mass", "piston.mass")),
            self.field(*_SHARE_FIELD),
            self.weighted,
            self.group("beside it: another layout, the same parts"),
            self.beside,
            self.group("banks and crank pins"),
            self.seen,
        ]

    def engine_now(self):
        """Return the engine with what was typed; its deck may not fit: that is chapter 01's."""
        return self.base.altered(self.typed(), fitting=False) if self.typed() else self.base

    # --- what follows ---

    def results(self, engine):
        held, beside = bool(self.weighted.value), None
        try:
            own = shaken(engine, held)
            if self.beside.value != _NONE:
                beside = self.beside.value, of_layout(engine, self.beside.value, held)
        except ValueError as fault:
            raise ValueError(_named(fault)) from None
        try:
            cards, refused = bob_cards(engine), ""
        except ValueError as fault:  # without counterweights the share may be missing
            cards, refused = [], _named(fault)
        return {
            "shaken": own,
            "beside": beside,
            "cards": cards,
            "refused": refused,
            "counterweights": held,
            "share": share_of(engine),
        }

    def _to_print(self):
        """Return engine, cards and share of what is now on the page."""
        engine = self.base_engine().altered(self.typed(), fitting=False)
        return engine, bob_cards(engine), share_of(engine)

    def draw(self, found):
        self.found = found
        own, beside = found["shaken"], found["beside"]
        self._draw_traces(own, beside)
        self._draw_bars(own, beside)
        self._draw_firing(own, beside)
        self._draw_front()
        said = self._turn_to()
        engine, system = self.engine, self.system.value
        self.card.value = balance_words.card_table(engine, found["cards"], found["refused"])
        self.numbers.value = balance_words.numbers(engine, found, system)
        answer = balance_words.answer(engine, found)
        fires = balance_words.spacing(own.fires)
        return answer, [
            f"Tip of shaking force and couple over a turn, in the front view. {said} {answer}",
            f"Force and couple by order. {answer}",
            f"Firing instants over two turns: {engine.name} {fires}."
            + (f" {beside[0]} {balance_words.spacing(beside[1].fires)}." if beside else ""),
        ]

    def _draw_traces(self, own, beside):
        self._units = {}
        for name, unit in _KINDS.items():
            mine = getattr(own.by_angle, name)
            other = None if beside is None else getattr(beside[1].by_angle, name)
            both = [each for each in (mine, other) if each is not None]
            most = [Q(np.max(np.hypot(*each.m_as(unit))), unit) for each in both]
            self._units[name] = "k" + unit if max(most).m_as(unit) >= 2000 else unit
            shown = unit.replace("*", "·")
            reach = [f"at most {balance_words.sized(each, shown)}" for each in most]
            words = "; dotted ".join(reach) + "\n"
            words += f"dotted: {beside[0]}" if beside else " "
            self.traces.place(name, mine, other, words, self._units[name])

    def _draw_bars(self, own, beside):
        by_order = [own.orders, None if beside is None else beside[1].orders]
        for bars, (name, unit) in zip(self.bars, _KINDS.items(), strict=True):
            sizes = [
                None if each is None else each[f"{name} ratio"].to_numpy() for each in by_order
            ]
            words = [None if each is None else _labels(each, name, unit) for each in by_order]
            bars.place(sizes, words, f"hatched: {beside[0]}" if beside else " ")

    def _draw_firing(self, own, beside):
        rows = [(self.engine.name, own.fires)]
        if beside is not None:
            rows.append((beside[0], beside[1].fires))
        made = [
            (
                f"{title}: {balance_words.spacing(fires)}",
                fires.instants,
                [f"{gap.m:.0f}°" if pair in fires.uneven else ""
                 for pair, gap in fires.gaps.items()],
            )
            for title, fires in rows
        ]  # fmt: skip
        self.firing.place(made[0], made[1] if len(made) > 1 else None)

    def _draw_front(self):
        """Draw banks and pins anew when the layout is another one."""
        layout = self.engine.layout
        if layout != self._viewed:
            self._viewed = layout
            self.front.show(layout)
            figures.settle(self.view)
            pins = ", ".join(f"{angle:.0f}°" for angle in layout.pin_angles().m_as("deg") % 360)
            self.seen.value = figures.svg(
                self.view,
                f"Front view of banks and crank pins; the pins lie at {pins} clockwise from"
                " vertical, the first cylinder at its top.",
            )

    # --- the crank turned ---

    def _turned(self, *_):
        """Turn the arrows: nothing else on the page depends on the crank's angle."""
        if self.found is not None:
            said = self._turn_to()
            self.pictures[0].value = figures.svg(self.figures[0], f"{said} {self.answer_line}")

    def _turn_to(self):
        """Point the arrows at the crank angle; return in words what pulls there."""
        by_angle, at = self.found["shaken"].by_angle, self.turn.value
        told = []
        for name, unit in _KINDS.items():
            vector = getattr(by_angle, name)[:, at % 360]
            self.traces.turn(name, vector, self._units[name])
            told.append(balance_words.pull(name, vector.to(unit)))
        said = f"{at}° after the first cylinder's top {' and '.join(told)}."
        self.now.value = tables.paragraphs(said)
        return said

    def _grey(self, stale):
        super()._grey(stale)
        for widget in (self.card, self.seen):
            (widget.add_class if stale else widget.remove_class)("enginecalc-stale")


def _named(fault):
    """Return a refusal of a formula with its argument under the name of the engine's field."""
    said = str(fault)
    for of_formula, path in _FIELD_OF.items():
        said = said.replace(of_formula, path)
    return said


def _labels(orders, name, unit):
    """Return what stands at the bars: size and multiple."""
    unit = unit.replace("*", "·")
    return [
        f"{balance_words.sized(size, unit)} ({ratio:.4f})" if ratio > 1e-6 else "0"
        for size, ratio in zip(orders[name], orders[f"{name} ratio"], strict=True)
    ]
