"""Asks a shelf of four years everything that a shelf is asked, one command each, and holds every answer against what is known
of it: sessions against `find`, ends of coverage against dateutil (2.9.0, PyPI), trends against sums written out here.

    python3 tests/years/check.py ASFOUND OUT [COUNT]      200 sessions, where no count is given; lists typeset into OUT
"""

import csv
import datetime
import io
import json
import pathlib
import subprocess
import sys
import tempfile

from dateutil.relativedelta import relativedelta

import make

FAULTS = []


def same(what, found, wanted):
    if found != wanted:
        FAULTS.append(f"{what}:\n  found  {found}\n  wanted {wanted}")


class Shelf:
    def __init__(self, program, home, out):
        self.program, self.home, self.out = program, home, out

    def said(self, *more, command="shelf"):
        shelf = [str(self.home)] if command == "shelf" else []
        out = ["--out", str(self.out)] if command == "shelf" else []
        run = subprocess.run([self.program, command, *shelf, *more, *out], capture_output=True, text=True)
        if run.returncode != 0:
            FAULTS.append(f"{command} {' '.join(more)} ended with {run.returncode}: {run.stderr}")
            return "{}"
        return run.stdout

    def json(self, *more):
        return json.loads(self.said(*more, "--as", "json"))

    def rows(self, *more):
        rows = self.json("--on", str(make.TODAY), *more).get("sessions", [])
        return {str(pathlib.Path(row["path"]).relative_to(self.home)): row for row in rows}


def ends(session):
    """The last day of each coverage, by dateutil."""
    return {name: session.bought + relativedelta(**{unit: count}) for name, count, unit in session.coverage}


def sessions_are_those_of_find(shelf, sessions):
    found = subprocess.run(["find", shelf.home, "-name", "session.yaml", "-type", "f"], capture_output=True, text=True)
    dirs = [pathlib.Path(line).parent.relative_to(shelf.home) for line in found.stdout.splitlines()]
    # What lies in a bag is a copy.
    find = {str(path) for path in dirs if path.parts[0] != "archive"}
    rows = shelf.rows()
    same("sessions, against find", set(rows), find)
    same("sessions, against what was made", set(rows), {session.path for session in sessions})
    for session in sessions:
        row, broken = rows[session.path], bool(session.broken)
        same(f"{session.path}: errors", row["errors"] > 0, broken)
        if broken:
            continue
        same(f"{session.path}: serial", [machine["serial"] for machine in row["machines"]], [session.serial])
        same(f"{session.path}: visits", row["visits"], len(session.visits))
        same(f"{session.path}: last", row["last"], str(session.visits[-1].date))
        verdicts = (row["worst"], row["worst_last"])
        same(f"{session.path}: verdicts", tuple(verdict.lower() for verdict in verdicts), (session.worst(), session.worst_last()))
        same(f"{session.path}: coverage", {window["name"]: window["until"] for window in row["coverage"]},
             {name: str(day) for name, day in ends(session).items()})
    table = list(csv.DictReader(io.StringIO(shelf.said("--as", "csv", "--on", str(make.TODAY)))))
    same("rows of CSV", len(table), len(sessions))


def readable(sessions):
    """Those of which more is known than that they are there."""
    return [session for session in sessions if session.broken != "yaml"]


def which_claim_window_closes(shelf, sessions):
    for count, unit in ((7, "days"), (6, "weeks"), (1, "months"), (1, "years")):
        soon = make.TODAY + relativedelta(**{unit: count})
        wanted = {session.path for session in readable(sessions) if any(make.TODAY <= day <= soon for day in ends(session).values())}
        found = shelf.rows("--within", str(count), unit, "--ends-soon")
        same(f"coverage that ends within {count} {unit}", set(found), wanted)
    order = [row["coverage"] for row in shelf.rows("--sort", "ends", "--ends-soon", "--within", "1", "years").values()]
    days = [min(window["until"] for window in windows if window["days_left"] >= 0) for windows in order]
    same("sorted by the day that coverage ends next", days, sorted(days))


def what_is_known_of_a_machine(shelf, sessions):
    for serial in sorted({session.serial for session in sessions})[:5]:
        wanted = {session.path for session in readable(sessions) if serial in session.serial}
        same(f"sessions of {serial}", set(shelf.rows("--serial", serial)), wanted)
    over = {session.path for session in sessions if not session.broken and session.worst() == "over"}
    same("over at any visit", set(shelf.rows("--verdict", "over")), over)
    lathes = {session.path for session in readable(sessions) if "Tarn" in session.name}
    same("where a lathe's quantities were measured", set(shelf.rows("--machine", "tarn", "--measure", "quantity")), lathes)


