"""Holds the schemas against the reader, with validator and YAML parser of others (jsonschema and PyYAML, PyPI).

    check.py ASFOUND [--write] [--changed COUNT]

- The schemas are valid (draft 2020-12), and their patterns are ECMA-262's (node compiles them, where there is one).
- They accept every demo session and what `asfound start` lays out.
- Whatever the reader accepts they accept: all of tests/hostile, and COUNT sessions (200) that were changed in one place
  and that a schema refuses: the reader must have an error for each.
- The hostile sessions that a schema refuses are those of caught.txt; --write writes it anew.
"""

import argparse
import concurrent.futures
import copy
import json
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

import jsonschema
import yaml

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
# Aliases can make a small file a large tree; the reader refuses more than this (src/session/tree.rs).
MOST_NODES = 400_000

# Plain scalars by the core schema of YAML 1.2.2, 10.3.2: what editors go by. PyYAML's own rules are those of YAML 1.1.
NULL = re.compile(r"(?:null|Null|NULL|~|)\Z")
TRUTH = re.compile(r"(?:true|True|TRUE|false|False|FALSE)\Z")
WHOLE = re.compile(r"[-+]?[0-9]+\Z")
FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?\Z")


class Unread(Exception):
    """The file is no YAML, or too large to look at."""


def plain(node, sizes):
    """A node of PyYAML as what JSON would hold, keys as they were typed."""
    if id(node) in sizes:
        value, size = sizes[id(node)]
        return value, size
    if isinstance(node, yaml.ScalarNode):
        value, size = scalar(node), 1
    elif isinstance(node, yaml.SequenceNode):
        items = [plain(item, sizes) for item in node.value]
        value, size = [item for item, _ in items], 1 + sum(size for _, size in items)
    else:
        value, size = {}, 1
        for key, below in node.value:
            if not isinstance(key, yaml.ScalarNode):
                raise Unread("a key that is no scalar")
            # The reader keeps the first of two, and says so.
            held, more = plain(below, sizes)
            value.setdefault(key.value, held)
            size += more
    if size > MOST_NODES:
        raise Unread("too large")
    sizes[id(node)] = (value, size)
    return value, size


def scalar(node):
    text = node.value
    if node.style is not None:
        return text
    if NULL.match(text):
        return None
    if TRUTH.match(text):
        return text.lower() == "true"
    if WHOLE.match(text):
        return int(text)
    return float(text) if FLOAT.match(text) else text


def read(path):
    try:
        node = yaml.compose(path.read_bytes(), Loader=yaml.SafeLoader)
        if node is None:
            raise Unread("empty")
        return plain(node, {})[0]
    except (yaml.YAMLError, UnicodeError, RecursionError, ValueError) as error:
        raise Unread(str(error).splitlines()[0]) from error


def files(session):
    """The files of a session that a schema is for."""
    yield "session", session / "session.yaml"
    for path in sorted(session.glob("visits/*/visit.yaml")):
        yield "visit", path


def refused(validators, session):
    """What the schemas refuse in a session, and what they could not look at."""
    faults, unread = [], []
    for kind, path in files(session):
        try:
            value = read(path)
        except (Unread, OSError) as error:
            unread.append(f"{path.name}: {error}")
            continue
        for fault in validators[kind].iter_errors(value):
            where = "/".join(str(step) for step in fault.absolute_path)
            faults.append((path.relative_to(session).as_posix(), where, fault.message))
    return faults, unread


def accepts(program, session):
    """Whether the reader accepts a session."""
    run = subprocess.run([program, "inspect", "--quiet", str(session)], capture_output=True, check=False)
    if run.returncode not in (0, 1):
        sys.exit(f"{session}: exit code {run.returncode}: {run.stderr.decode()}")
    return run.returncode == 0


def patterns(value):
    if isinstance(value, dict):
        if isinstance(value.get("pattern"), str):
            yield value["pattern"]
        value = list(value.values())
    if isinstance(value, list):
        for below in value:
            yield from patterns(below)


def compiled_by_node(schemas):
    node = shutil.which("node")
    if node is None:
        print("skipped: no node here to compile the schemas' patterns")
        return
    every = sorted({pattern for schema in schemas.values() for pattern in patterns(schema)})
    assert len(every) > 20, every
    script = "for (const one of JSON.parse(require('fs').readFileSync(0, 'utf8'))) new RegExp(one, 'u')"
    subprocess.run([node, "-e", script], input=json.dumps(every).encode(), check=True)


# --- Sessions that are changed in one place -------------------------------------------------------------------------

UNITS = ["mm", "thou", "in", "µm", "°F", "degC", "rpm", "Hz", "g", "m/s2", "dBA", "dB(A)", "s", "min", "deg", "%", "A"]
TEXTS = ["", " ", "x", "0", "-1", "+2", "−3", "1e1", "2.", ".5", "0:30", "1:02:03.5", "true", "~", "3 thou over 180 mm"]
NAMES = [
    "file", "time", "rate", "readings", "points", "at", "background", "over", "turns", "stations", "rows", "passes",
    "unit", "limit", "instrument", "conditions", "title", "of", "at_most", "between", "struck", "because", "step",
]


def places(value, path=()):
    yield path
    if isinstance(value, dict):
        for key, below in value.items():
            yield from places(below, (*path, key))
    elif isinstance(value, list):
        for index, below in enumerate(value):
            yield from places(below, (*path, index))


def at(value, path):
    for step in path:
        value = value[step]
    return value


