"""The package as others get it: a wheel in a fresh environment, an editable install, a checkout.

Packages come from the registry that pip is set up for, and from nowhere else.
"""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "samples" / "lanterns.song.txt"
BIN = "Scripts" if os.name == "nt" else "bin"
PIP = ("-m", "pip", "--quiet", "--disable-pip-version-check")

# Only what pip and the program need: nothing of the environment that the tests run in.
CLEAN = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRTUAL_ENV"))}


def run(*words: str | Path, folder: Path) -> str:
    done = subprocess.run([*map(str, words)], cwd=folder, env=CLEAN, capture_output=True, text=True, encoding="utf-8")
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def files_of(folder: str) -> set[str]:
    return {f"{folder}/{p.name}" for p in (ROOT / folder).iterdir() if p.is_file()}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT, folder=folder)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def python(tmp_path_factory) -> Path:
    """Give the Python of a fresh environment."""
    folder = tmp_path_factory.mktemp("environment")
    venv.create(folder, with_pip=True)
    return folder / BIN / "python"


def test_the_wheel_holds_all_that_is_read_while_it_runs(wheel):
    inside = {name.removeprefix("arranger/_data/") for name in zipfile.ZipFile(wheel).namelist()}
    licences = {name for name in files_of("fonts") if "OFL" in name}
    tools = {"fonts/cut.py"}  # makes the fonts; never run by the program
    assert inside >= files_of("grammar") | files_of("samples") | files_of("fonts") - licences - tools
    assert inside >= files_of("arranger/desk/page") | files_of("arranger/desk/alone")
    assert not inside & tools
    assert {Path(name).name for name in inside} >= {Path(name).name for name in licences}
    assert not [name for name in inside if name.startswith(("tests", "arranger/tests"))]


@pytest.fixture(scope="module")
def installed(wheel, python, tmp_path_factory) -> Path:
    """Install the wheel and leave nothing of the checkout in reach."""
    run(python, *PIP, "install", wheel, folder=tmp_path_factory.mktemp("elsewhere"))
    return python


def part_by(python: Path, folder: Path) -> bytes:
    """Make the part of the sample with the `arranger` of an environment, in a folder that holds nothing else."""
    (folder / SAMPLE.name).write_bytes(SAMPLE.read_bytes())
    assert run(python.with_name("arranger"), "part", SAMPLE.name, folder=folder).startswith("lanterns.pdf: ")
    return (folder / "lanterns.pdf").read_bytes()


def part_by_the_checkout(folder: Path) -> bytes:
    made = folder / "checkout.pdf"
    run(sys.executable, "-m", "arranger", "part", SAMPLE, "-o", made, folder=ROOT)
    return made.read_bytes()


def home_of(python: Path, folder: Path) -> Path:
    return Path(run(python, "-c", "import arranger; print(arranger.__file__)", folder=folder).strip())


@pytest.mark.slow
def test_the_wheel_makes_a_part_in_another_folder(installed, tmp_path):
    assert not home_of(installed, tmp_path).is_relative_to(ROOT)
    assert part_by(installed, tmp_path) == part_by_the_checkout(tmp_path)


@pytest.mark.slow
def test_an_editable_install_makes_the_same_part(installed, tmp_path):
    run(installed, *PIP, "install", "--no-deps", "--force-reinstall", "--editable", ROOT, folder=tmp_path)
    assert home_of(installed, tmp_path).is_relative_to(ROOT)
    assert part_by(installed, tmp_path) == part_by_the_checkout(tmp_path)
