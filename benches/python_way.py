"""The same work as a person would write it in Python. Each function prints what it found as JSON. See benches/compare.

Invented data, seeded."""
import itertools
import json
import sys
import time
from pathlib import Path

SESSION = """title: Compared
units: metric
machines:
  saw: {{name: Marlstone CS-10}}
instruments:
  meter: {{name: Meter, resolution: {step}, accuracy: {step}}}
checks:
  one: {{measure: {measure}, instrument: meter, unit: {unit}{more}}}
"""
VISIT = """state: baseline
machine: saw
date: 2026-03-02
readings:
  one:
"""
PICTURES = 46  # as many as the program makes of the demo session
STEP, ACCURACY = 0.01, 0.01  # of the indicator, mm


def session(work, name, measure, unit, step, more, readings):
    visit = work / name / "visits" / "only"
    visit.mkdir(parents=True)
    (work / name / "session.yaml").write_text(SESSION.format(measure=measure, unit=unit, step=step, more=more))
    (visit / "visit.yaml").write_text(VISIT + "".join(f"    {line}\n" for line in readings))
    return visit


def make(work, megabytes):
    import numpy as np
    import recordings

    random = np.random.default_rng(20260302)
    axes = "at: {3450 rpm: {file: v.csv, time: t, axes: {x: ax, y: ay, z: az}}}"
    more = ", position: arbor housing, band: [10 Hz, 1000 Hz]"
    recordings.vibration(session(work, "vibration", "vibration", "g", "0.001 g", more, [axes]) / "v.csv", megabytes)
    sound = "at: {3450 rpm: {file: s.wav, calibration: {file: tone.wav, level: 94 dB}}}"
    visit = session(work, "sound", "sound", "dBA", "0.1 dBA", "", [sound])
    recordings.sound(visit / "s.wav", 120)
    tone(visit / "tone.wav", 10)
    angle = 2 * np.pi * np.arange(72) / 72
    turns = [np.round(0.05 * np.cos(angle) + random.normal(0, 0.004, 72), 2).tolist() for _ in range(3)]
    lines = ["stations:", "  tip:", "    turns:", *(f"      - {turn}" for turn in turns)]
    session(work, "run-out", "run-out", "mm", f"{STEP} mm", ", direction: radial, stations: {tip: {from: 0 mm}}", lines)
    lines = [
        "ambient: {file: w.csv, time: t, value: air}",
        'schedule: [["0:00", 3000 rpm]]',
        "places: {bearing: {file: w.csv, time: t, value: bearing}}",
    ]
    visit = session(work, "warm-up", "temperature", "°C", "0.1 °C", "", lines)
    t = np.arange(0, 4 * 3600, 1.0)
    bearing = 60 - 40 * np.exp(-t / 2400) + random.normal(0, 0.1, len(t))
    air = 20 + random.normal(0, 0.1, len(t))
    rows = zip(t, bearing, air)
    text = "t (s),bearing (°C),air (°C)\n" + "".join(f"{a:.0f},{b:.1f},{c:.1f}\n" for a, b, c in rows)
    (visit / "w.csv").write_text(text, encoding="utf-8")
    x, y = np.meshgrid(np.arange(40), np.arange(25))
    heights = np.round(0.02 * np.sin(x / 9) + 0.0005 * x + 0.001 * y + random.normal(0, 0.003, x.shape), 3)
    rows = ["rows:", *(f"  - {row}" for row in heights.tolist()), "step: [50 mm, 50 mm]"]
    session(work, "flatness", "flatness", "mm", "0.001 mm", "", rows)


def tone(path, seconds):
    """1 kHz, as a calibrator sounds it."""
    import wave

    import numpy as np

    t = np.arange(seconds * 48_000) / 48_000
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(48_000)
        file.writeframes((8000 * np.sin(2 * np.pi * 1000 * t)).astype("<i2").tobytes())


def spectrum_figures(t, axes):
    """Figures of each axis, and the root of the sum of squares of the accelerations."""
    import numpy as np
    from scipy import signal

    steps = np.diff(t)
    rate = 1 / steps.mean()
    total, said = 0.0, []
    for x in axes:
        x = x - x.mean()
        rms, peak = np.sqrt(np.mean(x**2)), np.abs(x).max()
        f, density = signal.welch(x, rate, window="hann", nperseg=32_768, detrend=False)
        band = (f >= 10) & (f <= 1000)
        velocity = density[band] * (9806.65 / (2 * np.pi * f[band])) ** 2
        said.append((rms, peak, peak / rms, np.sqrt(np.trapezoid(velocity, f[band])), steps.std() / steps.mean()))
        total += rms**2
    return float(total**0.5), said


