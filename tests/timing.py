"""How the bench measures: two ways of doing a thing take turns, and their medians are divided."""

import gc
import statistics
import time


def ratio(one, other, rounds=15, calls=1):
    """Return the median time of `one` over that of `other`, taking turns.

    Garbage is collected between the turns and not within them, as `timeit` does: else what one
    way leaves behind is charged to whichever has its turn when it is found.
    """
    times = ([], [])
    for _ in range(rounds):
        for run, kept in zip((one, other), times, strict=True):
            gc.collect()
            gc.disable()
            try:
                start = time.perf_counter()
                for _ in range(calls):
                    run()
                kept.append(time.perf_counter() - start)
            finally:
                gc.enable()
    return statistics.median(times[0]) / statistics.median(times[1])
