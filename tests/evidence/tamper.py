#!/usr/bin/env python3
"""Tampers with a report in ways that a forger would (pikepdf 10.18.0, PyPI) and asks `asfound verify` of each copy what differs.

    tamper.py ASFOUND REPORT
"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile

import pikepdf

program, report = sys.argv[1], pathlib.Path(sys.argv[2])
work = tempfile.TemporaryDirectory()
tried = 0


def verify(path):
    result = subprocess.run([program, "verify", str(path)], capture_output=True, text=True)
    assert result.returncode in (0, 1), result
    return result.returncode == 0, result.stdout + result.stderr


def attached(pdf, name):
    return pdf.attachments[name].get_file().read_bytes()


def replace(pdf, name, data):
    del pdf.attachments[name]
    pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, data, filename=name)


def case(name, change, stands, *wanted):
    global tried
    path = pathlib.Path(work.name) / f"{name}.pdf"
    with pikepdf.open(report) as pdf:
        change(pdf)
        pdf.save(path)
    holds, said = verify(path)
    assert holds == stands, f"{name}: {said}"
    for text in wanted:
        assert text in said, f"{name}: '{text}' is not in\n{said}"
    tried += 1


with pikepdf.open(report) as pdf:
    findings = json.loads(attached(pdf, "findings.json"))
    visits = [name for name in pdf.attachments if name.endswith("~visit.yaml") and not name.startswith("..")]
    listed = attached(pdf, "files.sha256").decode()
    pages = len(pdf.pages)
visit = visits[-1]
path = visit.replace("~", "/")
row = next(row for row in findings["findings"] if row["value"] is not None and row["uncertainty"])


def changed_findings(value):
    other = json.loads(json.dumps(findings))
    first = next(r for r in other["findings"] if r["value"] is not None and r["uncertainty"])
    first["value"] = value
    return (json.dumps(other, indent=2) + "\n").encode()


def one_reading(text):
    """A reading, one digit more."""
    at = next(i for i, letter in enumerate(text) if letter.isdigit() and text.rfind("readings:", 0, i) >= 0)
    return text[:at] + str((int(text[at]) + 1) % 10) + text[at + 1 :]


def other_program(pdf, name="asfound 0.0.9"):
    made = json.loads(attached(pdf, "made.json"))
    made["program"] = name
    replace(pdf, "made.json", json.dumps(made).encode())
    pdf.docinfo["/Creator"] = name


def number_of(lines):
    digest = hashlib.sha256()
    for line in lines:
        sha256, name = line.split("  ", 1)
        digest.update(name.encode() + b"\0" + sha256.encode() + b"\n")
    digits = digest.hexdigest().upper()[:12]
    return "AF-" + "-".join(digits[i : i + 4] for i in (0, 4, 8))


def forged(pdf):
    """Everything that a forger can mend: the reading, its digest, the list's number. The pages stay."""
    data = one_reading(attached(pdf, visit).decode()).encode()
    replace(pdf, visit, data)
    lines = [
        f"{hashlib.sha256(data).hexdigest()}  {path}" if line.endswith(f"  {path}") else line
        for line in listed.splitlines()
    ]
    replace(pdf, "files.sha256", ("\n".join(lines) + "\n").encode())
    made = json.loads(attached(pdf, "made.json"))
    made["number"] = number_of(lines)
    replace(pdf, "made.json", json.dumps(made).encode())


def words_gone(pdf):
    page = pdf.pages[pages // 2]
    kept, gone = [], 0
    for instruction in pikepdf.parse_content_stream(page):
        if str(instruction.operator) in ("Tj", "TJ") and gone < 3:
            gone += 1
            continue
        kept.append(instruction)
    assert gone
    page.Contents = pdf.make_stream(pikepdf.unparse_content_stream(kept))


def added_box(pdf):
    page = pdf.pages[0]
    box = pikepdf.Stream(pdf, b"q 1 1 1 rg 100 100 200 20 re f Q")
    page.contents_add(box)


holds, said = verify(report)
assert holds, said
case("reading", lambda pdf: replace(pdf, visit, one_reading(attached(pdf, visit).decode()).encode()), False,
     f"{path} is not what it was: its SHA-256 is", "listed is")
case("finding", lambda pdf: replace(pdf, "findings.json", changed_findings(123.25)), False,
     f"{row['check']}, {row['visit']}", "value is 123.25 in the report and", "from the readings")
case("attachment", lambda pdf: pdf.attachments.__setitem__("x.csv", pikepdf.AttachedFileSpec(pdf, b"1,2", filename="x.csv")),
     False, "'x.csv' is attached and stands in no list")
case("missing", lambda pdf: pdf.attachments.__delitem__(visit), False, f"{path} is listed and not attached")
case("no list", lambda pdf: pdf.attachments.__delitem__("files.sha256"), False, "this is no report that carries its readings")
case("forged", forged, False, " in the report and ", f"page ")
case("words", words_gone, False, f"page {pages // 2 + 1} lacks '")
case("box", added_box, False, "page 1 is drawn otherwise, with the same words")
case("saved anew", lambda pdf: None, False, "and yet the file is not the one that asfound makes of them")
case("older", other_program, True, "it was made by asfound 0.0.9; this is asfound", "come out the same from the readings",
     "findings stand on its pages as it carries them")
case("older, changed", lambda pdf: (other_program(pdf), replace(pdf, "findings.json", changed_findings(123.25))), False,
     "value is 123.25 in the report and", "stands on no page")
case("two names", lambda pdf: pdf.docinfo.__setitem__("/Creator", "asfound 9"), False, "its metadata name 'asfound 9'")
print(f"{report.name}: {tried} ways to tamper with it, each told as what it is")
