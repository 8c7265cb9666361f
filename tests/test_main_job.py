"""``python -m flowunc`` as a user runs it: in a process of its own, in an empty folder."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SHEET = ROOT / "flowunc" / "bench" / "example" / "sheet.csv"
BENCH = SHEET.with_name("bench.toml")
QUICK = ("--trials", "5000")


def run(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "flowunc", *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"} | environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def test_the_example(tmp_path: Path) -> None:
    found = run(tmp_path)
    assert (found.returncode, found.stderr) == (0, "")
    lines = found.stdout.splitlines()
    assert max(map(len, lines)) <= 100
    assert "±" in found.stdout
    assert "Sheet: the invented example, sheet.csv (10 runs in 2 sets)" in found.stdout
    assert not list(tmp_path.iterdir())  # nothing is left behind


def test_same_seed_same_report(tmp_path: Path) -> None:
    first, again = (run(tmp_path, *QUICK, "--seed", "4") for _ in range(2))
    other = run(tmp_path, *QUICK, "--seed", "5")
    assert first.stdout == again.stdout
    assert first.stdout.replace("seed 4", "seed 5") != other.stdout


def test_own_files_in_another_folder(tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_bytes(SHEET.read_bytes())
    (tmp_path / "b.toml").write_bytes(BENCH.read_bytes())
    found = run(tmp_path, "s.csv", "--bench", "b.toml", *QUICK)
    assert found.returncode == 0
    assert "Sheet: s.csv (10 runs in 2 sets)" in found.stdout


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            "2,small,60",
            "2,small,600",
            "s.csv, line 5, column 'flow': small meter: 600 L/h lies off",
        ),
        ("2,small,60", "2,smal,60", "s.csv, line 5, column 'meter': no meter 'smal'; did you mean"),
        ("360.5,344.5", "344.5,360.5", "s.csv, line 5, column 'high': manometer: the difference"),
        ("high [mm]", "high", "s.csv, line 1, column 'high': no unit; expected it in square"),
    ],
)
def test_refusals_are_one_line_without_traceback(
    old: str, new: str, expected: str, tmp_path: Path
) -> None:
    text = SHEET.read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "s.csv").write_text(text.replace(old, new), encoding="utf-8")
    found = run(tmp_path, "s.csv", "--bench", str(BENCH))
    assert (found.returncode, found.stdout) == (2, "")
    assert found.stderr.startswith(f"flowunc: {expected}")
    assert found.stderr.count("\n") == 1


def test_bench_refusal(tmp_path: Path) -> None:
    text = BENCH.read_text(encoding="utf-8").replace("tap_spacing", "taps_spacing")
    (tmp_path / "b.toml").write_text(text, encoding="utf-8")
    found = run(tmp_path, str(SHEET), "--bench", "b.toml")
    assert found.returncode == 2
    assert found.stderr.startswith(
        "flowunc: b.toml, key 'pipe.taps_spacing': unknown key; did you mean 'tap_spacing'?"
    )


def test_help(tmp_path: Path) -> None:
    found = run(tmp_path, "--help")
    assert found.returncode == 0
    for word in ("SHEET", "--bench", "--seed", "--trials", "--level", "Exit status"):
        assert word in found.stdout


def test_a_reader_that_stops_early_is_no_error(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "flowunc", *QUICK],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    error = process.stderr.read()
    process.stderr.close()
    assert (process.wait(), error) == (0, b"")


def test_a_terminal_without_the_sign(tmp_path: Path) -> None:
    found = run(tmp_path, *QUICK, PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert (found.returncode, found.stderr) == (0, "")
    assert "?" in found.stdout


def test_slow_libraries_stay_out(tmp_path: Path) -> None:
    heavy = ("pandas", "matplotlib", "scipy.stats")
    code = (
        "import sys\nfrom flowunc.bench.command import main\nmain(['--trials', '1000'])\n"
        f"print([name for name in {heavy!r} if name in sys.modules], file=sys.stderr)"
    )
    found = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.stderr.strip() == "[]"
