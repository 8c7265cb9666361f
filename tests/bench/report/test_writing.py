"""Files written whole or left as they were: full disk, killed process, wrong places."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from flowunc.bench.report.writing import check_target, write_whole
from flowunc.core.errors import FlowuncError, ReportError

KNOWN = frozenset({"a.png", "b.png"})
OLD, NEW = b"the old report", b"the new report"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder with a report and its charts, as it was before."""
    (tmp_path / "r.md").write_bytes(OLD)
    (tmp_path / "r_files").mkdir()
    (tmp_path / "r_files" / "a.png").write_bytes(b"old a")
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


BEFORE = {"r.md": OLD, "r_files/a.png": b"old a"}


def test_a_report_and_its_charts_are_replaced_as_a_whole(place: Path) -> None:
    write_whole(place / "r.md", NEW, place / "r_files", {"b.png": b"new b"}, KNOWN)
    assert contents(place) == {"r.md": NEW, "r_files/b.png": b"new b"}


def test_without_charts_the_old_ones_go(place: Path) -> None:
    write_whole(place / "r.md", NEW, place / "r_files", {}, KNOWN)
    assert contents(place) == {"r.md": NEW}
    assert not (place / "r_files").exists()


def test_a_form_without_a_folder_leaves_folders_alone(place: Path) -> None:
    write_whole(place / "r.html", NEW, None, {}, KNOWN)
    assert contents(place) == {**BEFORE, "r.html": NEW}


def test_permissions_of_the_old_file_are_kept(place: Path) -> None:
    (place / "r.md").chmod(0o640)
    write_whole(place / "r.md", NEW, None, {}, KNOWN)
    assert stat.S_IMODE((place / "r.md").stat().st_mode) == 0o640


@pytest.mark.parametrize("failing", ["fsync", "replace 1", "replace 2", "replace 3"])
def test_a_failing_disk_changes_nothing(
    place: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    name, _, which = failing.partition(" ")
    real, calls = getattr(os, name), []

    def fail(*arguments: object) -> object:
        calls.append(arguments)
        if len(calls) == int(which or 1):
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(*arguments)

    monkeypatch.setattr(os, name, fail)
    with pytest.raises(ReportError, match="No space left on device; nothing was changed"):
        write_whole(place / "r.md", NEW, place / "r_files", {"b.png": b"new b"}, KNOWN)
    assert contents(place) == BEFORE


def run_in_process(place: Path, before: str) -> subprocess.CompletedProcess[str]:
    """Write a report in a process of its own after some preparation."""
    code = f"""
import os, resource, signal
from pathlib import Path
from flowunc.bench.report.writing import write_whole
place = Path({str(place)!r})
known = frozenset({{"a.png", "b.png"}})
{before}
write_whole(place / "r.md", b"n" * 100_000, place / "r_files", {{"b.png": b"n"}}, known)
"""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env=environment,
        timeout=120,
        check=False,
    )


def test_a_limit_of_the_system_leaves_the_old_report_whole(place: Path) -> None:
    # the system itself refuses to write more than 10 000 bytes to one file
    limit = "resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, 10_000))"
    done = run_in_process(place, limit)
    assert "ReportError" in done.stderr
    assert contents(place) == BEFORE


def test_a_killed_process_leaves_the_old_report_whole(place: Path) -> None:
    kill = "os.fsync = lambda number: os.kill(os.getpid(), signal.SIGKILL)"
    done = run_in_process(place, kill)
    assert done.returncode == -signal.SIGKILL
    found = contents(place)
    assert {name: found[name] for name in BEFORE} == BEFORE
    assert all(name in BEFORE or name.startswith(".r.md.") for name in found)


def test_a_folder_of_somebody_is_not_replaced(place: Path) -> None:
    (place / "r_files" / "thesis.docx").write_bytes(b"years of work")
    with pytest.raises(ReportError, match=r"holds 'thesis.docx', which no report has written"):
        write_whole(place / "r.md", NEW, place / "r_files", {"b.png": b""}, KNOWN)
    assert contents(place) == {**BEFORE, "r_files/thesis.docx": b"years of work"}


def test_a_link_in_place_of_the_folder_is_refused(place: Path, tmp_path: Path) -> None:
    (tmp_path / "q_files").symlink_to(place / "r_files")
    with pytest.raises(ReportError, match="no ordinary folder"):
        write_whole(place / "q.md", NEW, tmp_path / "q_files", {"b.png": b""}, KNOWN)
    assert (place / "r_files" / "a.png").read_bytes() == b"old a"


def test_wrong_places_are_named(place: Path) -> None:
    with pytest.raises(ReportError, match="r_files: this is a folder"):
        check_target(place / "r_files")
    with pytest.raises(ReportError, match=r"the folder .*nowhere does not exist; make it first"):
        check_target(place / "nowhere" / "r.md")
    assert not (place / "nowhere").exists()
    with pytest.raises(ReportError, match=r"r.md is a file, not a folder"):
        check_target(place / "r.md" / "r.md")
    os.mkfifo(place / "pipe.md")
    with pytest.raises(ReportError, match="no ordinary file"):
        check_target(place / "pipe.md")


def test_the_error_is_one_of_flowunc_and_of_the_system() -> None:
    assert issubclass(ReportError, FlowuncError)
    assert issubclass(ReportError, OSError)
    assert str(ReportError("r.md: full")) == "r.md: full"
