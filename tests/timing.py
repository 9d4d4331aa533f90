"""How the bench measures: two ways of doing a thing take turns, and each turn's ratio counts."""

import gc
import statistics
import time


def ratio(one, other, rounds=15, calls=1):
    """Return the median over the turns of the time of `one` over that of `other` beside it.

    A machine that is busy for a while then slows both alike. Garbage is collected between the
    turns and not within them, as `timeit` does: else what one way leaves behind is charged to
    whichever has its turn when it is found.
    """
    found = []
    for _ in range(rounds):
        times = []
        for run in (one, other):
            gc.collect()
            gc.disable()
            try:
                start = time.perf_counter()
                for _ in range(calls):
                    run()
                times.append(time.perf_counter() - start)
            finally:
                gc.enable()
        found.append(times[0] / times[1])
    return statistics.median(found)
