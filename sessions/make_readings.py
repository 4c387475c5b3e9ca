#!/usr/bin/env python3
"""Makes the readings of the demo sessions. They are invented: no such machine stood under any indicator.

Each machine is a small model of a turning shaft. The readings are what a dial
would have shown on it, quantised to the dial's step:

* the shaft's surface is off centre by `offset` at distance 0, and its axis leans
  by `tilt`, so the eccentricity at distance z is offset + tilt * z (vectors, in
  the shaft's own frame, angles from the index mark);
* it is out of round twice a turn by `oval`;
* worn bearings add a part that does not repeat: one wave at 0.4 turns a turn (the
  cage of a ball bearing goes round at about that rate) and a random jump;
* a disc square to the leaning axis wobbles by -tilt * r * cos(angle - lean) at
  radius r, and has an own wobble and an own saddle (twice a turn) besides;
* the dial adds noise, wanders a little while the shaft is turned, shows true
  travel / cos(tip angle) where it is a lever, and rounds to its step.

Python's standard library only; `random.Random(SEED).random()` gives the same
numbers on every version. Lengths are thou (0.001 in) and mm, angles degrees.

    python3 make_readings.py            prints the YAML blocks
    python3 make_readings.py --check    says whether the visit.yaml files carry them
"""

import math
import random
import sys
from dataclasses import dataclass
from pathlib import Path

SEED = 4474
MM_PER_THOU = 0.0254
CAGE_RATE = 0.4
EIGHT = [45 * i for i in range(8)]
TWELVE = [30 * i for i in range(12)]


@dataclass(frozen=True)
class Wave:
    """A size with a direction: half of the full swing, and where it is highest."""

    size: float
    at: float

    def seen_from(self, angle, times=1):
        return self.size * math.cos(math.radians(times * (angle - self.at)))


@dataclass(frozen=True)
class Shaft:
    offset: Wave  # thou, at distance 0
    tilt: Wave  # thou per mm of distance
    oval: Wave  # thou, twice a turn
    cage: float  # thou, size of the wave that does not repeat
    jump: float  # thou, standard deviation of the random part, across the axis


@dataclass(frozen=True)
class Disc:
    own: Wave  # thou, its own wobble at the radius that is read
    saddle: Wave  # thou, twice a turn
    jump: float  # thou, standard deviation of the random part, along the axis


@dataclass(frozen=True)
class Dial:
    step: float  # in `unit`
    unit: float  # thou in one of the dial's units
    noise: float  # thou
    tip_angle: float = 0.0
    decimals: int = 1


PLUNGER = Dial(step=0.5, unit=1.0, noise=0.10)
LEVER = Dial(step=0.1, unit=1.0, noise=0.05, tip_angle=15.0)
METRIC = Dial(step=0.01, unit=1.0 / MM_PER_THOU, noise=0.15, decimals=2)

WORN = Shaft(offset=Wave(0.74, 60), tilt=Wave(0.0208, 85), oval=Wave(0.12, 20), cage=0.28, jump=0.16)
RENEWED = Shaft(offset=Wave(0.26, 130), tilt=Wave(0.0022, 175), oval=Wave(0.06, 70), cage=0.02, jump=0.03)
OLD = Shaft(offset=Wave(0.55, 215), tilt=Wave(0.006, 190), oval=Wave(0.10, 45), cage=0.10, jump=0.08)

WORN_FLANGE = Disc(own=Wave(0.20, 290), saddle=Wave(0.08, 30), jump=0.05)
RENEWED_FLANGE = Disc(own=Wave(0.15, 40), saddle=Wave(0.05, 80), jump=0.03)
BLADE = Disc(own=Wave(1.90, 300), saddle=Wave(0.55, 55), jump=0.10)


class Maker:
    """Makes one reading list after another; a list's numbers depend on its name and the seed alone."""

    def __init__(self, name):
        self.random = random.Random(f"{SEED} {name}")

    def normal(self, sd=1.0):
        """Box and Muller's transform, written out so that no version of Python changes it."""
        u, v = 1.0 - self.random.random(), self.random.random()
        return sd * math.sqrt(-2.0 * math.log(u)) * math.cos(2.0 * math.pi * v)

    def turns(self, dial, surface, angles, count, closes):
        """`count` turns read at `angles`, as they were written down."""
        shape, cage, jump = surface
        phase, wander, zero, made = self.random.random() * 360, 0.0, None, []
        for turn in range(count):
            stops = angles + [360] if closes else angles
            row = []
            for angle in stops:
                gone = 360 * turn + angle
                loose = cage * math.cos(math.radians(CAGE_RATE * gone + phase)) + self.normal(jump)
                wander += self.normal(0.02)
                travel = (shape(angle) + loose) / math.cos(math.radians(dial.tip_angle))
                shown = (travel + wander + self.normal(dial.noise)) / dial.unit
                zero = shown if zero is None else zero  # the dial is set to zero at the first stop
                row.append(written(shown - zero, dial.step, dial.decimals))
            made.append(row)
        return made

    def repeats(self, mean, sd, step, count, decimals):
        return [written(mean + self.normal(sd), step, decimals) for _ in range(count)]


def written(value, step, decimals):
    """`value` to the nearest step, as it is written down; never minus zero."""
    return f"{round(value / step) * step + 0.0:.{decimals}f}".replace(f"-{0:.{decimals}f}", f"{0:.{decimals}f}")