def vibration(folder, _):
    import polars
    import scipy.signal  # noqa: F401: counted with the imports

    begun()
    frame = polars.read_csv(Path(folder) / "visits/only/v.csv")
    names = frame.columns
    value, _ = spectrum_figures(frame[names[0]].to_numpy(), [frame[name].to_numpy() for name in names[1:]])
    told(value=value)


def vibration_pandas(folder, _):
    import pandas
    import scipy.signal  # noqa: F401

    begun()
    frame = pandas.read_csv(Path(folder) / "visits/only/v.csv")
    names = list(frame.columns)
    value, _ = spectrum_figures(frame[names[0]].to_numpy(), [frame[name].to_numpy() for name in names[1:]])
    told(value=value)


def sound(folder, _):
    """Scaled by the tone; A-weighted level, highest fast level, third octaves (IEC 61672-1:2013, annex E)."""
    import numpy as np
    from scipy import signal
    from scipy.io import wavfile

    begun()
    visit = Path(folder) / "visits/only"
    rate, tone_samples = wavfile.read(visit / "tone.wav")
    _, samples = wavfile.read(visit / "s.wav")
    pascals = 2e-5 * 10 ** (94 / 20) / np.sqrt(np.mean(tone_samples.astype(float) ** 2))
    # In the frequency domain, where it is exact up to half the rate, which filters by the bilinear transform are not.
    f = np.fft.rfftfreq(len(samples), 1 / rate)
    f2 = f**2
    gain = 12194.217**2 * f2**2 / ((f2 + 20.598997**2) * (f2 + 12194.217**2) * ((f2 + 107.65265**2) * (f2 + 737.86223**2)) ** 0.5)
    weighted = np.fft.irfft(np.fft.rfft(samples * pascals) * gain * 10 ** (2.0 / 20), len(samples))
    level = 10 * np.log10(np.mean(weighted**2) / 4e-10)
    share = 1 - np.exp(-1 / (0.125 * rate))
    fast = 10 * np.log10(signal.lfilter([share], [1, share - 1], weighted**2).max() / 4e-10)
    f, density = signal.welch(samples * pascals, rate, nperseg=65_536)
    centres = 1000 * 10 ** (np.arange(-16, 14) / 10)
    bands = [density[(f >= c * 10**-0.05) & (f < c * 10**0.05)].sum() * f[1] for c in centres]
    told(value=float(level), fast=float(fast), bands=len(bands))


def run_out(folder, _):
    """TIR, harmonics by least squares, 95 % interval by Monte Carlo."""
    import numpy as np
    import yaml

    begun()
    readings = yaml.safe_load((Path(folder) / "visits/only/visit.yaml").read_text())["readings"]
    turns = np.array(readings["one"]["stations"]["tip"]["turns"])
    tir = float(np.ptp(turns, axis=1).mean())
    angle = 2 * np.pi * np.arange(turns.shape[1]) / turns.shape[1]
    columns = [np.ones_like(angle)] + [wave(n * angle) for n in (1, 2, 3) for wave in (np.cos, np.sin)]
    np.linalg.lstsq(np.column_stack(columns), turns.mean(axis=0), rcond=None)
    scatter = np.sqrt(((turns - turns.mean(axis=0)) ** 2).sum() / ((len(turns) - 1) * turns.shape[1]))
    random = np.random.default_rng(1)
    drawn = []
    for _ in range(100):
        step = random.uniform(-STEP / 2, STEP / 2, (1000, 1, turns.shape[1]))
        noise = random.normal(0, scatter, (1000, *turns.shape))
        bound = random.uniform(-ACCURACY, ACCURACY, 1000)
        drawn.append(np.ptp(turns + step + noise, axis=2).mean(axis=1) + bound)
    low, high = np.quantile(np.concatenate(drawn), [0.025, 0.975])
    told(value=tir, uncertainty=float(high - low) / 2)


