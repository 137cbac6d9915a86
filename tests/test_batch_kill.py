"""A batch killed at random moments, in whole or in part, ends in the same results, byte for byte."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import psutil
import pytest
from stress import LONG

from freecool.batch import workers
from freecool.batch.ledger import DATABASE, ledger_folder
from freecool.batch.row import RowTask, answer

SITES = 30
KILLS = 6
PATIENCE_SECONDS = 120


def write_sites(path: Path, rows: int = SITES) -> Path:
    """Rows of two climates and a bad one in five."""
    lines = [
        f"Site {number},demo:{('high-desert', 'humid-coast')[number % 2]},{'75F' if number % 5 == 4 else 900 + number}"
        for number in range(rows)
    ]
    path.write_text("\n".join(["name,weather,fan.flow", *lines, ""]))
    return path


def started(sites: Path, out: Path, *arguments: str) -> subprocess.Popen[str]:
    """``freecool batch`` in a process group of its own."""
    command = [sys.executable, "-m", "freecool", "batch", str(sites), "--out", str(out), *arguments]
    return subprocess.Popen(
        command,
        start_new_session=True,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hear_interrupts,
    )


def hear_interrupts() -> None:
    """As from a terminal: what runs these tests in the background may have had interrupts ignored."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def kill_group(run: subprocess.Popen[str]) -> None:
    """Kill a batch and all its workers, as a power cut does."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(run.pid, signal.SIGKILL)
    run.communicate()


def finish(run: subprocess.Popen[str]) -> None:
    """Let a batch end well."""
    _, errors = run.communicate(timeout=PATIENCE_SECONDS)
    assert (run.returncode, errors) == (0, "")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """The results of a batch that was left in peace, beside its list, and how long it took."""
    folder = tmp_path_factory.mktemp("whole")
    sites, out = write_sites(folder / "sites.csv"), folder / "whole.csv"
    if LONG:
        # Compiled code is made once, so that the second run lasts as long as those to be killed.
        finish(started(sites, out))
    began = time.monotonic()
    finish(started(sites, out, "--overwrite"))
    return out, time.monotonic() - began


def rows_kept(out: Path) -> int:
    """How many rows a ledger holds: of a copy, since a batch keeps its ledger to itself while it runs."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            copied = shutil.copytree(ledger_folder(out), Path(folder, "copy"))
            with closing(sqlite3.connect(f"file:{copied / DATABASE}?mode=rw", uri=True)) as database:
                return int(database.execute("SELECT count(*) FROM rows").fetchone()[0])
        except (OSError, shutil.Error, sqlite3.Error):
            # It has not begun, or was copied while it changed.
            return 0


def wait_for_rows_or_end(run: subprocess.Popen[str], out: Path, rows: int) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while rows_kept(out) < rows and run.poll() is None and time.monotonic() < deadline:
        time.sleep(0.01)


@pytest.mark.long
def test_killed_at_random_moments_it_ends_the_same(whole: Any, tmp_path: Path) -> None:
    reference, seconds = whole
    sites = reference.with_name("sites.csv")
    moments = random.Random(7)
    midway = 0
    for kill in range(KILLS):
        out = tmp_path / f"{kill}.csv"
        # Every fifth is killed again while it goes on.
        for _ in range(2 if kill % 5 == 0 else 1):
            run = started(sites, out, "--resume")
            # By rows done, which a busy machine cannot move; by time too, which falls between rows, before and after.
            if kill % 2 == 0:
                wait_for_rows_or_end(run, out, moments.randrange(1, SITES))
            else:
                time.sleep(moments.uniform(0.2, 1.0) * seconds)
            kill_group(run)
        midway += 0 < rows_kept(out) < SITES
        finish(started(sites, out, "--resume"))
        assert out.read_bytes() == reference.read_bytes()
        assert not out.with_name(f"{out.name}.part").exists()
    # Otherwise the moments would have missed the work.
    assert midway > 0
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".csv"] * KILLS


def workers_of(run: subprocess.Popen[str]) -> list[psutil.Process]:
    """The processes that answer rows: those that multiprocessing spawned."""
    children = psutil.Process(run.pid).children(recursive=True)
    return [child for child in children if any("spawn_main" in word for word in child.cmdline())]


def wait_for_rows(run: subprocess.Popen[str], out: Path, rows: int) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while rows_kept(out) < rows:
        assert run.poll() is None, "the batch ended before it could be disturbed"
        assert time.monotonic() < deadline, "no row was answered"
        time.sleep(0.01)


@pytest.mark.long
def test_a_killed_worker_is_replaced_and_its_rows_are_done_again(whole: Any, tmp_path: Path) -> None:
    reference, _ = whole
    out = tmp_path / "results.csv"
    run = started(reference.with_name("sites.csv"), out)
    wait_for_rows(run, out, 3)
    workers_of(run)[0].kill()
    finish(run)
    assert out.read_bytes() == reference.read_bytes()


@pytest.mark.long
def test_workers_end_with_a_parent_that_was_killed(whole: Any, tmp_path: Path) -> None:
    reference, _ = whole
    out = tmp_path / "results.csv"
    run = started(reference.with_name("sites.csv"), out)
    wait_for_rows(run, out, 3)
    workers = workers_of(run)
    assert workers
    run.kill()
    _, alive = psutil.wait_procs(workers, timeout=PATIENCE_SECONDS)
    run.communicate()
    assert alive == []


@pytest.mark.long
def test_an_interrupt_says_how_to_go_on(whole: Any, tmp_path: Path) -> None:
    reference, _ = whole
    sites, out = reference.with_name("sites.csv"), tmp_path / "results.csv"
    run = started(sites, out)
    wait_for_rows(run, out, 3)
    # A terminal sends it to every process of the group.
    os.killpg(run.pid, signal.SIGINT)
    output, errors = run.communicate(timeout=PATIENCE_SECONDS)
    assert (run.returncode, output) == (130, "")
    assert errors == "freecool: stopped; every row done is kept: the same command with --resume goes on.\n"
    finish(started(sites, out, "--resume"))
    assert out.read_bytes() == reference.read_bytes()


def deadly(task: RowTask) -> list[Any]:
    """Answers a row, unless the row is one that takes its process along."""
    if task.site.cells["name"] == "Site 3":
        os.kill(os.getpid(), signal.SIGKILL)
    return answer(task)


@pytest.mark.long
def test_a_row_that_kills_its_workers_is_told_and_the_others_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from freecool.batch import run_batch

    monkeypatch.setattr(workers, "answer", deadly)
    sites = write_sites(tmp_path / "sites.csv", 12)
    summary = run_batch(sites, tmp_path / "results.csv", workers=2)
    lines = (tmp_path / "results.csv").read_text().splitlines()
    # Sites 4 and 9 have a flow in degrees.
    assert (summary.rows, summary.errors) == (12, 3)  # type: ignore[union-attr]
    assert "sites.csv row 5: its worker died over it twice" in lines[4]
    assert sum("its worker died" in line for line in lines) == 1
