#!/usr/bin/env python3
"""Makes the recordings of the demo sessions, and the readings of the checks that run under power.

All of it is invented and proves nothing about any saw: no such machine stood under any sensor. The
saw is a small physical model, the same for every check, so that what one check says the others bear
out; every figure of the model was picked so that the story is plain to see. README.md lists them.

* Drive: the arbor turns a little slower than its setting, more so the faster it turns and the
  more its bearings drag.
* Vibration: unbalance pushes with the square of the speed against a saw that sways on its stand at
  17 Hz; an arbor that leans adds twice and three times a turn; the belt and the motor add their own
  turning; two panels ring in the noise. A flaw on the bearing's inner ring strikes once for every
  ball that passes (with slip, and a little early or late), hardest where the belt presses, and each
  blow rings a mode of the housing.
* Sound: the air that the blade stirs, the whistle of its teeth, the hum of drive and orders, the same
  blows on the bearing.
* Heat: friction warms the bearing, the bearing its housing, the housing the room.
* Cuts: chips take work, a blade that wobbles rubs, and the speed gives way to the torque.

Sensors add noise and round to their step. Python's standard library only. Numbers are drawn by
`random.Random(NAME).random()` and written with few digits, so every Python 3 writes the same bytes.

    python3 make_recordings.py            writes the files, prints the typed readings as YAML
    python3 make_recordings.py --check    says whether the repository carries exactly these
"""

import math
import struct
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from make_readings import Maker, written

G = 9.80665
TURN = 2.0 * math.pi
TOP = 4000.0  # rpm, the setting that every figure below belongs to
SETTINGS = (2000, 3450, 4000)
AXES = ("x", "y", "z")  # across the blade's plane level, upright, along the arbor
BALLS, BALL, PITCH = 9, 7.94, 39.04  # mm; contact angle 0
INNER = BALLS / 2 * (1 + BALL / PITCH)  # blows a turn of a flaw on the inner ring: 5.415
SWAY = (17.0, 0.06)  # Hz and damping ratio of the saw on its stand
BELT, MOTOR = 0.186, 0.82  # turns of the belt and of the motor for one of the arbor
HOUSING = ((2400.0, 0.040, 1.0), (1130.0, 0.035, 0.30))  # modes: Hz, damping, share of a blow
TEETH = 40


@dataclass(frozen=True)
class Saw:
    """One machine in one state. Velocities are mm/s RMS at 4000 rpm, by axis."""

    slow: float  # share by which it turns slower than its setting at 4000 rpm
    once: tuple  # unbalance and bend
    twice: tuple
    thrice: tuple
    rough: float  # g RMS of the bearings' own broad noise
    blow: float  # g, peak of a blow of the flaw; 0 for a sound ring
    growl: float  # dB, the bearings' A-weighted level at 4000 rpm
    air: float  # dB, the blade's
    friction: tuple = (0.0, 0.0)  # W, front and rear bearing at 4000 rpm
    motor_heat: float = 0.0  # K, what the motor's case comes to
    rub: float = 0.0  # N·m, what a wobbling blade and dragging bearings add to a cut


FOUND = Saw(0.0115, (3.1, 2.3, 1.7), (0.80, 0.60, 0.95), (0.35, 0.30, 0.25), 0.030, 1.30, 87.2, 83.2,
            (85.0, 46.0), 41.0, 1.75)
LEFT = Saw(0.0055, (0.72, 0.60, 0.34), (0.14, 0.10, 0.12), (0.06, 0.05, 0.04), 0.012, 0.0, 75.2, 83.2,
           (33.0, 29.0), 34.0, 0.40)
OLD = Saw(0.0070, (1.35, 1.05, 0.60), (0.40, 0.30, 0.25), (0.12, 0.10, 0.10), 0.020, 0.0, 80.0, 86.5)


def turning(saw, setting):
    """The arbor's true speed in hertz."""
    return setting / 60.0 * (1.0 - saw.slow * (setting / TOP) ** 1.5)


# Vibration

