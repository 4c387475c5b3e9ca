"""Makes the sessions, times both sides, and holds their numbers against each other. See benches/compare.

The Python side is in benches/python_way.py. This process stays small, for a child begins with its parent's peak of memory."""
import csv
import json
import os
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
DEMO = "sessions/arbor-bearings"


def once(command):
    """Wall time in seconds and peak memory in MB of a command with all its threads; what it printed."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    said = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    assert status == 0, command
    return time.perf_counter() - start, usage.ru_maxrss / 1024, said


def best(commands, runs):
    """The best time of each of several commands, run in turn, what it printed then, and its largest memory."""
    results = zip(*([once(command) for command in commands] for _ in range(runs)))
    return [(*min((took, said) for took, _, said in of_one), max(memory for _, memory, _ in of_one)) for of_one in results]


def finding(folder, what):
    with (folder / "findings.csv").open() as file:
        return next(float(row["value"]) for row in csv.DictReader(file) if row["what"] == what and row["value"])


# Row: what is done, session, program's command, the other's, the finding that both have, by how much they may differ.
ROWS = [
    ("vibration, large CSV (polars)", "vibration", "inspect", "vibration", "acceleration_rms", 0.001),
    ("vibration, large CSV (pandas)", "vibration", "inspect", "vibration-pandas", "acceleration_rms", 0.001),
    ("sound, two minutes of 48 kHz", "sound", "inspect", "sound", "level", 0.001),
    ("run-out by Monte Carlo", "run-out", "inspect", "run-out", "tir", 1e-9),
    ("warm-up, time constant", "warm-up", "inspect", "warm-up", "time_constant", 0.01),
    ("flatness, minimum zone", "flatness", "inspect", "flatness", "flatness", 1e-6),
    ("46 charts, 1920 x 1080", DEMO, "stills", "charts", None, None),
    ("report as PDF", DEMO, "report", "report", None, None),
]

NOTES = """
What the program does in every row and the Python way does not: sees the file's separator, decimal sign and units by itself;
says what is wrong with file and line; counts gaps, clipping and struck stretches; gives each number its uncertainty, floor,
budget and verdict (the Python way has an uncertainty of the run-out, of the time constant and of the report's means). Vibration: also orders, envelope and its lines. Sound: also the highest level and third octaves with their
uncertainty. Flatness: the uncertainty by Monte Carlo, of which the Python way has none. Report: also page.html, findings as
JSON and CSV, the charts as files, the session's files inside the PDF, tags and PDF/A-3a.
What the Python way does and the program does not: anything else one may wish to write. Its start (imports) is counted, as it is
for whoever runs a script; the column 'imports' says how much of its time that is. Its charts are plain, its report has fewer
pages; both are a floor for what a person would write."""


def main(program, work, megabytes, runs):
    subprocess.run([sys.executable, str(HERE / "python_way.py"), "make", str(work), megabytes], check=True)
    print(f"{'':32}{'asfound':>17}{'Python':>17}{'imports':>9}{'time':>7}{'memory':>8}  same number")
    for title, session, ours, theirs, what, within in ROWS:
        folder = session if session == DEMO else str(work / session)
        out = ["--out", str(work / "out")] if ours != "inspect" else []
        mine = [program, ours, folder, "--quiet", *out]
        other = [sys.executable, str(HERE / "python_way.py"), theirs, folder, str(work / "python")]
        (took, _, memory), (their_took, said, their_memory) = best([mine, other], runs)
        answer = json.loads(said)
        same = answer.get("made", "")
        if what:
            subprocess.run([program, "report", folder, "--out", str(work / "again"), "--quiet"], check=True)
            value = finding(work / "again" / Path(folder).name, what)
            off = abs(value - answer["value"]) / abs(value)
            same = f"{value:.6g}, {answer['value']:.6g}"
            assert off <= within, f"{title}: {same}"
        if ours == "stills":
            pictures = len(list((work / "out/arbor-bearings/stills").glob("*.[ps][nv]g")))
            same = f"{pictures} files and {same}, PNG and SVG"
        print(
            f"{title:32}{took:8.2f} s{memory:5.0f} MB{their_took:8.2f} s{their_memory:5.0f} MB{answer['imports']:7.2f} s"
            f"{their_took / took:7.1f}{their_memory / memory:8.1f}  {same}",
            flush=True,
        )
    print("time, memory: how many times as much the Python way takes")
    print(NOTES)


if __name__ == "__main__":
    _, _, program, work, megabytes, runs = sys.argv
    main(program, Path(work), megabytes, int(runs))
