"""Small boxes below a build: a filled-in sheet in, a copy out, blank sheets, a new build."""

import tempfile
from pathlib import Path

import ipywidgets as widgets

from enginecalc.records import folder, load_engine
from enginecalc.records.build import new_build
from enginecalc.views.bench_sheets import SHEETS, bench_sheets
from enginecalc.views.saving import link
from enginecalc.views.sheets import PAPERS, pdf_bytes
from enginecalc.views.tables import note, paragraphs

_WIDE, _STYLE = {"width": "auto"}, {"description_width": "7em"}
_BUTTON = {"align_self": "flex-start", "width": "auto"}
_ALL = "all of them"


class LedgerForm(widgets.VBox):
    """Takes in a CSV that was filled in elsewhere, and hands out a copy of the ledger.

    `ask_build()` returns the build, ValueError when there is none; `told()` is called when rows
    were added.
    """

    def __init__(self, ask_build, told):
        self._ask_build, self._told = ask_build, told
        self.upload = widgets.FileUpload(
            accept=".csv,.txt", description="Take in a filled-in CSV", icon="", layout=_BUTTON
        )
        self.copy = widgets.Button(description="Make a copy to save", layout=_BUTTON)
        self.answer = widgets.HTML()
        self.upload.observe(self._taken, "value")
        self.copy.on_click(self._copied)
        super().__init__([self.upload, self.copy, self.answer])

    def take_in(self, data, name="the file"):
        """Add the rows of a CSV, and say how many and what could not be read."""
        try:
            count, faults = self._ask_build().readings.take_in(data)
        except ValueError as fault:
            self.answer.value = note(f"{name}: {fault}")
            return
        said = f"{name}: {count} row{'' if count == 1 else 's'} added to the ledger."
        if not count:
            said += " What is in the ledger already, and rows without a value, are not added again."
        self.answer.value = note(said) + "".join(note(f"{name}: {each}") for each in faults)
        if count:
            self._told()

    def _taken(self, change):
        for file in change["new"]:
            self.take_in(bytes(file["content"]), file["name"])
        if change["new"]:
            self.upload.value = ()  # so that the same file can be chosen again

    def _copied(self, _):
        try:
            build = self._ask_build()
            with tempfile.TemporaryDirectory() as place:
                path = Path(place) / f"{build.name}-readings.csv"
                build.readings.to_csv(path)
                self.answer.value = link(path.name, "text/csv", path.read_bytes())
        except ValueError as fault:
            self.answer.value = note(str(fault))


class SheetForm(widgets.VBox):
    """Blank bench sheets of the build's engine as a PDF, in the unit system of the page.

    `ask()` returns the engine and the unit system, ValueError when there is none.
    """

    def __init__(self, ask):
        self._ask = ask
        self.kind = widgets.Dropdown(
            options=[_ALL, *SHEETS], description="sheets", layout=_WIDE, style=_STYLE
        )
        self.paper = widgets.Dropdown(
            options=[*PAPERS], description="paper", layout=_WIDE, style=_STYLE
        )
        self.make = widgets.Button(description="Make the PDF", layout=_BUTTON)
        self.answer = widgets.HTML()
        self.make.on_click(self._made)
        super().__init__([self.kind, self.paper, self.make, self.answer])

    def _made(self, _):
        kinds = None if self.kind.value == _ALL else [self.kind.value]
        try:
            engine, system = self._ask()
            pages = bench_sheets(engine, system=system, paper=self.paper.value, kinds=kinds)
        except ValueError as fault:
            self.answer.value = note(str(fault))
            return
        name = "bench-sheets" if kinds is None else f"{kinds[0].replace(' ', '-')}-sheet"
        pages_are = "1 page is" if len(pages) == 1 else f"{len(pages)} pages are"
        self.answer.value = link(f"{name}.pdf", "application/pdf", pdf_bytes(pages)) + paragraphs(
            f"{pages_are} in it. Fill in by hand, then type it in above, box by box."
        )


class NewBuildForm(widgets.VBox):
    """Makes a build without readings from an engine file; calls `made(name)` when it has."""

    def __init__(self, made):
        self._made = made
        self.engine = widgets.Dropdown(
            options=sorted(path.stem for path in folder("engines").glob("*.toml")),
            description="engine file", layout=_WIDE, style=_STYLE,
        )  # fmt: skip
        self.name = widgets.Text(
            description="name", placeholder="like: mill engine, spring rebuild", layout=_WIDE,
            continuous_update=False, style=_STYLE,
        )  # fmt: skip
        self.make = widgets.Button(description="Make the build", layout=_BUTTON)
        self.answer = widgets.HTML()
        self.make.on_click(self._clicked)
        super().__init__([self.engine, self.name, self.make, self.answer])

    def _clicked(self, _):
        try:
            engine = load_engine(folder("engines") / f"{self.engine.value}.toml")
            build = new_build(self.name.value, engine)
        except (ValueError, OSError) as fault:
            self.answer.value = note(f"Not made. {fault}")
            return
        self.answer.value = note(f"Made, and opened above: {build.name}, without readings yet.")
        self._made(build.name)
