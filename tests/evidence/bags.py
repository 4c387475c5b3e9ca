#!/usr/bin/env python3
"""Bags of ours, looked at by others: the Library of Congress's `bagit` 1.9.0 (PyPI), Python's zipfile, `unzip -t`, `sha256sum`.

    bags.py ASFOUND OUT/NAME…
"""
import pathlib
import shutil
import subprocess
import sys
import tempfile
import zipfile

import bagit

program = sys.argv[1]
for out in map(pathlib.Path, sys.argv[2:]):
    folder = out / "bag" / out.name
    packed = folder.parent / f"{out.name}.zip"
    bag = bagit.Bag(str(folder))
    bag.validate(processes=1)
    assert sorted(bag.algorithms) == ["sha256", "sha512"], bag.algorithms
    check = ["sha256sum", "--check", "--quiet", "tagmanifest-sha256.txt", "manifest-sha256.txt"]
    subprocess.run(check, cwd=folder, check=True)
    subprocess.run(["unzip", "-tq", str(packed)], check=True, stdout=subprocess.DEVNULL)
    with tempfile.TemporaryDirectory() as home:
        with zipfile.ZipFile(packed) as archive:
            assert archive.testzip() is None
            archive.extractall(home)
            names = archive.namelist()
        again = pathlib.Path(home) / out.name
        bagit.Bag(str(again)).validate(processes=1)
        files = [path for path in folder.rglob("*") if path.is_file()]
        assert len(names) == len(files), (len(names), len(files))
        for path in files:
            assert (again / path.relative_to(folder)).read_bytes() == path.read_bytes(), path
        # And what bagit makes stands with us, with every digest that it knows and we do.
        made = pathlib.Path(home) / "made"
        shutil.copytree(folder / "data", made)
        bagit.make_bag(str(made), checksums=["md5", "sha1", "sha256", "sha384", "sha512"])
        subprocess.run([program, "verify", "--quiet", str(made)], check=True)
    print(f"{out.name}: {len(files)} files in a bag that bagit, zipfile, unzip and sha256sum find whole")
