"""The files around the package: two ways to install agree, the wheel finds its data."""

import itertools
import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import yaml

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
CONDA_NAMES = {"matplotlib": "matplotlib-base", "dask": "dask-core"}


def test_conda_and_pip_ask_for_the_same():
    conda = yaml.safe_load((ROOT / "environment.yml").read_text())
    assert conda["channels"] == ["conda-forge", "nodefaults"]
    *packages, pip = conda["dependencies"]
    assert pip == {"pip": ["-e ."]}
    wanted = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["dev"]
    wanted = {re.sub(r"^[\w-]+", lambda m: CONDA_NAMES.get(m[0], m[0]), each) for each in wanted}
    assert {*packages} == wanted | {f"python{PROJECT['requires-python']}", "pip"}


def test_every_dependency_has_a_lower_bound_and_nothing_else():
    extras = itertools.chain(*PROJECT["optional-dependencies"].values())
    for each in [*PROJECT["dependencies"], *extras]:
        assert re.fullmatch(r"[a-z0-9-]+>=[\d.]+", each), each


def test_the_wheel_finds_its_limits_in_an_empty_environment(tmp_path):
    code = f"from hatchling.build import build_wheel; build_wheel({str(tmp_path)!r})"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    target = tmp_path / "unpacked"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(target)
    code = (
        "from enginecalc.records.reference import folder, table; import enginecalc;"
        "print(enginecalc.__file__); print(len(table('limits')), folder('reference'))\n"
        "try: folder('engines')\nexcept FileNotFoundError as fault: print(fault)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={"PYTHONPATH": str(target), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    where, limits, fault = done.stdout.splitlines()
    assert where.startswith(str(target))
    assert int(limits.split()[0]) >= 6
    assert limits.endswith(str(Path("enginecalc/data/reference")))
    assert "ENGINECALC_DATA" in fault


def test_no_lock_file_and_no_engine_of_a_person_is_tracked():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert not [
        name for name in listed if name.endswith(("uv.lock", "poetry.lock", "conda-lock.yml"))
    ]
    engines = {name for name in listed if name.startswith("data/engines/")}
    assert engines == {
        "data/engines/ferry-four.toml",
        "data/engines/quarry-pump-v8.toml",
        "data/engines/quarry-pump-v8-long-stroke.toml",
    }
