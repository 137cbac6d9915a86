"""A batch on a cluster of separate processes: the same results, also when a worker dies or a version differs."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from test_batch_kill import write_sites

from freecool.batch import run_batch
from freecool.core.errors import BatchError

PATIENCE_SECONDS = 120
RUN = "import sys; from dask.__main__ import main; main()"


class Cluster(NamedTuple):
    """A scheduler's address and the processes of its workers."""

    address: str
    workers: list[subprocess.Popen[bytes]]


def dask(*words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", RUN, *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )  # fmt: skip


def wait_until(true: Any, what: str) -> None:
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not true():
        assert time.monotonic() < deadline, what
        time.sleep(0.05)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A scheduler and two workers, three processes on the loopback: the tests below lose them one after the other."""
    from distributed import Client

    tmp_path = tmp_path_factory.mktemp("cluster")
    note = tmp_path / "scheduler.json"
    processes = [
        dask("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(note))
    ]
    try:
        wait_until(note.exists, "the scheduler did not start")
        words = (
            "--scheduler-file",
            str(note),
            "--host",
            "127.0.0.1",
            "--nthreads",
            "1",
            "--no-nanny",
            "--no-dashboard",
        )
        processes += [dask("worker", *words, "--local-directory", str(tmp_path / name)) for name in ("one", "two")]
        with Client(scheduler_file=str(note), set_as_default=False) as client:
            client.wait_for_workers(2, timeout=PATIENCE_SECONDS)
            address = client.scheduler.address
        yield Cluster(address, processes[1:])
    finally:
        for process in reversed(processes):
            process.kill()
            process.wait()


@pytest.mark.long
def test_workers_of_another_version_are_refused(cluster: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.batch.run.__version__", "9.9")
    sites = write_sites(tmp_path / "sites.csv", 2)
    with pytest.raises(BatchError, match=r"expected 9\.9: install the same version everywhere"):
        run_batch(sites, tmp_path / "results.csv", scheduler=cluster.address)


@pytest.mark.long
def test_a_cluster_that_loses_a_worker_gives_what_one_machine_gives(cluster: Any, tmp_path: Path) -> None:
    sites = write_sites(tmp_path / "sites.csv", 40)
    run_batch(sites, tmp_path / "local.csv", workers=1)
    killed = []

    def progress(done: int, total: int) -> None:
        if done == 8:
            cluster.workers[0].kill()
            killed.append(done)

    run_batch(sites, tmp_path / "cluster.csv", scheduler=cluster.address, progress=progress)
    assert killed == [8]
    assert (tmp_path / "cluster.csv").read_bytes() == (tmp_path / "local.csv").read_bytes()


@pytest.mark.long
def test_a_lost_cluster_is_said_and_the_batch_goes_on_elsewhere(cluster: Any, tmp_path: Path) -> None:
    from distributed import Client

    sites = write_sites(tmp_path / "sites.csv", 20)
    run_batch(sites, tmp_path / "local.csv", workers=1)

    def progress(done: int, total: int) -> None:
        if done == 4:
            with contextlib.suppress(Exception), Client(cluster.address, set_as_default=False) as client:
                client.shutdown()

    with pytest.raises(BatchError, match=r"The cluster was lost: .* --resume"):
        run_batch(sites, tmp_path / "cluster.csv", scheduler=cluster.address, progress=progress)
    run_batch(sites, tmp_path / "cluster.csv", workers=1, resume=True)
    assert (tmp_path / "cluster.csv").read_bytes() == (tmp_path / "local.csv").read_bytes()


def test_an_address_where_nobody_answers_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.batch.workers.CONNECT_SECONDS", 1)
    sites = write_sites(tmp_path / "sites.csv", 2)
    with pytest.raises(BatchError, match="no scheduler with a worker answered there"):
        run_batch(sites, tmp_path / "results.csv", scheduler="tcp://127.0.0.1:9")


def test_without_dask_a_sentence_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    sites = write_sites(tmp_path / "sites.csv", 2)
    with pytest.raises(BatchError, match=r"pip install 'freecool\[batch\]'"):
        run_batch(sites, tmp_path / "results.csv", scheduler="tcp://127.0.0.1:9")
