"""Kills and full disks: after each, what stands in the folder of outputs is one whole run's, the one before or the new one."""
import hashlib
import pathlib
import random
import re
import shutil
import signal
import subprocess
import sys
import time

program, work, kills, points = sys.argv[1], pathlib.Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
random.seed(1)
# Small: it is the moment of the kill that counts, and there are many.
NAME, VISIT = "old-saw", "visits/baseline/visit.yaml"
sessions = {}
for state in ("one", "two"):
    home = work / f"session-{state}"
    shutil.copytree("sessions", home)
    if state == "two":
        visit = home / NAME / VISIT
        text = visit.read_text(encoding="utf-8")
        # A comment is enough: other bytes, another document number, another report.
        visit.write_text(text + "# read again\n", encoding="utf-8")
    sessions[state] = home / NAME


def tree(folder):
    """Every file below a folder with its digest; what a killed run left beside it (.asfound-…) is no part of it."""
    digest = lambda path: hashlib.sha256(path.read_bytes()).hexdigest()
    return {str(path.relative_to(folder)): digest(path) for path in sorted(folder.rglob("*")) if path.is_file()}


def run(command, state, out, **more):
    return subprocess.run(
        [program, command, str(sessions[state]), "--out", str(out), "--quiet"], capture_output=True, text=True, **more
    )


def good(command, state):
    out = work / f"good-{command}-{state}"
    assert run(command, state, out).returncode == 0
    whole = tree(out / NAME)
    # What `report` makes; a bag lies beside it.
    reports = {path: digest for path, digest in whole.items() if not path.startswith("bag/")}
    return reports, {path: digest for path, digest in whole.items() if path.startswith("bag/")}


known = {(command, state): good(command, state) for command in ("report", "bag") for state in ("one", "two")}
began = time.perf_counter()
run("report", "one", work / "time")
last = {"report": time.perf_counter() - began}
began = time.perf_counter()
run("bag", "one", work / "time")
last["bag"] = time.perf_counter() - began


def is_whole(command, target):
    """Reports: all of one state's. Bags: folder and zip each whole or not there."""
    stands = tree(target)
    reports = {path: digest for path, digest in stands.items() if not path.startswith("bag/")}
    if not any(reports == known[command, state][0] for state in ("one", "two")):
        return False
    bags = {path: digest for path, digest in stands.items() if path.startswith("bag/")}
    for part in (f"bag/{NAME}/", f"bag/{NAME}.zip"):
        of = {path: digest for path, digest in bags.items() if path.startswith(part)}
        wanted = [
            {path: digest for path, digest in known[command, state][1].items() if path.startswith(part)}
            for state in ("one", "two")
        ]
        if of and of not in wanted:
            return False
    return True


for command in ("report", "bag"):
    out = work / f"killed-{command}"
    assert run("report", "one", out).returncode == 0
    whole = ended = turn = 0
    # A bag of new readings makes the report first.
    limit = last["report"] + (last["bag"] if command == "bag" else 0)
    while turn - ended < kills:
        shutil.rmtree(out / f"{NAME}/bag", ignore_errors=True)
        state = "two" if turn % 2 == 0 else "one"
        began = time.perf_counter()
        child = subprocess.Popen(
            [program, command, str(sessions[state]), "--out", str(out), "--quiet"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        try:
            child.wait(timeout=random.uniform(0, limit))
            ended += 1
            # What is waited for at most is what a run takes, so that its last moments are met as often as its first.
            limit = 0.5 * limit + 0.5 * (time.perf_counter() - began)
        except subprocess.TimeoutExpired:
            child.send_signal(signal.SIGKILL)
            child.wait()
            limit *= 1.01
        turn += 1
        whole += is_whole(command, out / NAME)
    left = sum(1 for entry in out.iterdir() if entry.name.startswith(".asfound-"))
    print(f"{command}: killed {kills} times at random moments ({ended} more runs ended first): "
          f"{whole} of {turn} times what stands is one whole run's; {left} temporary folders left, swept after a day", flush=True)
    assert whole == turn

small = work / "small"
small.mkdir()
SIZE = 256 << 20
mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(small)], capture_output=True)
if mounted.returncode != 0:
    print("full disk: not tried, a tmpfs cannot be mounted here (root is needed)")
    sys.exit()
for command in ("report", "bag"):
    need = sum(path.stat().st_size for path in (work / f"good-{command}-one").rglob("*") if path.is_file())
    if command == "bag":
        need += sum(path.stat().st_size for path in (work / "good-report-one").rglob("*") if path.is_file())
    whole = full = done = named = 0
    for point in range(points):
        shutil.rmtree(small / "out", ignore_errors=True)
        (small / "filler").unlink(missing_ok=True)
        assert run("report", "one", small / "out").returncode == 0
        free = shutil.disk_usage(small).free
        with open(small / "filler", "wb") as filler:
            filler.truncate(0)
            left = max(0, free - round(need * 1.15 * point / points) - 4096)
            while left > 0:
                block = min(left, 1 << 20)
                filler.write(b"\0" * block)
                left -= block
        result = run(command, "two", small / "out")
        if result.returncode == 0:
            done += 1
        else:
            full += 1
            assert result.returncode == 3, (result.returncode, result.stderr)
            # The path, and what the system said.
            named += bool(re.search(r"cannot write \S*/out/\S*: .*[Nn]o space", result.stderr))
        whole += is_whole(command, small / f"out/{NAME}")
    print(f"{command}: disk full at {full} of {points} points ({done} had room): exit 3, path named {named} times; "
          f"{whole} of {points} times what stands is one whole run's")
    assert whole == points and named == full
