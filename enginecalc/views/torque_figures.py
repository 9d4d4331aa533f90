"""Drawings of the turning torque: what each piston added, and one piston's trace by crank angle."""

import numpy as np
from matplotlib.patches import Patch

from enginecalc.views.figures import LIMIT, PISTON

_ROOM = 0.17  # of the height from the lowest to the tallest bar: for the figure beyond it


class TorqueSteps:
    """A bar for the torque that each piston added, in the order of fitting; a tight one hatched.

    Made for a figure 7 in wide and 2.6 in high.
    """

    def __init__(self, ax):
        self.ax = ax

    def place(self, entries, unit, decimals):
        """Draw entries of a torque log; return the same in words.

        `entries` holds words under the bar, total, what was added or None, and whether it is tight;
        figures in `unit`. Without any there is nothing to show: leave the picture out.
        """
        ax = self.ax
        ax.clear()
        ax.set_ylabel(f"added [{unit}]")
        names = [f"{words}\n{total:.{decimals}f}" for words, total, _, _ in entries]
        ax.set_xticks(range(len(entries)), names, fontsize=10)
        ax.set_xlim(-0.6, max(len(entries), 4) - 0.4)
        ax.axhline(0, color="black", lw=0.8)
        added = [each for _, _, each, _ in entries if each is not None]
        low, high = min([0, *added]), max([0, *added]) or 1
        room = _ROOM * (high - low)
        ax.set_ylim(low - (low < 0) * room, high + room)
        for at, (_, _, each, tight) in enumerate(entries):
            if each is None:
                continue
            (bar,) = ax.bar(at, each, 0.6, fc="white" if tight else PISTON, ec="black", lw=1)
            bar.set_hatch("xxx" if tight else "")
            bar.set_gid(f"added {at}")
            up = each >= 0
            words = f"{each:.{decimals}f}".replace("-", "−") + (" tight" if tight else "")
            ax.annotate(words, (at, each), (0, 2 if up else -4), textcoords="offset points",
                        ha="center", va="bottom" if up else "top", fontsize=10,
                        weight="bold" if tight else "normal")  # fmt: skip
        ax.set_title(f"Torque that each piston added; below, the whole [{unit}]", fontsize=11)
        for edge in ("top", "right"):
            ax.spines[edge].set_visible(False)
        said = [
            f"{words} {each:.{decimals}f}{' tight' if tight else ''}"
            for words, _, each, tight in entries
            if each is not None
        ]
        return f"torque added in {unit}: {', '.join(said) or 'nothing is logged yet'}"


class TorqueTrace:
    """One piston's share of the turning torque over a turn: read, fitted, and where it touches.

    Made for a figure 7 in wide and 2.6 in high.
    """

    def __init__(self, ax):
        self.ax = ax

    def place(self, crank_angle, torque, fitted, contacts, unit, *, two_turns=False):
        """Draw a trace, all plain arrays in degrees and `unit`; return the same in words."""
        ax = self.ax
        ax.clear()
        turn = 720 if two_turns else 360
        order = np.argsort(crank_angle)
        angle, torque, fitted = (np.asarray(each)[order] for each in (crank_angle, torque, fitted))
        ax.plot(angle, torque, "o", ms=4, color="black", mfc="white", label="read")
        ax.plot(angle, fitted, color=PISTON, lw=1.6, label="bearings and rings")
        for at in contacts:
            ax.axvline(at, color=LIMIT, ls="--", lw=1.2)
        handles, _ = ax.get_legend_handles_labels()
        if len(contacts):
            handles.append(Patch(fc="none", ec=LIMIT, ls="--", label="touches here"))
        ax.legend(handles=handles, loc="upper right", ncols=3, fontsize=10, frameon=False)
        ax.set(
            xlabel="crank angle after this cylinder's true TDC [deg]", xlim=(-5, turn + 5),
            ylabel=f"added torque [{unit}]", xticks=range(0, turn + 1, 45 * turn // 360),
        )  # fmt: skip
        ax.set_ylim(top=ax.get_ylim()[1] * 1.2)
        ax.grid(alpha=0.3)
        at = ", ".join(f"{each:.0f}" for each in contacts)
        return f"trace of {angle.size} angles; " + (f"touches at {at} deg" if at else "no contact")
