"""A box for one line after the other: Enter hands a line over, and one can type on at once."""

import asyncio

import ipywidgets as widgets

QUIET = 0.5  # seconds without a key before the box is really cleared

# Invisible signs. The box gets another of them each time the kernel writes into it, so that what
# was typed before the browser knew of that can be told from what was typed after.
_MARKS = "".join(map(chr, (*range(0x2060, 0x2065), *range(0x206A, 0x2070))))


class LineBox(widgets.Textarea):
    """A box of text, one line high, whose lines are taken one by one.

    A plain one-line box tells of Enter and of its text in two messages, in no sure order, and
    leaving it looks like Enter. Here Enter is a sign in the text itself, and the line before it
    is out of sight at once. The kernel writes into the box only when a line stays, or when nobody
    types: however fast somebody does, and however busy the kernel is, each line is taken once.

    Parameters
    ----------
    entered : callable
        `entered(line)` is called for each Enter; what is false leaves the line in the box.
    typing : callable
        Called for each key that ends no line.

    Attributes
    ----------
    line : str
        What stands in the box.
    """

    def __init__(self, entered, typing=lambda: None, **options):
        self._entered, self._typing = entered, typing
        self.line, self._mark, self._setting, self._timer = "", _MARKS[0], False, None
        self._taken = ""  # the lines out of sight before `line`
        self._known = {self._mark: ""}  # {sign: what is accounted for of the box that bears it}
        self._bare = False  # whether somebody marked all that was in the box and typed over it
        super().__init__(value=self._mark, rows=1, continuous_update=True, **options)
        self.observe(self._changed, "value")

    def type(self, line):
        """Do as a person who types a line in place of what is there, and presses Enter."""
        self.value = self._mark + line
        self.value += "\n"

    def put(self, line):
        """Write a text into the box without taking it."""
        self._mark = _MARKS[(_MARKS.index(self._mark) + 1) % len(_MARKS)]
        self.line, self._taken, self._bare, self._setting = line, "", False, True
        self._known[self._mark] = line
        try:
            self.value = self._mark + line
        finally:
            self._setting = False

    def _changed(self, change):
        if self._setting:
            return
        mark = next((each for each in _MARKS if each in change["new"]), "")
        typed, known = change["new"].replace(mark, ""), self._known.get(mark, "")
        new = typed[len(known) :] if typed.startswith(known) else ""
        bare = not mark and (self._bare or not known or not typed.startswith(known))
        late = not bare and mark != self._mark
        if late:  # only what is new of it counts, behind what is here
            text = self.line + new
        elif typed.startswith(self._taken):
            text = typed[len(self._taken) :]
        else:  # somebody went back into lines that were taken
            text, self._taken = " ".join(typed.splitlines()) if "\n" in typed else typed, ""
        self._bare = bare
        self._known |= {mark: typed}
        lines, rest = _lines(text, self.line)
        in_order = typed == self._taken + "".join(f"{each}\n" for each in lines) + rest
        while lines and (self._entered(lines[0].strip()) or not lines[0].strip()):
            self._taken += f"{lines.pop(0)}\n"
        if lines or late or not in_order:
            # a line end that stayed would count as Enter again at the next key
            self.put(" | ".join([*lines, *filter(None, [rest])]))
        self.line = self.line if lines else rest
        self._clear_later()
        if "\n" not in text:
            self._typing()

    def _clear_later(self, once_more=True):
        """Clear the box when nobody types for a while; at once where no kernel runs."""
        if self._timer is not None:
            self._timer.cancel()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._clear()
            return
        # waits twice: keys that came while the kernel was busy are read in between
        last = (self._clear_later, False) if once_more else (self._clear,)
        self._timer = loop.call_later(QUIET / 2, *last)

    def _clear(self):
        if self._taken and not self.line:
            self.put("")


def _lines(text, known):
    """Return the lines that Enter ended, and what follows; `known` is the text as it was.

    Enter with the cursor within a line ends the whole line. Several lines count when they were
    typed behind what was known, or the last of them is ended too; else they are one.
    """
    if text.count("\n") == 1 and text.replace("\n", "") == known:
        return [known], ""
    *lines, rest = text.split("\n")
    if not lines or text.startswith(known) or not rest:
        return lines, rest
    return [" | ".join([*lines, rest])], ""
