"""Chapter 05: what a big end sweeps in its block, how near it comes to what stands there."""

import html
import re

import ipywidgets as widgets
import numpy as np

from enginecalc.units import Q
from enginecalc.views import block_words, gap_words, tables
from enginecalc.views.block_figures import BlockView, block_legend
from enginecalc.views.block_plan import CHAMFER, BlockPlan, common_window
from enginecalc.views.chapter import Chapter
from enginecalc.views.gap_figures import ChamferSection, GapByAngle, NearestPlace
from enginecalc.views.outline_field import OutlineField
from enginecalc.views.rod_print_form import RodPrintForm
from enginecalc.views.sources import engine_of

# the crank slider's label above it, and as wide as the page is
_STYLE = """
<style>
.enginecalc-crank { flex-wrap: wrap; height: auto !important; }
.enginecalc-crank .widget-label { flex: 1 0 100%; text-align: left; }
.enginecalc-crank-place { white-space: nowrap; line-height: 2; }
</style>
"""
_IN_HEAD = r"quench -?[\d.]+\b.*: piston meets the head "
_NEAR = ("crank.stroke", "rod.length", "piston.compression_height")  # stand over the picture
_SAME, _WORST = "the same file", "the worst pair"
_LENGTH, _AUTO = "length", {"width": "auto"}
_FIELDS = (
    ("plan B: block",),
    ("rail offset", "block.rail_offset", _LENGTH, Q(2, "inch"), Q(5, "inch")),
    ("cam height", "block.cam_height", _LENGTH, Q(3, "inch"), Q(7, "inch")),
    ("plan B: crank",),
    ("stroke", "crank.stroke", _LENGTH, Q(2.5, "inch"), Q(4.75, "inch")),
    ("counterweight radius", "crank.counterweight_radius", _LENGTH, Q(2, "inch"), Q(4, "inch")),
    ("plan B: rod",),
    ("rod length", "rod.length", _LENGTH, Q(4.5, "inch"), Q(7.5, "inch")),
    ("rod outline", "rod.outline"),
    ("plan B: piston",),
    ("compression height", "piston.compression_height", _LENGTH, Q(0.9, "inch"), Q(2.2, "inch")),
    ("skirt below pin", "piston.skirt_below_pin", _LENGTH, Q(0.3, "inch"), Q(2, "inch")),
)


