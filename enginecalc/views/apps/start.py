"""Chapter 00: look at an engine, or start one from a layout."""

import itertools

import ipywidgets as widgets

from enginecalc.records import Engine, results, save_engine
from enginecalc.records.faults import REQUIRED
from enginecalc.records.figures import where_to_measure
from enginecalc.records.layout import layout_names, layout_numberings, layout_table
from enginecalc.views import tables
from enginecalc.views.chapter import Chapter
from enginecalc.views.figures import FrontView
from enginecalc.views.finder import new_file

_NOT_KNOWN = "not known"
_EXAMPLES = {"piston.dish_volume": "+5.5 cc dish, -3 cc dome", "head.chamber_volume": "70.0 cc"}


class StartChapter(Chapter):
    """Which cylinder sits where, on which pin, and when it is at its top and fires."""

    figure_sizes = ((6.4, 4.9),)

    def build(self):
        self.view = FrontView(self.figures[0].subplots())
        self.new = NewEngine(self._made)
        return [self.group("start an engine from a layout"), self.new]

    def _made(self, stem):
        self.offer()
        self.file.value = stem

    def results(self, engine):
        return engine, {each.name: each for each in results(engine)}

    def draw(self, found):
        engine, named = found
        layout, system = engine.layout, self.system.value
        tops, fires = layout.tdc_angles(), layout.firing_angles()
        self.view.show(layout)
        rows = [
            (
                f"cylinder {each.number}",
                each.bank,
                each.pin,
                f"{tops[each.number]:.0f}",
                f"{(tops[each.number] + 180) % 360:.0f}",
                f"{fires[each.number]:.0f}",
            )
            for each in layout.cylinder
        ]
        self.numbers.value = tables.html_table(
            ("", "bank", "pin", "top [deg]", "bottom [deg]", "fires [deg]"),
            rows,
            "Crank angles from the first cylinder's top",
        ) + tables.paragraphs(
            "Front is the end opposite the flywheel. Left and right bank are named as seen from"
            " the flywheel end, so in the front view the left bank stands on the right."
            if layout.kind != "inline"
            else "Front is the end opposite the flywheel.",
        )
        order = "-".join(map(str, layout.firing_order))
        pairs = ", ".join("+".join(map(str, group)) for group in layout.companions())
        answer = (
            f"{engine.name}: {_count(layout)}, {layout.kind},"
            f" {tables.say_result(named['displacement'], system)}, compression ratio"
            f" {named['compression_ratio'].value.magnitude:.1f}; fires {order}"
            f"{_spacing(fires)}" + (f"; at the top together: {pairs}." if pairs else ".")
        )
        return answer, [f"Front view of banks and crank pins. {answer}"]


def _count(layout):
    count = len(layout.cylinder)
    return f"{count} cylinder{'s' if count > 1 else ''}"


def _spacing(fires):
    """Return how far the firings lie apart, in words."""
    angles = [*fires.values(), 720.0]
    gaps = [f"{other - one:.0f}" for one, other in itertools.pairwise(angles)]
    even = len(set(gaps)) == 1
    return f" every {gaps[0]}°" if even else f", unevenly: {'-'.join(gaps)}°"


class NewEngine(widgets.VBox):
    """A form that writes a new engine file; calls `made(stem)` when it has."""

    def __init__(self, made):
        self._made = made
        wide = {"width": "auto"}
        self.layouts = widgets.Dropdown(options=layout_names(), description="layout", layout=wide)
        self.numbering = widgets.Dropdown(description="numbered", layout=wide)
        self.name = widgets.Text(
            description="name",
            placeholder="like: Mill engine",
            continuous_update=False,
            layout=wide,
        )
        self.boxes = {
            path: widgets.Text(
                description=path.replace(".", " ").replace("_", " "),
                placeholder=_EXAMPLES.get(path, "like 83.5 mm or 3.290 in"),
                tooltip=where_to_measure(path),
                continuous_update=False,
                style={"description_width": "14.5em"},
                layout=wide,
            )
            for path in REQUIRED
        }
        self.rod_material = widgets.Dropdown(
            options=(_NOT_KNOWN, "steel", "aluminium", "titanium"),
            description="rod material",
            style={"description_width": "14.5em"},
            layout=wide,
        )
        self.write = widgets.Button(description="Write the engine file", layout=wide)
        self.answer = widgets.HTML()
        self.layouts.observe(self._chosen, "value")
        self.write.on_click(self._write)
        self._chosen()
        super().__init__(
            [
                self.layouts,
                self.numbering,
                self.name,
                *self.boxes.values(),
                self.rod_material,
                self.write,
                self.answer,
            ]
        )

    def _chosen(self, *_):
        self.numbering.options = layout_numberings(self.layouts.value)
        self.numbering.value = self.numbering.options[0]

    def _write(self, _):
        raw = {"name": self.name.value.strip()}
        for path, box in self.boxes.items():
            table, key = path.split(".")
            raw.setdefault(table, {})[key] = box.value.strip()
        if self.rod_material.value != _NOT_KNOWN:
            raw["rod"]["material"] = self.rod_material.value
        raw["layout"] = layout_table(self.layouts.value, self.numbering.value)
        made, path, wrong = None, None, []
        try:
            path = new_file(self.name.value)
        except (ValueError, OSError) as fault:
            wrong.append(str(fault))
            raw["name"] = raw["name"] or "to be named"
        try:
            made = Engine.model_validate(raw)
            if path is not None:
                save_engine(made, path)
        except (ValueError, OSError) as fault:
            wrong.append(str(fault))
        if wrong:
            self.answer.value = tables.note("Not written.\n" + "\n".join(wrong))
            return
        self.answer.value = tables.note(f"Written as {path.name}, and opened above.")
        self._made(path.stem)
