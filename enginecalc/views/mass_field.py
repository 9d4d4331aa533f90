"""A mass as typed text."""

import ipywidgets as widgets

from enginecalc.views.controls import TypedField


class MassField(TypedField):
    """A typed mass, in whatever unit it was typed in."""

    def __init__(self, label, path):
        box = widgets.Text(
            description=label, continuous_update=False, tooltip=path,
            style={"description_width": "10.8em"}, layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        super().__init__(label, path, box)

    def show(self, text, system):
        """Put a text into the box without telling anybody."""
        self.text, self._setting = text, True
        try:
            self.box.value = text
        finally:
            self._setting = False

    def stated(self, given):
        """Return the text to show for what the engine file says, "" for nothing."""
        return "" if given is None else str(given)

    def meant(self, text):
        """Return what a text says to the engine file, None for a blank."""
        return text or None

    def _typed(self, change):
        if not self._setting:
            self.text = change["new"].strip()
            self._tell()
