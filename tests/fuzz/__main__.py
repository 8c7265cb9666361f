"""Search for inputs that flowunc reads wrongly: ``python -m tests.fuzz --seconds 60 --seed 0``.

Needs atheris (``pip install -e ".[fuzz]"``; Linux or macOS). The search of each target begins at
its sound inputs and at the inputs in ``corpus``. What goes wrong is printed, and kept with its
traceback in the folder of findings; then the exit status is 1.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
CORPUS = HERE / "corpus"
MOST_KEPT = 60_000  # bytes of one target in the repository


def main(arguments: Sequence[str] | None = None) -> int:
    from fuzz_targets import TARGETS

    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--target", action="append", choices=TARGETS, help="all unless given")
    parser.add_argument(
        "--findings", type=Path, default=Path(tempfile.gettempdir()) / "flowunc-fuzz-findings"
    )
    parser.add_argument("--work", type=Path, help="keeps the whole corpus in this folder")
    parser.add_argument(
        "--keep", action="store_true", help="put the smallest inputs of each branch into corpus"
    )
    options = parser.parse_args(arguments)
    if importlib.util.find_spec("atheris") is None:
        parser.error('the package atheris is not installed; pip install -e ".[fuzz]"')
    options.findings.mkdir(parents=True, exist_ok=True)
    before = set(options.findings.iterdir())
    with tempfile.TemporaryDirectory() as folder:
        for target in options.target or TARGETS:
            work = (options.work or Path(folder)) / target
            work.mkdir(parents=True, exist_ok=True)
            for path in sorted((CORPUS / target).glob("*")):
                (work / path.name).write_bytes(path.read_bytes())
            _search(target, work, options)
            if options.keep:
                _keep(target, work)
    found = sorted(set(options.findings.iterdir()) - before)
    for path in found:
        print(f"found: {path}")
    return 1 if found else 0


def _search(target: str, work: Path, options: argparse.Namespace) -> None:
    print(f"==== {target}", flush=True)
    engine = subprocess.run(
        [
            sys.executable,
            str(HERE / "fuzz_engine.py"),
            target,
            str(work),
            str(options.findings),
            str(options.seconds),
            str(options.seed),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    )
    lines = [line for line in engine.stdout.split("\n") if "Instrumenting" not in line]
    told = [line for line in lines if line.startswith(("FOUND", "stat::", "Done"))]
    print("\n".join(told or lines[-20:]), flush=True)
    if engine.returncode and not any(line.startswith("FOUND") for line in told):
        (options.findings / f"{target}-ended.txt").write_text("\n".join(lines[-200:]))


def _keep(target: str, work: Path) -> None:
    """Write the distilled corpus; inputs of repaired defects (found-...) stay as they are."""
    from fuzz_distil import distil

    folder = CORPUS / target
    folder.mkdir(parents=True, exist_ok=True)
    kept = distil(target, [path.read_bytes() for path in work.iterdir()], MOST_KEPT)
    for path in folder.iterdir():
        if not path.name.startswith("found-"):
            path.unlink()
    for data in kept:
        (folder / hashlib.sha1(data).hexdigest()[:10]).write_bytes(data)
    print(f"kept {len(kept)} inputs, {sum(map(len, kept))} bytes")


if __name__ == "__main__":
    sys.exit(main())
