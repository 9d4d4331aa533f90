"""The boxes of the last chapter: what to save of a build, and a build that comes as a zip."""

import html

import ipywidgets as widgets

from enginecalc.records.archive import pack, read_archive, unpack
from enginecalc.records.results_csv import results_csv
from enginecalc.views.saving import link
from enginecalc.views.sheet import hand_over_sheet
from enginecalc.views.tables import note, paragraphs

_WIDE, _STYLE = {"width": "auto"}, {"description_width": "7em"}
_BUTTON = {"align_self": "flex-start", "width": "auto"}


class HandOverForm(widgets.VBox):
    """Makes the sheet, shows it, and hands out sheet, results and the whole build as files.

    `asked()` returns the build and the unit system, ValueError when there is none.
    """

    def __init__(self, asked):
        self._asked = asked
        self.make = widgets.Button(description="Make the sheet", layout=_BUTTON)
        self.links, self.preview = widgets.HTML(), widgets.HTML()
        self.make.on_click(self._made)
        super().__init__([self.make, self.links, self.preview])

    def clear(self):
        """Take away a sheet that is older than what the page says."""
        self.links.value = self.preview.value = ""

    def _made(self, _):
        try:
            build, system = self._asked()
            sheet, results = hand_over_sheet(build, system=system), results_csv(build)
            files = {"sheet.html": sheet.encode(), "results.csv": results}
            whole = pack(build, files)
        except ValueError as fault:
            self.clear()
            self.links.value = note(str(fault))
            return
        name = build.name
        self.links.value = "<br>".join(
            (
                link(f"{name}-sheet.html", "text/html", files["sheet.html"]),
                link(f"{name}-results.csv", "text/csv", results),
                link(f"{name}.zip", "application/zip", whole),
            )
        ) + paragraphs(
            "The sheet opens and prints in any browser, on A4 or Letter. The zip holds the build,"
            " the sheet and the results; it opens again below, here or on another machine."
        )
        source = html.escape(sheet, quote=True)
        self.preview.value = (
            '<iframe class="enginecalc-sheet" sandbox title="the hand-over sheet"'
            f' srcdoc="{source}"></iframe>'
        )


class TakeInForm(widgets.VBox):
    """Opens a build that came as a zip; calls `made(name)` when it lies among the builds."""

    def __init__(self, made):
        self._made, self._data = made, None
        self.upload = widgets.FileUpload(
            accept=".zip", description="Choose a zip", icon="", layout=_BUTTON
        )
        self.name = widgets.Text(
            description="name", placeholder="like: quarry engine, from Anna", layout=_WIDE,
            continuous_update=False, style=_STYLE,
        )  # fmt: skip
        self.put = widgets.Button(description="Put it among the builds", layout=_BUTTON)
        self.answer = widgets.HTML()
        self.upload.observe(self._chosen, "value")
        self.put.on_click(self._opened)
        super().__init__([self.upload, self.name, self.put, self.answer])

    def choose(self, data, name):
        """Look into a zip and say what is in it; nothing is written yet."""
        self._data = None
        try:
            found = read_archive(data)
        except ValueError as fault:
            self.answer.value = note(f"{name}: {fault}")
            return
        self._data = data
        self.name.value = name.removesuffix(".zip")
        files = ", ".join(sorted(found.files))
        self.answer.value = note(f"{name} holds {files}.") + "".join(map(note, found.remarks))

    def _chosen(self, change):
        for file in change["new"]:
            self.choose(bytes(file["content"]), file["name"])
        if change["new"]:
            self.upload.value = ()  # so that the same file can be chosen again

    def _opened(self, _):
        if self._data is None:
            first = note("Choose a zip first.")
            self.answer.value = self.answer.value.removesuffix(first) + first
            return
        try:
            build = unpack(self._data, self.name.value)
        except (ValueError, OSError) as fault:
            self.answer.value = note(f"Not opened. {fault}")
            return
        self.answer.value = note(f"Opened above: {build.name}.")
        self._made(build.name)
