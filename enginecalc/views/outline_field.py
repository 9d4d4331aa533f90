"""The outline of a rod's big end as typed text: its discs, one a line."""

import re

import ipywidgets as widgets

from enginecalc.units import read_typed
from enginecalc.views.controls import TypedField

_OF_DISC = ("x", "y", "radius")
_DISC = "1.20 in ; -0.70 in ; 0.280 in"


class OutlineField(TypedField):
    """The discs of a rod's outline, one a line: x ; y ; radius, each with its unit.

    `text` is what was typed, and so it stays whatever unit system the page speaks.

    Parameters
    ----------
    label, path : str
        As of `Field`.
    """

    def __init__(self, label, path):
        box = widgets.Textarea(
            description=f"{label}, one disc a line: x ; y ; radius",
            placeholder=f"one disc a line: {_DISC}",
            rows=6,
            continuous_update=False,
            tooltip=path,
            style={"description_width": "initial"},
            layout=widgets.Layout(width="auto", flex_flow="column", align_items="stretch"),
        )
        super().__init__(label, path, box)

    def show(self, text, system):
        """Put a text into the box without telling anybody."""
        self.text, self._setting = text, True
        try:
            self.box.value = text
        finally:
            self._setting = False

    def stated(self, given):
        """Return the discs of an engine file as text."""
        return "\n".join(" ; ".join(str(disc[key]) for key in _OF_DISC) for disc in given or [])

    def meant(self, text):
        """Return the discs a text says, as an engine file has them; None for a blank.

        Raises
        ------
        ValueError
            With a sentence for every line that is no disc.
        """
        discs, wrong = [], []
        for at, line in enumerate(text.splitlines(), 1):
            try:
                if line.strip():
                    discs.append(_disc(line.strip()))
            except ValueError as fault:
                wrong.append(f"line {at}: {fault}")
        if wrong:
            raise ValueError("\n".join(wrong))
        return discs or None

    def _typed(self, change):
        if not self._setting:
            self.text = change["new"]
            self._tell()


def _disc(line):
    """Return the disc of a line. A comma parts figures only where it can be no decimal comma."""
    pieces = line.split(";")
    if len(pieces) == 1:
        pieces = re.split(r"(?<=[^\W\d]|[\"”″]) *,(?=\s|[-+−])", line)
        if any(re.search(r",(?!\d)|(?<!\d),", piece) for piece in pieces):
            raise ValueError(
                f'"{line}" may have decimal commas; part the figures by semicolons, {_DISC}'
            )
    pieces = [piece.strip() for piece in pieces]
    if len(pieces) != 3:
        raise ValueError(
            f'"{line}" has {len(pieces)} figure{"s" if len(pieces) > 1 else ""}, a disc has three;'
            f" write x ; y ; radius, like {_DISC}"
        )
    for key, piece in zip(_OF_DISC, pieces, strict=True):
        try:
            read_typed(piece, "length")
        except ValueError as fault:
            raise ValueError(f"{key}: {fault}") from None
    return dict(zip(_OF_DISC, pieces, strict=True))
