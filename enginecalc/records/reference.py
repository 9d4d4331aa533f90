"""Where data lies, and the tables of `data/reference`."""

import functools
import os
from pathlib import Path

import pandas as pd

_PACKAGE = Path(__file__).resolve().parent.parent
_CHECKOUT = _PACKAGE.parent / "data"
KINDS = ("engines", "builds", "parts", "reference")


def folder(kind):
    """Return the folder of "engines", "builds", "parts" or "reference" data.

    The folder named in ENGINECALC_DATA when it has that kind, else the checkout's `data`; the
    reference tables also travel inside an installed wheel.

    Raises
    ------
    ValueError
        When the kind is unknown.
    FileNotFoundError
        When there is no such folder; says how to name one.
    """
    if kind not in KINDS:
        raise ValueError(f"folder: kind must be one of {', '.join(KINDS)}, got {kind!r}")
    own = os.environ.get("ENGINECALC_DATA")
    places = [Path(own) / kind] if own else []
    places += [_CHECKOUT / kind, _PACKAGE / "data" / kind]
    for place in places:
        if place.is_dir():
            return place
    raise FileNotFoundError(
        f"no folder for {kind}: make {kind} in a folder of yours and name that folder in"
        " the environment variable ENGINECALC_DATA"
    )


@functools.cache
def table(name):
    """Return a table of `data/reference` with every cell as text, blank where empty."""
    path = folder("reference") / f"{name}.csv"
    return pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8")


@functools.cache
def rows(name, key):
    """Return a table of `data/reference` as a dictionary of rows by the column `key`."""
    return {row[key]: row for row in table(name).to_dict("records")}


@functools.cache
def sizes():
    """Return {field: {unit: (least, greatest)}}: between what sizes real parts lie."""
    made = {}
    for row in table("ranges").to_dict("records"):
        made.setdefault(row["field"], {})[row["unit"]] = (row["low"], row["high"])
    return made
