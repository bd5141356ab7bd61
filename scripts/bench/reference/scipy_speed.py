"""Times SciPy's transforms and spectrogram on request.

The same requests and answers as tacho/internal/speed. scipy.signal uses one
core whatever is asked for. The spectrogram is the quickest kind that it has:
powers, no mean taken away. What stands beside a whole measurement is what one
would script for it: short spectra, a sum over harmonics and a Viterbi search.
"""

import sys
import time

import numpy as np
import scipy.fft
import scipy.signal
from numpy.lib.stride_tricks import sliding_window_view


def signal(n):
    i = np.arange(n)
    return 0.6 * np.sin(0.1 * i) + 0.3 * np.sin(0.2 * i)


def rotor(seconds):
    """Five harmonics of a rate that swings between 80 and 280 Hz, in noise."""
    i = np.arange(seconds * 48000)
    turns = np.cumsum(180 - 100 * np.cos(2 * np.pi * i / 480000)) / 48000
    x = 0.05 * np.random.default_rng(1).standard_normal(len(i))
    for m in range(1, 6):
        x += 0.1 / m * np.sin(2 * np.pi * m * turns)
    return x.astype(np.float32)


def pipeline(x, fs, cores):
    """The pulse rate every 512 samples: 20 to 6000 Hz in steps of half a per
    cent, ten harmonics, eight steps up or down from frame to frame."""
    n, hop, harmonics, step, reach = 4096, 512, 10, 0.005, 8
    window = scipy.signal.windows.hann(n, sym=False).astype(np.float32)
    z = scipy.fft.rfft(sliding_window_view(x, n)[::hop] * window, axis=1, workers=cores)
    power = np.log(z.real**2 + z.imag**2 + 1e-12)
    # above the noise floor: the median of every 64 bins
    bands = power.shape[1] // 64
    power = power[:, : 64 * bands]
    floor = np.median(power.reshape(len(power), bands, 64), axis=2)
    power -= np.repeat(floor, 64, axis=1)
    np.clip(power, 0, 6, out=power)
    rates = np.exp(np.arange(np.log(20), np.log(6000), step))
    score = np.zeros((len(power), len(rates)), np.float32)
    count = np.zeros(len(rates), np.float32)
    for m in range(1, harmonics + 1):
        k = np.rint(m * rates * n / fs).astype(int)
        inside = k < power.shape[1]
        score[:, inside] += power[:, k[inside]]
        count += inside
    score /= np.sqrt(np.maximum(count, 1))
    # the best path through the frames
    states = len(rates)
    cost = 0.3 * np.abs(np.arange(-reach, reach + 1, dtype=np.float32))
    padded = np.full(states + 2 * reach, -1e9, np.float32)
    around = sliding_window_view(padded, 2 * reach + 1)
    each = np.arange(states)
    back = np.zeros(score.shape, np.int16)
    total = score[0].copy()
    for i in range(1, len(score)):
        padded[reach : reach + states] = total
        choice = around - cost
        j = choice.argmax(axis=1)
        back[i] = each - reach + j
        total = choice[each, j] + score[i]
    path = np.empty(len(score), int)
    at = int(total.argmax())
    for i in range(len(score) - 1, -1, -1):
        path[i] = at
        at = back[i, at]
    return rates[path]


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
    if task == "measure":
        x = rotor(n)
        return lambda: pipeline(x, 48000, cores)
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