def another(value, chance, pool):
    """Something else in the place of a value: mostly another way to write it, which the reader may well accept."""
    ways = [None, [value], {"struck": value, "because": "knocked"}, chance.choice(TEXTS), chance.choice(pool)]
    if isinstance(value, list) and value:
        ways += [value[0], value[:-1], value + value[-1:], value + [None], [str(item) for item in value]] * 2
    if isinstance(value, bool):
        ways += [not value, str(value), int(value)] * 3
    elif isinstance(value, (int, float)):
        ways += [str(value), f" {value} ", f"{value} {chance.choice(UNITS)}", -value, value * 1.0, int(value), 0] * 3
    elif isinstance(value, str):
        number, _, rest = value.partition(" ")
        ways += [f" {value} ", number + rest, number, f"+{value}", f"{number} {chance.choice(UNITS)}", [value, value]] * 2
        if FLOAT.match(number):
            ways += [float(number), f"{float(number):e} {rest}", f"{number}  {rest}"] * 2
    return chance.choice(ways)


def changed(value, chance, pool):
    """A file with one thing changed, and where."""
    value = copy.deepcopy(value)
    path = chance.choice([path for path in places(value) if path])
    above, step = at(value, path[:-1]), path[-1]
    act = chance.random()
    if act < 0.15:
        del above[step]
    elif act < 0.3 and isinstance(above, dict):
        above[chance.choice([*NAMES, f"{step} ", str(step).upper()])] = chance.choice([None, above[step], *pool[:3]])
    else:
        above[step] = another(above[step], chance, pool)
    return value, "/".join(map(str, path))


def bases(program, home):
    """Sessions that the reader accepts and that are soon read."""
    laid_out = home / "laid-out"
    subprocess.run([program, "start", "--quiet", str(laid_out)], check=True)
    # The checks that it offers in comments, with their marks taken off.
    for name in ("session.yaml", "visits/as-found/visit.yaml"):
        path = laid_out / name
        head, mark, offered = path.read_text().partition("  # warm-up:")
        path.write_text(head + (mark + offered).replace("\n  # ", "\n  ").replace("  # ", "  ", 1))
    yield laid_out
    yield ROOT / "sessions/table-and-fence"
    yield from sorted(path for path in (ROOT / "tests/hostile").iterdir() if (path / "session.yaml").is_file())


def held_when_changed(program, validators, wanted):
    """Changes sessions until the schemas refused so many; gives those that the reader accepts all the same."""
    chance = random.Random(20260302)
    with tempfile.TemporaryDirectory() as folder:
        home = pathlib.Path(folder)
        good = []
        for session in bases(program, home):
            if not refused(validators, session)[1] and accepts(program, session):
                good.append([(kind, path, session, read(path)) for kind, path in files(session)])
        assert len(good) >= 20, len(good)
        made = []
        tries = 0
        while len(made) < wanted:
            tries += 1
            kind, path, session, value = chance.choice(chance.choice(good))
            pool = [at(value, way) for way in chance.sample(list(places(value)), 3)]
            other, where = changed(value, chance, pool)
            fault = next(validators[kind].iter_errors(other), None)
            if fault is not None:
                made.append((len(made), session, path.relative_to(session), other, where, fault.message))

        def run(one):
            number, session, name, value, where, message = one
            copy_of = home / f"changed-{number}" / session.name
            shutil.copytree(session, copy_of)
            (copy_of / name).write_text(json.dumps(value, ensure_ascii=False))
            taken = accepts(program, copy_of)
            shutil.rmtree(copy_of.parent)
            return f"{session.name}/{name}, {where}: {message[:300]}" if taken else None

        with concurrent.futures.ThreadPoolExecutor(2) as pool:
            wrong = [said for said in pool.map(run, made) if said]
        print(f"{tries} sessions changed in one place: schemas refuse {len(made)}, the reader takes {len(wrong)} of them")
        return wrong


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("program")
    arguments.add_argument("--write", action="store_true")
    arguments.add_argument("--changed", type=int, default=200)
    asked = arguments.parse_args()
    schemas = {kind: json.loads((ROOT / f"schemas/{kind}.schema.json").read_text()) for kind in ("session", "visit")}
    validators = {}
    for kind, schema in schemas.items():
        jsonschema.Draft202012Validator.check_schema(schema)
        validators[kind] = jsonschema.Draft202012Validator(schema)
    compiled_by_node(schemas)
    wrong = []
    for session in sorted(path for path in (ROOT / "sessions").iterdir() if path.is_dir()):
        faults, unread = refused(validators, session)
        wrong += [f"{session.name}: {fault}" for fault in [*faults, *unread]]
    caught = []
    for session in sorted(path for path in (ROOT / "tests/hostile").iterdir() if path.is_dir()):
        faults, unread = refused(validators, session)
        if faults and accepts(asked.program, session):
            wrong += [f"{session.name}: the reader accepts it, a schema does not: {fault}" for fault in faults]
        elif not faults and unread and accepts(asked.program, session):
            wrong.append(f"{session.name}: {unread}")
        # The place only: how a validator says it is its own affair.
        caught += sorted({f"{session.name}: {name} {where}".rstrip() for name, where, _ in faults})
    text = "".join(f"{line}\n" for line in caught)
    snapshot = HERE / "caught.txt"
    if asked.write:
        snapshot.write_text(text)
    elif snapshot.read_text() != text:
        wrong.append(f"caught.txt is not what the schemas refuse of tests/hostile; look with: {sys.argv[0]} … --write")
    wrong += held_when_changed(asked.program, validators, asked.changed)
    sessions = len({line.split(":")[0] for line in caught})
    print(f"{sessions} hostile sessions are refused by a schema already, and by the reader")
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
