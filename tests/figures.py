"""What the tests share: printed figures, worked numbers, and engines drawn at random."""

import json
from pathlib import Path

import numpy as np
import pytest

WORKED = json.loads((Path(__file__).parent / "worked-numbers.json").read_text())


def printed(text):
    """Match `text` to within half a unit of its last printed digit."""
    decimals = len(str(text).partition(".")[2])
    return pytest.approx(float(text), abs=0.5000001 * 10**-decimals, rel=0)


def worked(key):
    """Match a worked number to within half a unit of its last digit.

    JSON drops closing zeros, so 3.64 may stand for 3.6400: the match is only the looser for it.
    """
    return printed(repr(WORKED[key]).removesuffix(".0"))


def random_cranks(count, seed=1):
    """Return stroke, rod length and offset in m of cranks that turn, some of them barely."""
    draw = np.random.default_rng(seed)
    throw = draw.uniform(0.01, 0.15, count)
    offset = throw * draw.uniform(-0.6, 0.6, count)
    rod = (throw + abs(offset)) * (1 + 10 ** draw.uniform(-2, 1, count))
    return 2 * throw, rod, offset
