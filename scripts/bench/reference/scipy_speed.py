"""Times SciPy's transforms and spectrogram on request.

The same requests and answers as tacho/internal/speed. scipy.signal uses one
core whatever is asked for. The spectrogram is the quickest kind that it has:
powers, no mean taken away.
"""

import sys
import time

import numpy as np
import scipy.fft
import scipy.signal


def signal(n):
    i = np.arange(n)
    return 0.6 * np.sin(0.1 * i) + 0.3 * np.sin(0.2 * i)


def job(task, n, cores):
    if task == "real":
        x = signal(n)
        return lambda: scipy.fft.rfft(x)
    if task == "frames":
        x = signal(512 * n).reshape(512, n)
        return lambda: scipy.fft.rfft(x, workers=cores)
    if task == "spectrogram":
        x = signal(60 * 48000)
        return lambda: scipy.signal.spectrogram(
            x, fs=48000, window="hann", nperseg=n, noverlap=n - 512, detrend=False, mode="psd"
        )
    return None


known = {}
for line in sys.stdin:
    task, n, cores, reps = line.split()
    key = task, n, cores
    if key not in known:
        known[key] = job(task, int(n), int(cores))
    run = known[key]
    if run is None:
        print("none", flush=True)
        continue
    run()  # fill the caches
    clock = time.process_time_ns if cores == "1" else time.perf_counter_ns
    start = clock()
    for _ in range(int(reps)):
        run()
    print((clock() - start) / int(reps), flush=True)