class BlockClearanceChapter(Chapter):
    """Rod, beam and counterweight of plan B against block, camshaft and piston, beside plan A."""

    figure_sizes = ((7.2, 4.5), (6.4, 6.6))
    wide_pictures = 1

    def __init__(self, file="quarry-pump-v8-long-stroke", beside="quarry-pump-v8"):
        self._beside, self._plans, self._turned, self._offering_choice = beside, {}, {}, False
        self._in_head = []
        super().__init__(file)
        shown = list(self.children)
        shown.insert(shown.index(self.answer) + 1, self.near)
        self.children = shown
        self.go()

    def build(self):
        self.file.description = "plan B from"
        names = (_SAME, *self.file.options)
        self.beside = widgets.Dropdown(
            options=names,
            value=self._beside if self._beside in names else _SAME,
            description="plan A",
        )
        self.top.children = (self.beside, *self.top.children)
        self.cylinder = widgets.Dropdown(description="cylinder", layout={"width": "11em"})
        self.turned = widgets.Checkbox(
            description="plan B: rod turned round in this cylinder", indent=False, layout=_AUTO
        )
        wide = {"description_width": "initial"}
        self.angle = widgets.IntSlider(
            description="crank angle after firing TDC [deg]", max=720, style=wide,
            layout={"width": "auto", "flex": "1 1 24em", "min_width": "0"},
        )  # fmt: skip
        self.angle.add_class("enginecalc-crank")
        self.crank_place = widgets.HTML()
        self.crank_place.add_class("enginecalc-crank-place")
        self.pair = widgets.Dropdown(
            options=[_WORST], description="show the nearest place of", style=wide,
            layout={"width": "28em"},
        )  # fmt: skip
        self.turn_there = widgets.Button(description="Turn the crank there", layout=_AUTO)
        for control, told in (
            (self.beside, self.refresh), (self.angle, self.refresh), (self.pair, self.go),
            (self.cylinder, self.go), (self.turned, self._turn_round),
        ):  # fmt: skip
            control.observe(told, "value")
        self.turn_there.on_click(self.go)
        self._make_artists()
        self.prints = RodPrintForm(self._to_print)
        self.beneath.children = [self.group("outline and envelope to print"), self.prints]
        self.captions = [widgets.HTML() for _ in self.figures]
        for caption in self.captions:
            caption.add_class("enginecalc-caption")
        row = widgets.Layout(flex_flow="row wrap")
        low = widgets.Layout(flex_flow="row wrap", align_items="flex-end")
        self.under[0].children = [
            widgets.HBox([self.cylinder, self.turned], layout=row),
            widgets.HBox([self.pair, self.turn_there], layout=row),
            widgets.HBox([self.angle, self.crank_place], layout=low),
            self.captions[0],
        ]
        self.under[1].children = [self.captions[1]]
        kinds = {1: self.group, 2: lambda *each: self.add(OutlineField(*each)), 5: self.field}
        made = [kinds[len(each)](*each) for each in _FIELDS]
        over = [each for each in made if getattr(each, "path", "") in _NEAR]
        for field in over:
            field.layout = widgets.Layout(flex="1 1 16em", min_width="0")
            field.box.style.description_width = "initial"
            field.slider.layout.margin = "0 18px 2px 18px"
        self.near = widgets.VBox(
            [widgets.HTML(_STYLE), self.group("plan B"), widgets.HBox(over, layout=row)]
        )
        return [each for each in made if each not in over]

    def _make_artists(self):
        """Put the drawings on fixed places, for widths of lines follow the scale there."""
        views, near = self.figures
        for figure in self.figures:
            figure.subplots().set_axis_off()  # holds the layout; the drawings stand over it
        self.views = [
            BlockView(views.add_axes([left, 0.15, 0.49, 0.75])) for left in (0.005, 0.505)
        ]
        block_legend(views)
        places = [0.01, 0.53, 0.98, 0.43], [0.01, 0.05, 0.98, 0.43]
        self.sections = [ChamferSection(near.add_axes(place)) for place in places]
        self.nearest = NearestPlace(near.add_axes(places[0]))
        self.gaps = GapByAngle(near.add_axes([0.105, 0.075, 0.875, 0.37]), ("plan A", "plan B"))
        self.title = near.text(0.5, 0.975, "", ha="center", va="center", fontsize=11)

    # --- choices ---

    def _turn_round(self, _):
        if not self._offering_choice:
            self._turned[self.file.value] = self._turned_here() ^ {self.cylinder.value}
            self.refresh()

    def _turned_here(self):
        return self._turned.get(self.file.value, frozenset())

    def go(self, *_):
        """Turn the crank to the nearest place of the chosen pair, and draw."""
        if self._offering_choice:
            return
        row = self._row()
        if row is not None and not np.isnan(row.crank_angle.m):
            self.angle.unobserve(self.refresh, "value")
            self.angle.value = round(row.crank_angle.m_as("deg"))
            self.angle.observe(self.refresh, "value")
        self.refresh()

    def _row(self):
        """Return the row of plan B that is shown enlarged, None when there is none."""
        plan = self._plans.get("plan B")
        if plan is None:
            return None
        ranked = plan[1].ranked(self.cylinder.value)
        chosen = [row for row in ranked if row.pair == self.pair.value]
        return next(iter([*chosen, *ranked]), None)

    def _offer(self, control, **values):
        """Change a control without anybody being told."""
        self._offering_choice = True
        try:
            for name, value in values.items():
                setattr(control, name, value)
        finally:
            self._offering_choice = False

    def _to_print(self):
        """Return plan B's engine, the cylinder's `Frame` and rows, and what it is."""
        self.base_engine()
        _, plan, number, *_ = self.results(self.engine_now())
        rows, what = plan.table[plan.table.cylinder == number], block_words.whose(plan, number)
        system = self.system.value
        return (
            plan.engine, plan.frame(number), rows, what,
            lambda row: block_words.on_paper(plan, row, system),
        )  # fmt: skip

    # --- results ---

    def engine_now(self):
        """Return the engine; a piston that meets the head is no reason not to look at the block."""
        self._in_head = []
        try:
            return super().engine_now()
        except ValueError as fault:
            lines = str(fault).splitlines()
            if not all(re.match(_IN_HEAD, line) for line in lines):
                raise
            self._in_head = lines
            return self.base.altered(self.typed(), fitting=False)

    def results(self, engine):
        name = self.file.value if self.beside.value == _SAME else self.beside.value
        beside = self._plan("plan A", name, lambda: engine_of(name))
        turned = self._turned_here()
        key = self.file.value, self.seen_as.value, repr(self.typed()), turned
        plan = self._plan("plan B", key, lambda: engine, turned)
        self._offer_choices(plan)
        return beside, plan, self.cylinder.value, Q(self.angle.value, "deg"), self._row()

    def _plan(self, name, key, engine, turned=()):
        """Return a `BlockPlan`, worked out anew only when `key` is another one."""
        if name not in self._plans or self._plans[name][0] != key:
            self._plans[name] = key, BlockPlan(name, engine(), turned)
        return self._plans[name][1]

    def _offer_choices(self, plan):
        """Offer the engine's cylinders and the pairs that are known of it."""
        numbers = tuple(plan.engine.layout.numbers)
        if self.cylinder.options != numbers:
            self._offer(self.cylinder, options=numbers, value=plan.own(self.cylinder.value))
        self._offer(self.turned, value=self.cylinder.value in plan.turned)
        pairs = (_WORST, *dict.fromkeys(pair for pair, _ in plan.rows))
        if self.pair.options != pairs:
            chosen = self.pair.value if self.pair.value in pairs else _WORST
            self._offer(self.pair, options=pairs, value=chosen)

    # --- drawing ---

    def _grey(self, stale):
        super()._grey(stale)
        for caption in self.captions:
            (caption.add_class if stale else caption.remove_class)("enginecalc-stale")

    def draw(self, found):
        beside, plan, number, angle, row = found
        system = self.system.value
        if self._in_head:
            doubts = "; ".join([*self._in_head, *self.engine.remarks])
            self.doubts.value = tables.note(
                f"Look at this: {doubts}. The gaps in the block are worked out all the same."
            )
        self.crank_place.value = html.escape(gap_words.crank_place(number, angle))
        self._draw_views(beside, plan, number, angle)
        told = self._draw_gap(beside, plan, row, angle)
        self.captions[0].value = gap_words.under_views(plan, beside, number, system)
        self.captions[1].value = tables.paragraphs(told)
        self.numbers.value = block_words.numbers(plan, beside, system)
        answer = block_words.answer(plan, beside, system)
        return answer, [
            f"Front views of plan A and plan B to one scale, cylinder {number}, the crank"
            f" {angle.m:.0f} degrees after firing top dead center. {answer}",
            told,
        ]

    def _draw_views(self, beside, plan, number, angle):
        """Draw both plans in one window, the places that are outside or close numbered."""
        pairs = gap_words.marked(plan, beside, number)
        plans = [(each, each.own(number)) for each in (beside, plan)]
        window = common_window([each.extent(own) for each, own in plans])
        for view, (each, own) in zip(self.views, plans, strict=True):
            scene = each.scene(own, angle)
            view.look_at(*window)
            view.place(scene)
            view.name_parts(scene)
            spots = [(at, each.doubtful_spot(pair, own)) for at, pair in enumerate(pairs, 1)]
            view.mark([(at, spot.here, spot.toward) for at, spot in spots if spot is not None])
            view.title.set_text(gap_words.title(each, number, self.system.value))

    def _draw_gap(self, beside, plan, row, angle):
        """Draw the chosen pair enlarged and by crank angle; return what that shows, in words."""
        system = self.system.value
        spot = None if row is None else plan.spot(row)
        curve = None if row is None else plan.curve(row.pair, row.cylinder)
        self.nearest.ax.set_visible(spot is not None)
        self.gaps.ax.set_visible(curve is not None)
        self._draw_sections(beside, plan, row)
        self.pictures[1].layout.display = "none" if row is None else None
        if row is None:
            return "No gap is known yet, so there is none to enlarge."
        title, told = gap_words.about_gap(plan, row, curve, system)
        self.title.set_text(title)
        words = gap_words.at_gap(plan, row, system)
        if spot is not None:
            scene, rod = plan.scene(row.cylinder, row.crank_angle), row.pair.startswith("rod")
            self.nearest.place(scene, spot, words, rod)
        if curve is not None:
            at = row.pair, beside.own(row.cylinder)
            curves = beside.curve(*at) if at in beside.rows else None, curve
            place, over = (row.crank_angle, row.clearance), gap_words.over_turn(row, curve)
            unit, _ = tables.LENGTH[system]
            self.gaps.place(curves, row.limit, place, angle, over, words[0], unit)
        return told

    def _draw_sections(self, beside, plan, row):
        """Draw both plans' chamfers in their fillets when that is the chosen pair."""
        for section, each in zip(self.sections, (plan, beside), strict=True):
            mine = None if row is None else each.rows.get((row.pair, each.own(row.cylinder)))
            shown = mine is not None and mine.pair == CHAMFER
            section.ax.set_visible(shown)
            if shown:
                _, *words = gap_words.at_gap(each, mine, self.system.value)
                section.place(each.engine.crank.fillet_radius, each.chamfer_leg(mine), words)