class Mode:
    """Something that rings: white noise in, its sway out, scaled to one RMS for noise of one RMS."""

    def __init__(self, hertz, damping, rate):
        pole = math.exp(-damping * TURN * hertz / rate)
        self.a, self.b = 2.0 * pole * math.cos(TURN * hertz / rate), -pole * pole
        c = -self.b
        self.gain = math.sqrt((1 - c) / (1 + c) * ((1 + c) ** 2 - self.a**2))
        self.last = self.before = 0.0

    def ring(self, push):
        now = self.a * self.last + self.b * self.before + self.gain * push
        self.last, self.before = now, self.last
        return now


def swaying(hertz):
    """How many times further an unbalance sways the saw than it would a free one."""
    r = hertz / SWAY[0]
    return r * r / math.sqrt((1 - r * r) ** 2 + (2 * SWAY[1] * r) ** 2)


def phases(maker, hertz, times):
    """Turns made at each time; the speed wanders by about 0.05 %."""
    turns, wander, last, made = maker.random.random(), 0.0, times[0], []
    for now in times:
        step = now - last
        wander += -wander * step + 0.0007 * math.sqrt(step) * maker.normal()
        turns += hertz * (1.0 + wander) * step
        made.append(turns)
        last = now
    return made


def orders(saw, setting, axis):
    """(times a turn, g peak, phase) of everything that turns, on one axis."""
    hertz = turning(saw, setting)
    share = setting / TOP
    top = turning(saw, TOP)
    once = saw.once[axis] * hertz / top * swaying(hertz) / swaying(top)
    speeds = [(1.0, once), (2.0, saw.twice[axis] * share**1.5), (3.0, saw.thrice[axis] * share**1.5),
              (BELT, (0.10, 0.22, 0.05)[axis]), (2 * BELT, (0.08, 0.15, 0.04)[axis]),
              (MOTOR, (0.20, 0.26, 0.08)[axis] * share)]
    return [(times, velocity * math.sqrt(2) * TURN * times * hertz / 1000.0 / G, 0.13 * axis + 0.37 * times)
            for times, velocity in speeds]


def blows(maker, saw, setting, turns, rate):
    """(second, strength) of each blow of a flaw on the inner ring; `turns` holds the arbor's."""
    made, at = [], 0.0
    span = len(turns) / rate
    hertz = turning(saw, setting) * INNER * 0.997  # balls slip a little
    while True:
        at += (1.0 + 0.012 * maker.normal()) / hertz
        if at >= span:
            return made
        pressed = math.cos(TURN * (turns[int(at * rate)] - turns[0]))
        made.append((at, (0.30 + 0.70 * max(0.0, pressed)) * (1.0 + 0.15 * maker.normal())))


def ringing(struck, modes, count, rate):
    """Each blow rings each mode that the rate can show, at its true moment between samples."""
    heard = [0.0] * count
    for hertz, damping, share in modes:
        if hertz > 0.45 * rate:  # the logger's filter is in the way
            continue
        decay, spin = damping * TURN * hertz, TURN * hertz * math.sqrt(1 - damping**2)
        long = int(7.0 / decay * rate)
        for at, strength in struck:
            first = int(at * rate) + 1
            for i in range(first, min(first + long, count)):
                t = i / rate - at
                heard[i] += strength * share * math.exp(-decay * t) * math.sin(spin * t)
    return heard


def shaking(name, saw, setting, rate, seconds):
    """Three axes in g, as an accelerometer on the arbor's housing feels them."""
    maker = Maker(name)
    count = int(rate * seconds)
    turns = phases(maker, turning(saw, setting), [i / rate for i in range(count)])
    rung = [0.0] * count
    if saw.blow:
        rung = ringing(blows(maker, saw, setting, turns, rate), HOUSING, count, rate)
    share = setting / TOP
    axes = []
    for axis in range(3):
        parts = orders(saw, setting, axis)
        felt = (0.75, 1.0, 0.35)[axis] * saw.blow * share**1.5
        panels = [(Mode(SWAY[0], SWAY[1], rate), 0.004), (Mode(142.0, 0.03, rate), 0.010 * share),
                  (Mode(610.0, 0.10, rate), saw.rough * share)]
        row = []
        for i in range(count):
            g = felt * rung[i] + 0.006 * maker.normal()
            for times, peak, phase in parts:
                g += peak * math.sin(TURN * (times * turns[i] + phase))
            push = maker.normal()
            row.append(g + sum(size * mode.ring(push) for mode, size in panels))
        axes.append(row)
    return axes


