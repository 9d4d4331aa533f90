"""How the bench measures: two ways of doing a thing take turns, and their medians are divided."""

import statistics
import time


def ratio(one, other, rounds=15, calls=1):
    """Return the median time of `one` over that of `other`, taking turns."""
    times = ([], [])
    for _ in range(rounds):
        for run, kept in zip((one, other), times, strict=True):
            start = time.perf_counter()
            for _ in range(calls):
                run()
            kept.append(time.perf_counter() - start)
    return statistics.median(times[0]) / statistics.median(times[1])