def whether_it_drifts(shelf, sessions):
    trends = 0
    for machine in range(0, 12):
        own = [session for session in sessions if session.machine == machine and not session.broken]
        if not own:
            continue
        visits = sorted((visit for session in own for visit in session.visits), key=lambda visit: visit.date)
        course = shelf.json("--history", own[0].serial)["courses"][0]
        same(f"visits of {own[0].serial}", [(visit["date"], visit["value"]) for visit in course["visits"]],
             [(str(visit.date), visit.value) for visit in visits])
        repairs = [index for index, visit in enumerate(visits) if visit.state == "as-left"]
        since = visits[repairs[-1]:] if repairs else visits
        if len(since) < 5:
            same(f"no trend of {own[0].serial}", course["trend"], None)
            continue
        trends += 1
        days = [(visit.date - since[0].date).days for visit in since]
        values = [visit.value for visit in since]
        mean_day, mean = sum(days) / len(days), sum(values) / len(values)
        slope = sum((d - mean_day) * (v - mean) for d, v in zip(days, values)) / sum((d - mean_day) ** 2 for d in days)
        score = sum((b > a) - (b < a) for i, a in enumerate(values) for b in values[i + 1:])
        trend = course["trend"] or {"slope_a_day": 0, "mann_kendall": {"s": None}}
        if abs(trend["slope_a_day"] - slope) > 1e-9 * abs(slope):
            FAULTS.append(f"slope of {own[0].serial}: {trend['slope_a_day']}, wanted {slope}")
        same(f"Mann and Kendall's S of {own[0].serial}", trend["mann_kendall"]["s"], score)
    if trends < 3:
        FAULTS.append(f"only {trends} machines have a trend: the shelf is too small to tell")


def where_an_instrument_was_used(shelf, tools, sessions):
    day = datetime.date.fromisoformat
    pointed_out = 0
    for tool in tools[:6]:
        stated = [(session, session.visits[0].instrument.at(session.visits[0].date)) for session in readable(sessions)
                  if session.visits[0].instrument is tool]
        certificates = {certificate for _, certificate in stated if certificate}
        wanted = {}
        for session, _ in stated:
            for visit in session.visits if not session.broken else []:
                covered = any(made <= visit.date <= due for made, due in certificates)
                over = [due for _, due in certificates if due < visit.date]
                wanted[session.path, visit.id] = (visit.date - max(over)).days if over and not covered else None
        found = shelf.json("--instrument", tool.serial, "--on", str(make.TODAY))
        uses = {(str(pathlib.Path(use["session"]).relative_to(shelf.home)), use["visit"]): use["days_after"] for use in found["uses"]}
        same(f"uses of {tool.serial}, and how long after its calibration ran out", uses, wanted)
        dates = [day(use["date"]) for use in found["uses"]]
        same(f"uses of {tool.serial} by date", dates, sorted(dates))
        same(f"calibrations of {tool.serial}", {(day(one["made"]), day(one["due"])) for one in found["calibrations"]}, certificates)
        pointed_out += sum(after is not None for after in wanted.values())
    if pointed_out == 0:
        FAULTS.append("no reading was taken after a calibration had run out: the shelf is too small to tell")
    own = {session.path for session in sessions if not session.broken
           and any(visit.date > session.visits[0].instrument.at(session.visits[0].date)[1] for visit in session.visits)}
    same("sessions with readings after a calibration had run out", set(shelf.rows("--calibration-ran-out")), own)


def what_is_sealed_and_changed(shelf, sessions):
    good = [session for session in sessions if not session.broken][:3]
    for session in good[:2]:
        visits = [visit.id for visit in session.visits]
        shelf.said(str(shelf.home / session.path), *visits, "--at", "2026-01-10T09:00:00Z", command="seal")
    visit = shelf.home / good[1].path / "visits" / good[1].visits[0].id / "visit.yaml"
    visit.write_text(visit.read_text(encoding="utf-8") + "# read again\n", encoding="utf-8")
    rows = shelf.rows()
    stands = [(rows[session.path]["seals"]["sealed"], rows[session.path]["seals"]["changed"]) for session in good]
    same("sealed, and changed since", stands, [(len(good[0].visits), 0), (len(good[1].visits), 1), (0, 0)])


def main():
    program, out = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 200
    with tempfile.TemporaryDirectory() as home:
        home = pathlib.Path(home).resolve()
        tools, sessions = make.write(home, count)
        shelf = Shelf(program, home, out)
        sessions_are_those_of_find(shelf, sessions)
        which_claim_window_closes(shelf, sessions)
        what_is_known_of_a_machine(shelf, sessions)
        whether_it_drifts(shelf, sessions)
        where_an_instrument_was_used(shelf, tools, sessions)
        what_is_sealed_and_changed(shelf, sessions)
        # Typeset, for whoever looks at PDFs next.
        shelf.said("--as", "pdf", "--on", str(make.TODAY))
        shelf.said("--as", "pdf", "--history", sessions[0].serial)
        shelf.said("--as", "pdf", "--instrument", tools[2].serial, "--on", str(make.TODAY))
    print("\n".join(FAULTS[:20]) if FAULTS else f"{count} sessions over four years: every question answered as it should be")
    return 1 if FAULTS else 0


if __name__ == "__main__":
    sys.exit(main())