def logged(name, saw, setting, rate, seconds, head, separator=",", timed=True):
    """An accelerometer logger's file: times to a microsecond, readings to 0.001 g."""
    axes = shaking(name, saw, setting, rate, seconds)
    lines = [head] if head else []
    for i, row in enumerate(zip(*axes)):
        cells = [f"{i / rate:.6f}"] if timed else []
        lines.append(separator.join(cells + [written(g, 0.001, 3) for g in row]))
    return ("\n".join(lines) + "\n").encode()


def telephoned(name, saw, setting, start, seconds=12):
    """A phone on the saw's table: about 100 samples a second, late or early, with one short gap.

    Its own filter is too weak to keep out what turns faster than half its rate."""
    maker = Maker(name)
    times, now = [], 0.0
    while now < seconds:
        times.append(round(now, 3))
        now += 0.010 + 0.0004 * maker.normal() + (0.24 if len(times) == 700 else 0.0)
    turns = phases(maker, turning(saw, setting), times)
    lines = ["time,ax (g),ay (g),az (g)"]
    for i, at in enumerate(times):
        row = []
        for axis in range(3):
            g = 0.004 * maker.normal() + (1.0 if axis == 1 else 0.0)  # the phone feels its own weight
            for order, peak, phase in orders(saw, setting, axis):
                passed = 0.55 / math.sqrt(1.0 + (order * turning(saw, setting) / 45.0) ** 4)
                g += passed * peak * math.sin(TURN * (order * turns[i] + phase))
            row.append(written(g, 0.001, 3))
        stamp = (start + timedelta(milliseconds=round(at * 1000))).isoformat(timespec="milliseconds")
        lines.append(",".join([stamp] + row))
    return ("\n".join(lines) + "\n").encode()


# Sound

SOUND_RATE = 22050
FULL_SCALE = 12.0  # Pa
HUM = 66.0  # dB, the drive's
HUSH = 0.02  # Pa at random in every sample: the microphone and the room


def pascals(level):
    return 2e-5 * 10 ** (level / 20.0)


def level(*levels):
    """Levels together, by their energies."""
    return 10.0 * math.log10(sum(10 ** (one / 10.0) for one in levels))


def spoken(saw, setting):
    """The saw's A-weighted level at the operator's ear: air with the sixth power, growl with the fourth."""
    times = math.log10(setting / TOP)
    return level(saw.air + 60.0 * times, saw.growl + 40.0 * times, HUM)


def wav(samples):
    """Mono, 16 bits a sample."""
    data = b"".join(struct.pack("<h", max(-32768, min(32767, round(pa / FULL_SCALE * 32767)))) for pa in samples)
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, SOUND_RATE, 2 * SOUND_RATE, 2, 16)
    body = b"WAVE" + form + struct.pack("<4sI", b"data", len(data)) + data
    return struct.pack("<4sI", b"RIFF", len(body)) + body


def tone(name, seconds=2.0):
    """A calibrator: 94 dB at 1 kHz."""
    maker = Maker(name)
    return wav([pascals(94.0) * math.sqrt(2) * math.sin(TURN * 1000.0 * i / SOUND_RATE) + 0.002 * maker.normal()
                for i in range(int(seconds * SOUND_RATE))])


def idling(name, saw, setting, seconds):
    """The sound in Pa at the operator's ear. The three loudnesses were trimmed once so that the
    A-weighted levels come out as `spoken` has them."""
    maker = Maker(name)
    count = int(seconds * SOUND_RATE)
    turns = phases(maker, turning(saw, setting), [i / SOUND_RATE for i in range(count)])
    struck = blows(maker, saw, setting, turns, SOUND_RATE)
    rung = ringing(struck, HOUSING + ((3750.0, 0.05, 0.55),), count, SOUND_RATE)
    growl = pascals(saw.growl) * (3.35 if saw.blow else 0.0)
    hiss = pascals(saw.air) * 1.15
    hum = [0.10 * math.hypot(saw.once[a], saw.twice[a]) for a in (0, 1)]
    body, hollow = Mode(900.0, 0.55, SOUND_RATE), Mode(420.0, 0.30, SOUND_RATE)
    sizzle = pascals(saw.growl) * (0.0 if saw.blow else 1.0)  # a sound bearing only hisses
    made = []
    for i in range(count):
        push = maker.normal()
        pa = hiss * (0.86 * body.ring(push) + 0.45 * hollow.ring(push) + 0.20 * push)
        pa += (HUSH + 0.4 * sizzle) * maker.normal() + growl * rung[i]
        pa += pascals(saw.air - 9.0) * math.sqrt(2) * math.sin(TURN * TEETH * turns[i])
        pa += hum[0] * math.sin(TURN * turns[i]) + hum[1] * math.sin(TURN * 2.0 * turns[i])
        made.append(pa)
    return wav(made)