def warm_up(folder, _):
    """An exponential by least squares from several starts, and its rise."""
    import numpy as np
    import pandas
    from scipy import optimize

    begun()
    frame = pandas.read_csv(Path(folder) / "visits/only/w.csv")
    t, shown = frame.iloc[:, 0].to_numpy(float), frame.iloc[:, 1].to_numpy(float)
    curve = lambda t, end, begin, tau: end - (end - begin) * np.exp(-t / tau)
    fits = []
    for tau in np.geomspace(60, 20_000, 8):
        try:
            best, covariance = optimize.curve_fit(curve, t, shown, p0=[shown[-1], shown[0], tau])
            fits.append((float(((shown - curve(t, *best)) ** 2).sum()), best[2], covariance[2, 2] ** 0.5))
        except RuntimeError:
            pass
    rest, tau, deviation = min(fits)
    np.polyfit(t[-len(t) // 5 :], shown[-len(t) // 5 :], 1)
    # As the program prints it: minutes.
    told(value=float(tau) / 60, uncertainty=1.96 * float(deviation) / 60, rise=float((shown - frame.iloc[:, 2]).max()))


def flatness(folder, _):
    """The narrowest zone between parallel planes as a linear programme, and the least-squares plane."""
    import numpy as np
    import yaml
    from scipy import optimize

    begun()
    readings = yaml.safe_load((Path(folder) / "visits/only/visit.yaml").read_text())["readings"]["one"]
    heights = np.array(readings["rows"])
    y, x = np.mgrid[: heights.shape[0], : heights.shape[1]]
    plane = np.column_stack([x.ravel(), y.ravel(), np.ones(x.size)])
    z, one = heights.ravel(), np.ones((x.size, 1))
    below = np.hstack([-plane, -one])  # z − plane ≤ w
    above = np.hstack([plane, np.zeros((x.size, 1))])  # plane ≤ z
    made = optimize.linprog(
        [0, 0, 0, 1], np.vstack([below, above]), np.concatenate([-z, z]), bounds=[(None, None)] * 3 + [(0, None)]
    )
    np.linalg.lstsq(plane, z, rcond=None)
    told(value=float(made.fun))


def demo_data(folder):
    """What the demo holds: its YAML, and its recordings as columns."""
    import numpy as np
    import pandas
    import yaml

    folder = Path(folder)
    data = {"session": yaml.safe_load((folder / "session.yaml").read_text()), "visits": {}, "curves": {}}
    for name in ("as-found", "as-left"):
        visit = folder / "visits" / name
        data["visits"][name] = yaml.safe_load((visit / "visit.yaml").read_text())
        fast = pandas.read_csv(visit / "v4000.csv", comment="#").to_numpy(float)
        # Each logger writes in its own way; whoever writes the script looks into the files first.
        how = {"sep": ";", "decimal": ",", "skiprows": 8} if name == "as-found" else {"sep": "\t", "comment": "#"}
        warm = pandas.read_csv(visit / "warm-up.csv", encoding="latin-1", **how)
        warm = warm.iloc[:, 1:].apply(pandas.to_numeric, errors="coerce").to_numpy(float)
        data["curves"][name] = {"fast": fast, "warm": np.nan_to_num(warm)}
    return data


def turns_of(readings):
    """Every turn of run-out readings; struck ones are left out."""
    import numpy as np

    for station in readings.get("stations", {}).values():
        for turn in station["turns"]:
            yield np.array([np.nan if isinstance(value, dict) else value for value in turn], float)


def draw(axes, data, check, kind):
    """A chart of a check: the curve that is meant, or dots with whiskers."""
    import numpy as np
    from scipy import signal

    for index, (name, visit) in enumerate(data["visits"].items()):
        colour = ("#D55E00", "#0072B2")[index]
        readings = visit["readings"].get(check, {})
        if kind == "spectrum":
            fast = data["curves"][name]["fast"]
            f, density = signal.welch(fast[:, -1], 3200, nperseg=2048)
            axes.semilogy(f, density, color=colour, lw=0.8, label=name)
        elif kind == "trace":
            fast = data["curves"][name]["fast"]
            axes.plot(fast[:, 0], fast[:, -1], color=colour, lw=0.5, label=name)
        elif kind == "courses":
            axes.plot(data["curves"][name]["warm"], color=colour, lw=0.9, label=name)
        elif kind == "turns":
            for turn in turns_of(readings):
                axes.plot(np.linspace(0, 360, len(turn)), turn, color=colour, marker="o", ms=3, lw=0.8)
        else:
            values = list(numbers(readings))
            middle, spread = np.mean(values or [0]), np.std(values or [0])
            axes.errorbar([index], [middle], yerr=[spread], fmt="o", color=colour, label=name)
    axes.set_title(check)
    axes.grid(alpha=0.3)
    if axes.get_legend_handles_labels()[0]:
        axes.legend()


def numbers(readings):
    """All numbers in a check's readings."""
    if isinstance(readings, dict):
        for key, value in readings.items():
            if key not in ("struck", "conditions", "calibration"):
                yield from numbers(value)
    elif isinstance(readings, list):
        for value in readings:
            yield from numbers(value)
    elif isinstance(readings, (int, float)) and not isinstance(readings, bool):
        yield float(readings)


def kinds(data):
    """The charts of each check, about as many as the program draws of it."""
    for check, facts in data["session"]["checks"].items():
        if facts["measure"] == "run-out":
            yield from ((check, "turns"), (check, "turns"), (check, "dots"))
        elif facts["measure"] == "vibration":
            yield from ((check, "spectrum"), (check, "trace"), (check, "spectrum"), (check, "dots"))
        elif facts["measure"] == "temperature":
            yield from ((check, "courses"), (check, "dots"))
        else:
            yield from ((check, "dots"), (check, "dots"))
    yield ("summary", "dots")


def charts(folder, out):
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plot
    import pandas  # noqa: F401
    import scipy.signal  # noqa: F401
    import yaml  # noqa: F401

    begun()
    data, out = demo_data(folder), Path(out) / "charts"
    out.mkdir(parents=True, exist_ok=True)
    made = 0
    for check, kind in itertools.islice(itertools.cycle(kinds(data)), PICTURES):
        figure, axes = plot.subplots(figsize=(19.2, 10.8), dpi=100)
        draw(axes, data, check, kind)
        figure.savefig(out / f"{made}.png")
        figure.savefig(out / f"{made}.svg")
        plot.close(figure)
        made += 1
    told(made=f"{2 * made} files")


TEMPLATE = """#set page(paper: "us-letter", margin: 20mm)
#set text(font: "Source Serif 4", size: 10pt)
= {{ title }}
{{ question }}
{% for check in checks %}
== {{ check.title }}
#image("{{ check.chart }}", width: 100%)
#table(columns: 5, [visit], [mean], [s], [95 %], [n],
{% for row in check.rows %}  [{{ row.visit }}], [{{ row.mean }}], [{{ row.s }}], [{{ row.u }}], [{{ row.n }}],
{% endfor %})
{% for row in check.rows %}
Readings, {{ row.visit }}:
#table(columns: 8, {% for value in row.read %}[{{ value }}], {% endfor %})
{% endfor %}
{% endfor %}
"""


def report(folder, out):
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plot
    import numpy as np
    import pandas  # noqa: F401
    import typst
    import yaml  # noqa: F401
    from jinja2 import Template
    from scipy import signal, stats  # noqa: F401

    begun()
    data, out = demo_data(folder), Path(out) / "report"
    out.mkdir(parents=True, exist_ok=True)
    first = {}
    for index, (check, kind) in enumerate(kinds(data)):
        figure, axes = plot.subplots(figsize=(7, 4))
        draw(axes, data, check, kind)
        figure.savefig(out / f"{index}.svg")
        plot.close(figure)
        first.setdefault(check, f"{index}.svg")
    checks = []
    for check, facts in data["session"]["checks"].items():
        rows = []
        for name, visit in data["visits"].items():
            values = np.array(list(numbers(visit["readings"].get(check, {}))))
            if len(values) < 2:
                continue
            s = values.std(ddof=1)
            u = stats.t.ppf(0.975, len(values) - 1) * s / len(values) ** 0.5
            rows.append(
                {"visit": name, "mean": f"{values.mean():.3g}", "s": f"{s:.2g}", "u": f"{u:.2g}", "n": len(values), "read": values}
            )
        checks.append({"title": facts["title"], "chart": first[check], "rows": rows})
    source = Template(TEMPLATE).render(title=data["session"]["title"], question=data["session"]["question"], checks=checks)
    (out / "report.typ").write_text(source)
    fonts = Path(__file__).resolve().parent.parent / "templates/fonts"
    typst.compile(str(out / "report.typ"), output=str(out / "report.pdf"), font_paths=[str(fonts)])
    told(made=f"{(out / 'report.pdf').stat().st_size // 1000} kB of PDF")


BEGAN = time.perf_counter()
IMPORTED = 0.0


def begun():
    """All imports are done."""
    global IMPORTED
    IMPORTED = time.perf_counter() - BEGAN


def told(**answer):
    print(json.dumps({"imports": IMPORTED, **answer}))


if __name__ == "__main__":
    what, folder, out = sys.argv[1:4]
    if what == "make":
        make(Path(folder), float(out))
    else:
        {
            "vibration": vibration,
            "vibration-pandas": vibration_pandas,
            "sound": sound,
            "run-out": run_out,
            "warm-up": warm_up,
            "flatness": flatness,
            "charts": charts,
            "report": report,
        }[what](folder, out)