def radial(shaft, distance):
    """A surface to read: the part that repeats (thou, by angle), and the sizes of the two that do not."""
    def shape(angle):
        lean = Wave(shaft.tilt.size * distance, shaft.tilt.at)
        return shaft.offset.seen_from(angle) + lean.seen_from(angle) + shaft.oval.seen_from(angle, 2)

    return shape, shaft.cage, shaft.jump


def axial(shaft, disc, radius):
    """The same for the face of a disc, read along the axis at `radius` (mm)."""
    def shape(angle):
        lean = Wave(-shaft.tilt.size * radius, shaft.tilt.at)
        return lean.seen_from(angle) + disc.own.seen_from(angle) + disc.saddle.seen_from(angle, 2)

    return shape, shaft.cage, disc.jump


def station(visit, check, name, dial, surface, steps, count=3, closes=False, uneven=False, strike=None):
    """The YAML lines of one station of a run-out reading."""
    turns = Maker(f"{visit} {check} {name}").turns(dial, surface, steps, count, closes)
    if strike:
        turn, place, shown, because = strike
        turns[turn][place] = f"{{struck: {shown}, because: {because}}}"
    lines = [f"      {name}:"]
    if uneven:
        lines.append(f"        angles: [{', '.join(str(a) for a in steps)}]")
    lines.append("        turns:")
    lines += [f"          - [{', '.join(row)}]" for row in turns]
    if closes:
        lines.append("        closes: true")
    return "\n".join(lines)


def numbers(visit, check, mean, sd, step, count, decimals):
    """The YAML line of one quantity's readings."""
    values = Maker(f"{visit} {check}").repeats(mean, sd, step, count, decimals)
    return f"    readings: [{', '.join(values)}]"


def arbor_bearings():
    uneven_found = [0, 45, 90, 130, 180, 225, 270, 320]
    uneven_left = [0, 45, 90, 135, 180, 225, 270, 325]
    slip = (1, 5, 9.5, "knocked the stand with my sleeve")
    v = "as-found"
    yield v, station(v, "arbor-runout", "shoulder", PLUNGER, radial(WORN, 0), EIGHT, closes=True)
    yield v, station(v, "arbor-runout", "middle", PLUNGER, radial(WORN, 20), uneven_found, uneven=True)
    yield v, station(v, "arbor-runout", "tip", PLUNGER, radial(WORN, 40), EIGHT, closes=True, strike=slip)
    yield v, station(v, "flange-face", "rim", LEVER, axial(WORN, WORN_FLANGE, 38), EIGHT, closes=True)
    yield v, station(v, "blade-wobble", "disc", LEVER, axial(WORN, BLADE, 115), TWELVE)
    yield v, numbers(v, "end-play", 4.3, 0.4, 0.5, 5, 1)
    yield v, numbers(v, "coast-down", 11.6, 0.45, 0.01, 5, 2)
    yield v, numbers(v, "idle-current", 7.1, 0.12, 0.1, 6, 1)
    yield v, numbers(v, "belt-deflection", 0.452, 0.010, 0.01, 4, 2)
    v = "as-left"
    yield v, station(v, "arbor-runout", "shoulder", PLUNGER, radial(RENEWED, 0), EIGHT, closes=True)
    yield v, station(v, "arbor-runout", "middle", PLUNGER, radial(RENEWED, 20), uneven_left, uneven=True)
    yield v, station(v, "arbor-runout", "tip", PLUNGER, radial(RENEWED, 40), EIGHT, closes=True)
    yield v, station(v, "flange-face", "rim", LEVER, axial(RENEWED, RENEWED_FLANGE, 38), EIGHT, closes=True)
    yield v, station(v, "blade-wobble", "disc", LEVER, axial(RENEWED, BLADE, 115), TWELVE)
    yield v, numbers(v, "end-play", 0.5, 0.20, 0.5, 5, 1)
    yield v, numbers(v, "coast-down", 19.4, 0.50, 0.01, 5, 2)
    yield v, numbers(v, "idle-current", 6.4, 0.10, 0.1, 6, 1)
    yield v, numbers(v, "belt-deflection", 0.446, 0.010, 0.01, 4, 2)



def old_saw():
    v = "baseline"
    yield v, station(v, "arbor-runout", "shoulder", METRIC, radial(OLD, 0), EIGHT, count=2)
    yield v, station(v, "arbor-runout", "tip", METRIC, radial(OLD, 40), EIGHT, count=2)
    yield v, numbers(v, "coast-down", 14.9, 0.5, 0.1, 4, 1)
    yield v, numbers(v, "washer-thickness", 6.34, 0.01, 0.01, 5, 2)


SESSIONS = {"arbor-bearings": arbor_bearings, "old-saw": old_saw}


def main(arguments):
    if arguments not in ([], ["--check"]):
        print(__doc__)
        return 2
    missing = 0
    for name, blocks in SESSIONS.items():
        for visit, block in blocks():
            if not arguments:
                print(f"# {name}/visits/{visit}\n{block}")
                continue
            path = Path(__file__).parent / name / "visits" / visit / "visit.yaml"
            if f"\n{block}\n" not in path.read_text(encoding="utf-8"):
                print(f"{name}/visits/{visit}/visit.yaml does not carry:\n{block}")
                missing += 1
    if arguments and not missing:
        print("every reading in the visit.yaml files is the one the model makes")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