# Heat

SCHEDULE = ((0, 2000), (15, 3450), (35, 4000), (60, 3450))  # minutes, rpm
MINUTES = 100
BEARING_HEAT, HOUSING_HEAT = 160.0, 1250.0  # J/K
INTO_HOUSING, INTO_ROOM = 5.5, 1.95  # W/K
MOTOR_MINUTES = 21.0


def running(minute):
    return [rpm for start, rpm in SCHEDULE if start <= minute][-1]


def warming(watts, room, drift):
    """(room, ring, housing) in °C, second by second."""
    ring = housing = room
    made = []
    for second in range(60 * MINUTES + 1):
        air = room + drift * second / (60.0 * MINUTES)
        made.append((air, ring, housing))
        thin = 1.0 - 0.004 * (housing - room)  # warm grease drags less
        heat = watts * (running(second / 60.0) / TOP) ** 1.4 * thin
        flow = INTO_HOUSING * (ring - housing)
        ring += (heat - flow) / BEARING_HEAT
        housing += (flow - INTO_ROOM * (housing - air)) / HOUSING_HEAT
    return made


def motor_case(saw, room, drift):
    """The motor's painted case in °C, second by second."""
    rise, made = 0.0, []
    for second in range(60 * MINUTES + 1):
        made.append(room + drift * second / (60.0 * MINUTES) + rise)
        rise += (saw.motor_heat * (running(second / 60.0) / TOP) ** 0.8 - rise) / (60.0 * MOTOR_MINUTES)
    return made


def fahrenheit(celsius):
    return 1.8 * celsius + 32.0


ROOMS = {"as-found": (FOUND, 18.9, 0.9), "as-left": (LEFT, 20.5, 0.6)}  # °C, and how much it drifts


def thermocouples(visit, skip):
    """(second, room, front, rear) in °F every ten seconds, without the seconds to `skip`."""
    saw, room, drift = ROOMS[visit]
    maker = Maker(f"{visit} warm-up")
    front, rear = (warming(watts, room, drift) for watts in saw.friction)
    for second in range(0, 60 * MINUTES + 1, 10):
        noise = [0.08 * maker.normal() for _ in range(3)]
        at = [fahrenheit(front[second][0])]
        at += [fahrenheit(0.5 * (node[second][1] + node[second][2])) for node in (front, rear)]
        if second not in skip:
            yield second, *(one + two for one, two in zip(at, noise))


def log_found():
    """Semicolons, decimal commas, CRLF, Latin-1, ISO 8601, a preamble; the front cable pulled for a while."""
    lines = ["Thermocouple logger;4 channels;type K", "Serial;TL-0273", "Interval;10 s", "Unit;°F",
             "Channel 1;shop air", "Channel 2;front bearing housing", "Channel 3;rear bearing housing", "",
             "time;air;front;rear"]
    start = datetime(2026, 3, 2, 15, 2)
    for second, air, front, rear in thermocouples("as-found", ()):
        if 2470 <= second <= 2550:  # the bead hung in the air
            front = air + (front - air) * math.exp(-(second - 2460) / 35.0)
        row = [written(t, 0.1, 1).replace(".", ",") for t in (air, front, rear)]
        lines.append(";".join([(start + timedelta(seconds=second)).isoformat()] + row))
    return ("\r\n".join(lines) + "\r\n").encode("latin-1")


