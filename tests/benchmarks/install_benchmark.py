"""How long a fresh installation takes and how large it is, package by package.

``python -m tests.benchmarks.install_benchmark`` makes an environment, installs the project in it
as README says, and prints the table; what another package drags in stands behind that one.
"""

import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from importlib.metadata import Distribution, distributions
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
SHOWN = 25


def _size(package: Distribution) -> int:
    """Bytes of its files as they are installed."""
    paths = (Path(str(package.locate_file(each))) for each in package.files or ())
    return sum(path.stat().st_size for path in paths if path.is_file())


def _asked_by(packages: list[Distribution]) -> dict[str, list[str]]:
    asked: dict[str, list[str]] = defaultdict(list)
    for package in packages:
        for text in package.requires or ():
            wanted = Requirement(text)
            if wanted.marker is None or wanted.marker.evaluate({"extra": ""}):
                asked[canonicalize_name(wanted.name)].append(package.name)
    return asked


def main() -> int:
    """Install and print; the exit code of pip."""
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", "venv", folder], check=True)
        python = f"{folder}/bin/python"
        bare = {each.name for each in distributions(path=[_site(python)])}
        made_s = time.perf_counter() - began
        done = subprocess.run([python, "-m", "pip", "install", "-q", str(ROOT)], check=False)
        took_s = time.perf_counter() - began
        packages = [each for each in distributions(path=[_site(python)]) if each.name not in bare]
        asked = _asked_by(packages)
        sizes = {each.name: _size(each) for each in packages}
        whole = sum(path.stat().st_size for path in Path(folder).rglob("*") if path.is_file())
        sys.stdout.write(f"{'package':24} {'MB':>7}  asked for by\n")
        for name in sorted(sizes, key=lambda each: -sizes[each])[:SHOWN]:
            by = ", ".join(asked[canonicalize_name(name)])
            sys.stdout.write(f"{name:24} {sizes[name] / 1e6:7.1f}  {by}\n")
        sys.stdout.write(
            f"{len(packages)} packages, {sum(sizes.values()) / 1e6:.0f} MB; with pip and what it "
            f"compiles {whole / 1e6:.0f} MB; {took_s:.0f} s, {made_s:.0f} of them for the "
            "environment\n"
        )
    return done.returncode


def _site(python: str) -> str:
    program = "import sysconfig; print(sysconfig.get_path('purelib'))"
    done = subprocess.run([python, "-c", program], capture_output=True, text=True, check=True)
    return done.stdout.strip()


if __name__ == "__main__":
    sys.exit(main())
