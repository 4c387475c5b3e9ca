"""A shelf of small sessions over four years, 2022 to 2025, and what is known of them: machines by serial number that are
repaired and drift, instruments whose calibration runs out, coverage that ends, sessions with errors, and junk between them.

    python3 tests/years/make.py DIR COUNT     writes COUNT sessions below DIR

`write` gives what is known as plain values, for `check.py` beside this and `benches/years`. Everything comes from counters,
so that the same count makes the same shelf. It is invented, and proves nothing of any machine.
"""

import dataclasses
import datetime
import os
import pathlib
import sys

# The day that the shelf is looked at.
TODAY = datetime.date(2026, 1, 15)
FIRST = datetime.date(2022, 1, 10)
DAYS = 4 * 365
LIMIT = 1.0
# Sessions of one machine, at most so many.
EACH = 8

KINDS = [("Ferrow J6", "J6", "jointer"), ("Marlstone CS-10", "CS10", "saw"), ("Tarn L2", "L2", "lathe"),
         ("Weir D14", "D14", "drill-press")]
COVERAGE = [("Return window", 30, "days"), ("Parts and labour", 18, "months"), ("Motor", 3, "years"), ("Bearings", 30, "weeks")]


@dataclasses.dataclass
class Instrument:
    name: str
    serial: str
    # Every certificate: calibrated on, due on.
    certificates: list

    def at(self, day):
        """The certificate that a session of that day writes down: the last one before it; none was renewed late."""
        before = [one for one in self.certificates if one[0] <= day]
        return before[-1] if before else None


@dataclasses.dataclass
class Visit:
    id: str
    state: str
    date: datetime.date
    value: float
    instrument: Instrument


@dataclasses.dataclass
class Session:
    path: str
    machine: int
    serial: str
    name: str
    bought: datetime.date
    # (name, count, unit)
    coverage: list
    visits: list
    broken: str = ""

    def worst(self):
        return "over" if any(visit.value > LIMIT for visit in self.visits) else "within"

    def worst_last(self):
        return "over" if self.visits[-1].value > LIMIT else "within"


def share(count):
    """Evenly between 0 and 1, the same every time: the golden ratio's multiples."""
    return (count * 0.6180339887498949) % 1.0


def instruments(count):
    made = []
    for number in range(max(3, count // 100)):
        day = FIRST - datetime.timedelta(days=20 + 37 * number % 300)
        certificates = []
        while day < TODAY:
            # A year by the calendar; every third instrument comes back late, every fifth never again.
            due = day.replace(year=day.year + 1)
            certificates.append((day, due))
            if number % 5 == 4:
                break
            day = due + datetime.timedelta(days=70 if number % 3 == 2 else -10)
        made.append(Instrument(f"Feeler gauges {number + 1}", f"FG-{100 + number}", certificates))
    return made


def plan(count):
    """All sessions, by the day of their first visit as far as machines go."""
    tools = instruments(count)
    machines = max(2, count // EACH)
    sessions = []
    for index in range(count):
        machine, turn = index % machines, index // machines
        kind, prefix, word = KINDS[machine % len(KINDS)]
        # A machine's sessions come one after the other, evenly over the years; its neighbours' a little later.
        start = FIRST + datetime.timedelta(days=turn * (DAYS // (count // machines + 1)) + machine % 89)
        bought = FIRST + datetime.timedelta(days=int(share(machine) * 700))
        coverage = [COVERAGE[(machine + k) % 4] for k in range(1 + machine % 3)]
        tool = tools[(machine + turn) % len(tools)]
        # What was measured grows with the years, faster at some machines; every fifth machine is repaired at its third session.
        repaired = machine % 5 == 0 and turn == 2
        since = turn - 2 if machine % 5 == 0 and turn >= 2 else turn
        value = 0.2 + 0.02 * share(index) + (0.02 + 0.08 * share(machine)) * since
        if value > 0.85:
            value += 0.4
        visits = []
        if repaired:
            visits.append(Visit("as-found", "as-found", start, round(1.4 + 0.1 * share(index), 3), tool))
            visits.append(Visit("as-left", "as-left", start + datetime.timedelta(days=9), round(value, 3), tool))
        else:
            visits.append(Visit("look", "baseline", start, round(value, 3), tool))
        path = f"{start.year}/{word}/{index:04}-{word}-{machine:03}"
        broken = ("date", "instrument", "yaml")[index // 50 % 3] if index % 50 == 49 else ""
        sessions.append(Session(path, machine, f"{prefix}-{10_000 + machine}", kind, bought, coverage, visits, broken))
    return tools, sessions


def session_yaml(session):
    coverage = ", ".join(f"{{name: {name}, lasts: {count} {unit}}}" for name, count, unit in session.coverage)
    tools, ids = [], {}
    for visit in session.visits:
        serial = visit.instrument.serial
        if serial in ids:
            continue
        ids[serial] = "gauge" if not ids else f"gauge-{len(ids) + 1}"
        known = visit.instrument.at(visit.date)
        stated = f", calibrated: {known[0]}, calibration_due: {known[1]}" if known else ""
        tools.append(f"  {ids[serial]}: {{name: {visit.instrument.name}, serial: {serial}, resolution: 0.01 mm, accuracy: 0.02 mm{stated}}}")
    return f"""title: Gap of the gib, {session.name} no. {session.machine}
units: metric
machines:
  it: {{name: {session.name}, serial: {session.serial}, bought: {session.bought}, coverage: [{coverage}]}}
instruments:
{chr(10).join(tools)}
checks:
  gap:
    title: Gap of the gib
    measure: quantity
    instrument: {"guage" if session.broken == "instrument" else "gauge"}
    unit: mm
    better: lower
    limit: {{at_most: {LIMIT} mm, source: common practice}}
    must_match: [oil]
"""


def visit_yaml(session, visit):
    low, high = visit.value - 0.01, visit.value + 0.01
    date = "2023-02-30" if session.broken == "date" else visit.date
    return f"""state: {visit.state}
date: {date}
conditions: {{ambient: 18 °C, oil: thin}}
readings:
  gap: {{readings: [{low:.3f}, {visit.value:.3f}, {high:.3f}, {visit.value:.3f}]}}
"""


def put(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def junk(home, count):
    """What lies about on such a shelf, and none of it a session."""
    for index in range(count // 4):
        put(home / f"{2022 + index % 4}/letters/{index:04}.txt", "Dear sir or madam,\n")
    put(home / "2022/saw/.trash/session.yaml.bak", "")
    (home / "2023/odd/session.yaml").mkdir(parents=True)
    put(home / "archive/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    put(home / "archive/data/sessions/copy/session.yaml", "title: A copy\n")
    os.symlink(home, home / "2024/round")
    os.symlink("/nowhere/at/all", home / "2024/gone")


def write(home, count):
    """Writes the shelf; gives its instruments and its sessions."""
    home = pathlib.Path(home)
    tools, sessions = plan(count)
    for session in sessions:
        folder = home / session.path
        text = session_yaml(session)
        put(folder / "session.yaml", "title: [\n" + text if session.broken == "yaml" else text)
        put(folder / "notes.md", "The gib was *oiled* before the gap was read.\n")
        for visit in session.visits:
            put(folder / f"visits/{visit.id}/visit.yaml", visit_yaml(session, visit))
    junk(home, count)
    return tools, sessions


if __name__ == "__main__":
    write(sys.argv[1], int(sys.argv[2]))
