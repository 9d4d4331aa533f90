"""The shape of a cam lobe, in SI floats: lift in m, crank angle from the lobe's center in rad."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class SmoothLobe:
    """A symmetric lobe of one closed law, so that every event can be checked by hand.

    Notes
    -----
    lift = lobe_lift (1 - (a / half_duration)^2)^2 for |a| <= half_duration, else 0; a is the crank
    angle from the lobe's center. Lift and slope end at zero together.
    """

    lobe_lift: float
    half_duration: float

    @classmethod
    def through(cls, lobe_lift, duration, at_lift):
        """Return the lobe that is open for `duration` (rad) above `at_lift` (m)."""
        return cls(lobe_lift, duration / 2 / cls._share(at_lift, lobe_lift))

    @staticmethod
    def _share(lift, lobe_lift):
        """Return the share of the half duration that lies above `lift`; nan above the nose."""
        part = np.where(lift <= lobe_lift, lift / lobe_lift, np.nan)
        return np.sqrt(1 - np.sqrt(part))

    def lift(self, angle):
        """Return the lobe's lift at crank angles from its center."""
        return self.lobe_lift * np.maximum(1 - (angle / self.half_duration) ** 2, 0.0) ** 2

    def slope(self, angle):
        """Return the lift's rate of change per radian of crank angle."""
        share = angle / self.half_duration
        bell = np.maximum(1 - share**2, 0.0)
        return -4 * self.lobe_lift / self.half_duration * share * bell

    def closing(self, lift):
        """Return the crank angle after the lobe's center at which it has closed to `lift`."""
        return self.half_duration * self._share(lift, self.lobe_lift)
