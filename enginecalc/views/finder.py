"""Two small boxes below a chapter's controls: find one dimension, keep the engine as a file."""

import re

import ipywidgets as widgets

from enginecalc.records import find_dimension, folder, save_engine
from enginecalc.units import read
from enginecalc.views import tables
from enginecalc.views.controls import plain_number

_UNKNOWNS = {
    "compression height": "piston.compression_height",
    "rod length": "rod.length",
    "block deck height": "block.deck_height",
    "gasket thickness": "gasket.thickness",
    "chamber volume": "head.chamber_volume",
    "dish volume": "piston.dish_volume",
}
_USUAL = {
    "deck clearance": {"inch": "0.015 in", "metric": "0.40 mm"},
    "quench distance": {"inch": "0.040 in", "metric": "1.00 mm"},
    "compression ratio": {"inch": "10.0", "metric": "10.0"},
}
_WIDE = {"width": "auto"}


class DimensionFinder(widgets.VBox):
    """Find the one dimension of a chapter's engine that gives a wanted figure.

    It works on parts that do not fit yet, for those are the ones that need it.
    """

    def __init__(self, chapter):
        self.chapter = chapter
        self.unknown = widgets.Dropdown(options=list(_UNKNOWNS), description="find", layout=_WIDE)
        self.target = widgets.Dropdown(options=list(_USUAL), description="so that", layout=_WIDE)
        self.wanted = widgets.Text(
            value="0.015 in", description="is", continuous_update=False, layout=_WIDE
        )
        self.find = widgets.Button(description="Find it")
        self.use = widgets.Button(description="Use it", disabled=True)
        self.answer = widgets.HTML()
        self.target.observe(self._asked, "value")
        chapter.system.observe(self._asked, "value")
        self.find.on_click(self._find)
        self.use.on_click(self._use)
        buttons = widgets.HBox([self.find, self.use])
        super().__init__([self.unknown, self.target, self.wanted, buttons, self.answer])

    def _asked(self, _):
        """Put a usual figure of the kind that is now asked for."""
        known = {text for some in _USUAL.values() for text in some.values()}
        if self.wanted.value in known:  # nothing of the person's own is overwritten
            self.wanted.value = _USUAL[self.target.value][self.chapter.system.value]

    def _find(self, _):
        self.use.disabled = True
        path, target = _UNKNOWNS[self.unknown.value], self.target.value.replace(" ", "_")
        try:
            engine = self.chapter.base_engine().altered(self._known(path), fitting=False)
            ratio = target == "compression_ratio"
            text = self.wanted.value
            wanted = plain_number(text) if ratio else read(text, "length")
            size = find_dimension(engine, path, **{target: wanted})
        except ValueError as fault:
            self.answer.value = tables.note(str(fault))
            return
        inch = {"inch": ("in", 3), "metric": ("mm", 2)}[self.chapter.system.value]
        unit, decimals = ("cc", 1) if "volume" in path else inch
        text = f"{size.m_as(tables.UNITS[unit]):.{decimals}f} {unit}"
        self._found = path, text
        self._for = self._parts()
        self.answer.value = tables.note(
            f"{self.unknown.value} {text} gives a {self.target.value} of {self.wanted.value},"
            " all else as it is."
        )
        self.use.disabled = False

    def _known(self, path):
        """Return what was typed, with any size for the dimension that is looked for."""
        stand_in = {path: "1.0 cc" if "volume" in path else "50 mm"}
        try:
            typed = self.chapter.typed()
            read(str(typed.get(path) or self.chapter.base.text_at(path)))
        except ValueError:
            return {**self.chapter.typed(), **stand_in}
        return typed if typed.get(path, "") is not None else {**typed, **stand_in}

    def _parts(self):
        chapter = self.chapter
        return chapter.file.value, chapter.seen_as.value, dict(chapter.drafts())

    def forget(self):
        """Withdraw an answer that was found for other parts."""
        if not self.use.disabled and self._for != self._parts():
            self.use.disabled, self.answer.value = True, ""

    def _use(self, _):
        path, text = self._found
        next(each for each in self.chapter.fields.values() if each.path == path).type(text)


class EngineSaver(widgets.VBox):
    """Keep a chapter's engine, as changed there, under a new name beside the other engine files.

    `saved(stem)` is called with the new file's name.
    """

    def __init__(self, chapter, saved):
        self.chapter, self._saved = chapter, saved
        self.new_name = widgets.Text(
            description="name", placeholder="like: Pump, long stroke, flat top", layout=_WIDE
        )
        self.save = widgets.Button(description="Save as a new engine file", layout=_WIDE)
        self.answer = widgets.HTML()
        self.save.on_click(self._save)
        super().__init__([self.new_name, self.save, self.answer])

    def _save(self, _):
        try:
            changes = {**self.chapter.typed(), "name": self.new_name.value.strip()}
            path = new_file(self.new_name.value)
            save_engine(self.chapter.base_engine().altered(changes), path)
        except (ValueError, OSError) as fault:
            self.answer.value = tables.note(f"Not saved. {fault}")
            return
        self.answer.value = tables.note(f"Saved as {path.name}, beside the other engine files.")
        self._saved(path.stem)


def new_file(name):
    """Return the path of a new engine file for an engine's name; refuses one that is taken."""
    stem = re.sub(r"[\W_]+", "-", name.lower()).strip("-")
    if not stem:
        raise ValueError("name: nothing to name the file by was typed; write what to call it")
    if len(stem) > 60:
        raise ValueError(f"name: {len(stem)} letters are too many for a file; write 60 at most")
    path = folder("engines") / f"{stem}.toml"
    if path.exists():
        raise ValueError(f"{path.name} is there already; type another name")
    return path