def log_left():
    """Tabs, decimal points, elapsed seconds, comments; 70 s are missing."""
    lines = ["# thermocouple logger, memory card, degrees F", "# 10 s; serial TL-0273", "elapsed\tair\tfront\trear"]
    for second, *temperatures in thermocouples("as-left", range(1330, 1391)):
        lines.append("\t".join([str(second)] + [written(t, 0.1, 1) for t in temperatures]))
    return ("\n".join(lines) + "\n").encode()


POINTS = (0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80, 90, 100)
BARE = 0.45  # emissivity of the bearing's turned cap; the thermometer is set to 0.95


def pointed(visit):
    """What an infrared thermometer shows of the motor's paint and of the bearing's bare cap."""
    saw, room, drift = ROOMS[visit]
    maker = Maker(f"{visit} surface-heat")
    cap = warming(saw.friction[0], room, drift)
    motor = motor_case(saw, room, drift)
    rows = {"motor": [], "bearing cap": []}
    for minute in POINTS:
        second = 60 * minute
        kelvin = [one + 273.15 for one in (cap[second][0], cap[second][2])]
        shown = ((BARE * kelvin[1] ** 4 + (0.95 - BARE) * kelvin[0] ** 4) / 0.95) ** 0.25 - 273.15
        for place, celsius in (("motor", motor[second]), ("bearing cap", shown)):
            rows[place].append(f'["{minute}:00", {written(fahrenheit(celsius) + 0.25 * maker.normal(), 0.1, 1)}]')
    for place, points in rows.items():
        parts = [", ".join(points[i : i + 6]) for i in range(0, len(points), 6)]
        lines = [f"      {place}:", "        points: [" + (",\n" + 17 * " ").join(parts) + "]"]
        if place == "bearing cap":
            lines.append(f"        surface_emissivity: {BARE}")
        yield "\n".join(lines)


# Typed readings of noise, speed and cuts


def listened(visit, saw, rooms, settings=SETTINGS):
    """A sound level meter: each reading the saw and the shop together."""
    maker = Maker(f"{visit} noise")
    lines = ["    at:"]
    for setting, shop in zip(settings, rooms):
        loud = level(spoken(saw, setting), shop)
        shown = [written(loud + 0.35 * maker.normal(), 0.1, 1) for _ in range(4)]
        quiet = [written(shop + 0.5 * maker.normal(), 0.1, 1) for _ in range(2)]
        lines.append(f"      {setting} rpm: {{readings: [{', '.join(shown)}], background: [{', '.join(quiet)}]}}")
    return "\n".join(lines)


def timed(visit, saw):
    maker = Maker(f"{visit} speed")
    lines = ["    at:"]
    for setting in SETTINGS:
        shown = [written(60.0 * turning(saw, setting) + 1.2 * maker.normal(), 1, 0) for _ in range(4)]
        lines.append(f"      {setting} rpm: [{', '.join(shown)}]")
    return "\n".join(lines)


CUT_SETTING, DEPTH, LENGTH = 3450, 38.1, 609.6  # rpm, mm, mm: 1.5 in deep, 24 in long
CHIP_WORK = {"red oak": 66.0, "maple": 80.0}  # J/cm³
GIVES_WAY, STALLS_AT = 0.044, 4.6  # share of the speed a N·m; N·m


def cuts(visit, check, saw, kerf, stock, feeds, pinched=None):
    """Rip cuts: the torque of the chips and of the rubbing slows the arbor, which raises the torque."""
    maker = Maker(f"{visit} {check} {stock}")
    rpm = 60.0 * turning(saw, CUT_SETTING)
    lines = [f"      {stock}:", "        depth: 1.5 in", "        runs:"]
    for number, feed in enumerate(feeds):  # mm/s
        feed *= 1.0 + 0.04 * maker.normal()
        rub = saw.rub * (2.2 if number == pinched else 1.0) * (1.0 + 0.08 * maker.normal())
        free = rpm + 1.5 * maker.normal()
        share = 1.0
        for _ in range(30):
            power = CHIP_WORK[stock] * kerf * DEPTH * feed / 1000.0
            torque = rub + power / (TURN * free * share / 60.0)
            share = 1.0 - GIVES_WAY * min(torque, STALLS_AT)
        unloaded = written(free, 1, 0)
        if torque >= STALLS_AT:
            lines.append(f"          - {{unloaded: {unloaded}, stalled: true}}")
            continue
        loaded = written(free * share + 6.0 * maker.normal(), 1, 0)
        lines.append(f"          - {{unloaded: {unloaded}, loaded: {loaded}, length: 24 in, "
                     f"time: {written(LENGTH / feed, 0.1, 1)} s}}")
    return "\n".join(lines)


