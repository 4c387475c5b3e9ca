"""Figures of scipy that tests/published/vibration.rs holds the program against.

    python3 -m pip install numpy==2.4.6 scipy==1.17.1
    python3 tests/published/scripts/oracle_vibration.py > tests/published/data/scipy_vibration.json

The signals are made by a formula that the test repeats, so no samples are stored.
"""
import json
import platform

import numpy as np
import scipy
from scipy import signal


def noise(count, seed):
    """A linear congruential generator (Numerical Recipes' constants), -0.5 to 0.5."""
    state, out = seed, []
    for _ in range(count):
        state = (state * 1664525 + 1013904223) % 2**32
        out.append((state >> 8) / 2**24 - 0.5)
    return np.array(out)


def ringing(count, rate, every, tone, seed):
    """Decaying bursts of a tone, `every` times a second, in noise."""
    t = np.arange(count) / rate
    since = np.mod(t, 1.0 / every)
    return np.exp(-since * 800.0) * np.sin(2 * np.pi * tone * since) + 0.2 * noise(count, seed)


def hilbert_of_band(x, rate, low, high):
    """The analytic signal's magnitude of the bins between low and high, by scipy.signal.hilbert."""
    bins = np.fft.rfft(x)
    f = np.arange(len(bins)) * rate / len(x)
    bins[(f < low) | (f > high)] = 0
    return np.abs(signal.hilbert(np.fft.irfft(bins, len(x))))


out = {
    "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
    "windows": {},
    "welch_noise": [],
}
for name in ("hann", "hamming", "blackman", "boxcar"):
    w = signal.get_window(name, 1024)
    out["windows"][name] = {"gain": w.mean(), "bandwidth": len(w) * (w**2).sum() / w.sum() ** 2}

x = noise(5000, 12345) + 0.7 * np.sin(2 * np.pi * 31.3 * np.arange(5000) / 500.0)
f, p = signal.welch(x, 500.0, nperseg=512)
out["welch_noise"] = {"total": p.sum() * f[1], "bins": [[int(k), p[k]] for k in (0, 1, 31, 32, 33, 100, 255, 256)]}
f, p = signal.welch(x, 500.0, nperseg=501)
out["welch_odd"] = {"total": p.sum() * f[1], "bins": [[int(k), p[k]] for k in (0, 1, 31, 100, 250)]}
# Velocity: the density over (2 pi f)^2, whole bins from 10 to 200 Hz.
f, p = signal.welch(x, 500.0, nperseg=500)
band = (f >= 10) & (f <= 200)
out["velocity"] = {"low": 9.5, "high": 200.5, "rms": float(np.sqrt((p[band] / (2 * np.pi * f[band]) ** 2).sum() * f[1]))}

rate, count = 8192.0, 8192
x = ringing(count, rate, 97.0, 2300.0, 7).astype(np.float32).astype(float)
x = x - x.mean()
env = hilbert_of_band(x, rate, 1500.0, 3000.0)
out["envelope"] = [[int(k), env[k]] for k in (0, 1, 100, 1000, 4096, 8191)]
e = env - env.mean()
f, p = signal.welch(e, rate, nperseg=count)
out["envelope_spectrum"] = [[int(k), p[k]] for k in (1, 50, 96, 97, 98, 194, 291)]
print(json.dumps(out, indent=1))
