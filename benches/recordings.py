"""Makes the files, times the program, and times polars with scipy doing the same. See benches/recordings."""
import os
import subprocess
import sys
import time
import wave
from pathlib import Path

import numpy as np

RATE = 25_600.0
SESSION = """title: A long recording
units: metric
machines:
  saw: {{name: Marlstone CS-10}}
instruments:
  meter: {{name: Meter, resolution: {step}, accuracy: {step}}}
checks:
  long: {{measure: {measure}, instrument: meter, unit: {unit}{more}}}
"""
VISIT = """state: baseline
machine: saw
date: 2026-03-02
readings:
  long:
    at:
      3450 rpm: {reading}
"""


def session(folder, measure, unit, step, more, reading):
    visit = folder / "visits" / "only"
    visit.mkdir(parents=True)
    (folder / "session.yaml").write_text(SESSION.format(measure=measure, unit=unit, step=step, more=more))
    (visit / "visit.yaml").write_text(VISIT.format(reading=reading))
    return visit


def vibration(path, megabytes):
    """Rows of about 40 bytes: a turning line, its harmonics and noise. Seeded; invented."""
    random = np.random.default_rng(3450)
    row, written, block = 0, 0, 250_000
    with path.open("w") as file:
        written += file.write("t (s),ax (g),ay (g),az (g)\n")
        while written < megabytes * 1_000_000:
            t = np.arange(row, row + block) / RATE
            line = 0.3 * np.sin(2 * np.pi * 57.5 * t) + 0.1 * np.sin(2 * np.pi * 115 * t)
            axes = [share * line + random.normal(0, 0.1, block) for share in (1.0, 0.6, 0.2)]
            rows = zip(t.tolist(), *(axis.tolist() for axis in axes))
            text = "".join(f"{a:.6f},{b:.6f},{c:.6f},{d:.6f}\n" for a, b, c, d in rows)
            written += file.write(text)
            row += block


def sound(path):
    """Ten minutes at 48 kHz, 16 bits."""
    random = np.random.default_rng(48)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(48_000)
        for _ in range(60):
            file.writeframes((random.normal(0, 3000, 480_000).clip(-32768, 32767)).astype("<i2").tobytes())


def once(command):
    """Wall time in seconds and peak memory in MB."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    assert status == 0, command
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def best(command, runs=3):
    times = [once(command) for _ in range(runs)]
    return min(took for took, _ in times), max(peak for _, peak in times)


def analyse(path):
    """What the program does with the file, in polars and scipy: Welch spectra and the figures from them."""
    import polars
    from scipy import signal

    frame = polars.read_csv(path)
    t = frame.get_column(frame.columns[0]).to_numpy()
    steps = np.diff(t)
    rate = 1 / steps.mean()
    for name in frame.columns[1:]:
        x = frame.get_column(name).to_numpy()
        x = x - x.mean()
        rms, peak = np.sqrt(np.mean(x**2)), np.abs(x).max()
        f, density = signal.welch(x, rate, window="hann", nperseg=32_768, detrend=False)
        band = (f >= 10) & (f <= 1000)
        velocity = density[band] * (9806.65 / (2 * np.pi * f[band])) ** 2
        print(name, rms, peak, peak / rms, np.sqrt(np.trapezoid(velocity, f[band])), steps.std() / steps.mean())


def main():
    program, work, megabytes = sys.argv[1], Path(sys.argv[2]), float(sys.argv[3])
    reading = "{file: v.csv, time: t, axes: {x: ax, y: ay, z: az}}"
    band = ', position: arbor housing, band: [10 Hz, 1000 Hz]'
    csv = {}
    for name, size in [("quarter", megabytes / 4), ("whole", megabytes)]:
        folder = work / name
        csv[name] = session(folder, "vibration", "g", "0.001 g", band, reading) / "v.csv"
        vibration(csv[name], size)
    tone = session(work / "sound", "sound", "dBZ", "0.1 dBZ", "", "{file: s.wav, calibration: {file: s.wav, level: 94 dB}}")
    sound(tone / "s.wav")
    size = csv["whole"].stat().st_size / 1e6
    print(f"{'':34}{'time':>9}{'MB/s':>8}{'peak MB':>9}")

    def line(what, took, peak, megabytes=size):
        print(f"{what:34}{took:8.2f}s{megabytes / took:8.0f}{peak:9.0f}")

    ours, memory = best([program, "inspect", str(work / "whole")])
    line(f"asfound inspect, {size:.0f} MB", ours, memory)
    quarter, quarter_memory = best([program, "inspect", str(work / "quarter")])
    line("asfound inspect, a quarter of it", quarter, quarter_memory, csv["quarter"].stat().st_size / 1e6)
    theirs, peak = best([sys.executable, __file__, "analyse", str(csv["whole"])], runs=2)
    line("polars and scipy", theirs, peak)
    digest, peak = best(["openssl", "dgst", "-sha256", str(csv["whole"])])
    line("openssl dgst -sha256", digest, peak)
    took, peak = best([program, "inspect", str(work / "sound")])
    line("ten minutes of sound at 48 kHz", took, peak, (tone / "s.wav").stat().st_size / 1e6)
    print(f"polars and scipy / asfound   {theirs / ours:6.2f}   (to hold: at least 4)")
    print(f"asfound / openssl            {ours / digest:6.2f}   (to hold: at most 3)")
    print(f"memory, whole / quarter      {memory / quarter_memory:6.2f}   (to hold: about 1, under 150 MB)")
    print("to hold: 250 MB/s and more; sound under 2 s")


if __name__ == "__main__":
    if sys.argv[1] == "analyse":
        analyse(sys.argv[2])
    else:
        main()