def typed():
    """(session, visit, block of YAML) of every typed reading."""
    demo = "arbor-bearings"
    for visit, saw, rooms in (("as-found", FOUND, (56.5, 57.0, 57.0)), ("as-left", LEFT, (62.5, 57.5, 57.0))):
        for block in pointed(visit):
            yield demo, visit, block
        yield demo, visit, listened(visit, saw, rooms)
        yield demo, visit, timed(visit, saw)
    v = "as-found"
    yield demo, v, cuts(v, "rip", FOUND, 2.4, "red oak", (58, 60, 57, 61))
    yield demo, v, cuts(v, "rip", FOUND, 2.4, "maple", (48, 50, 58, 47, 49), pinched=2)
    yield demo, v, cuts(v, "rip-coarse", FOUND, 3.2, "red oak", (62, 64, 61))
    v = "as-left"
    yield demo, v, cuts(v, "rip", LEFT, 2.4, "red oak", (60, 62, 59, 60))
    yield demo, v, cuts(v, "rip", LEFT, 2.4, "maple", (51, 49, 50, 52))
    yield demo, v, cuts(v, "rip-coarse", LEFT, 2.4, "red oak", (64, 65, 62))
    yield "old-saw", "baseline", listened("old-saw", OLD, (55.0,), (3450,))


def recordings():
    """(path below this folder, maker of its bytes) of every file."""
    head = "# accelerometer logger, +-4 g, 3200 Hz\n# x across, y up, z along the arbor\nt\tax\tay\taz"
    for visit, saw in (("as-found", FOUND), ("as-left", LEFT)):
        home = f"arbor-bearings/visits/{visit}"
        yield f"{home}/v4000.csv", lambda v=visit, s=saw: logged(f"{v} v4000", s, 4000, 6400, 5.0, "t,ax,ay,az")
        yield f"{home}/v3450.csv", lambda v=visit, s=saw: logged(f"{v} v3450", s, 3450, 3200, 4.0, head, "\t")
        yield f"{home}/v2000.csv", lambda v=visit, s=saw: logged(f"{v} v2000", s, 2000, 3200, 4.0, "", timed=False)
        yield f"{home}/idle-4000.wav", lambda v=visit, s=saw: idling(f"{v} idle-4000", s, 4000, 5.0)
        yield f"{home}/tone.wav", lambda v=visit: tone(f"{v} tone")
        yield f"{home}/warm-up.csv", {"as-found": log_found, "as-left": log_left}[visit]
    for setting, start in ((2000, datetime(2026, 3, 2, 17, 34)), (4000, datetime(2026, 3, 2, 17, 40))):
        name = f"phone-{setting}"
        yield (f"arbor-bearings/visits/as-found/{name}.csv",
               lambda n=name, s=setting, t=start: telephoned(f"as-found {n}", FOUND, s, t))
    yield "old-saw/visits/baseline/v3450.csv", lambda: logged("old-saw v3450", OLD, 3450, 3200, 4.0, head, "\t")


def main(arguments):
    if arguments not in ([], ["--check"]):
        print(__doc__)
        return 2
    here = Path(__file__).parent
    missing = total = 0
    for name, make in recordings():
        made, path = make(), here / name
        total += len(made)
        if not arguments:
            path.write_bytes(made)
            print(f"# {name}: {len(made)} bytes")
        elif not path.is_file() or path.read_bytes() != made:
            print(f"{name} is not what the model makes")
            missing += 1
    for session, visit, block in typed():
        path = here / session / "visits" / visit / "visit.yaml"
        if not arguments:
            print(f"# {session}/visits/{visit}\n{block}")
        elif f"\n{block}\n" not in path.read_text(encoding="utf-8"):
            print(f"{session}/visits/{visit}/visit.yaml does not carry:\n{block}")
            missing += 1
    if not missing:
        print(f"every recording ({total} bytes) and typed reading is the model's" if arguments else f"# {total} bytes")
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
