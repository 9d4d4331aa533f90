"""The row of `make bench` about the hand-over sheet."""

import shutil
import tempfile
from pathlib import Path

from enginecalc.records.build import load_build
from enginecalc.records.hand_over import HandOver
from enginecalc.views import sheet_pictures
from enginecalc.views.sheet import hand_over_sheet
from tests.bench_work import finish
from tests.builds import DEMO
from tests.timing import ratio


def sheet_over_pictures():
    """Return the time of a whole V8's sheet, from its files on, over drawing its pictures alone.

    It is the demonstration build with all that is open in it done and signed.
    """
    with tempfile.TemporaryDirectory() as folder:
        whole = shutil.copytree(DEMO, Path(folder) / DEMO.name)
        finish(load_build(whole))
        found = HandOver(load_build(whole))

        def pictures():
            sheet_pictures.fit_picture(found, "inch")
            sheet_pictures.bore_picture(found, "inch")
            sheet_pictures.clock_picture(found, (), "inch")
            sheet_pictures.torque_picture(found)
            list(sheet_pictures.trace_pictures(found))

        return ratio(lambda: hand_over_sheet(load_build(whole)), pictures, rounds=9)


ROWS = (("sheet of a whole V8 / drawing its pictures alone", sheet_over_pictures, 1.5),)
