"""The base of the forms that ask for one thing after the other: one box, a line, Enter saves."""

import html

import ipywidgets as widgets

from enginecalc.views.tables import note, refusal


class RoundForm(widgets.VBox):
    """A round at the keyboard. Subclasses lay out `children` and fill in `words`, `save`, `draw`.

    Parameters
    ----------
    box : LineBox
        Where lines are typed; it hands them to `_entered`.
    go : Dropdown
        What else could be asked for.
    labels : dict of str to str
        {label of a button: the word that does the same}.
    told : callable
        Called after the ledger got a row.

    Attributes
    ----------
    buttons : dict of str to Button
        By label.
    asked, saved, refusal : HTML
        What is asked for now, what was saved last, why a line was not taken.
    """

    def __init__(self, box, go, labels, told):
        super().__init__()
        self.box, self.go, self._told = box, go, told
        self._round, self._setting = None, False
        self.asked, self.saved, self.refusal = (widgets.HTML() for _ in range(3))
        self.box.add_class("enginecalc-entry")
        self.go.observe(self._went, "value")
        self.buttons = {
            label: widgets.Button(description=label, layout={"width": "auto"}) for label in labels
        }
        for label, button in self.buttons.items():
            button.on_click(lambda _, word=labels[label]: self._pressed(word))

    def type(self, text):
        """Do as a person who types a text into the box and presses Enter."""
        self.box.type(text)

    # --- what a form fills in ---

    def words(self):
        """Return {word: what is called when it is typed}."""
        return {}

    def save(self, text):
        """Save a line that is none of the words; ValueError leaves it in the box."""

    def draw(self):
        """Show what is asked for now."""

    def choose(self, choice):
        """Ask for what was chosen in the list."""
        self._round.ask(choice)

    # --- what is entered ---

    def _entered(self, text):
        """Take a line of the box; False leaves it there, with the sentence why beside it."""
        self._refuse("")
        try:
            self.words().get(text.lower(), lambda: self.save(text))()
        except ValueError as fault:
            self._refuse(str(fault))
            return False
        finally:
            self.draw()
        return True

    def _pressed(self, word):
        self._entered(word)
        self.box.focus()

    def _went(self, change):
        if not self._setting and change["new"] is not None:
            self._refuse("")
            self.choose(change["new"])
            self.draw()

    def _quietly(self, control, **values):
        """Set what a control shows without doing what a person's change of it does."""
        self._setting = True
        try:
            for name, value in values.items():
                setattr(control, name, value)
        finally:
            self._setting = False

    # --- what is said ---

    def _refuse(self, text):
        self.refusal.value = refusal(text)
        (self.box.add_class if text else self.box.remove_class)("enginecalc-wrong")

    def _say(self, text, doubt=""):
        self.saved.value = (
            f'<p class="enginecalc-saved" role="status" aria-live="polite">{html.escape(text)}</p>'
            + (note(doubt) if doubt else "")
        )
