"""What is never replaced and never waited for: inputs, links, pipes and folders in the place of a file."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from pathlib import Path

import pytest
from test_batch import write_list
from test_cli import DESERT, freecool

from freecool.batch.ledger import Ledger, ledger_folder
from freecool.batch.sites import digest_of, iterate_sites, read_sites
from freecool.cases.case_file import MOST_BYTES, files_of_case, read_case_file
from freecool.core.atomic_file import atomic_file, check_places
from freecool.core.errors import BatchError, CaseError, FreecoolError


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


def a_socket(path: Path) -> None:
    # Its address is short, wherever the folder of the test lies.
    before = Path.cwd()
    os.chdir(path.parent)
    try:
        with socket.socket(socket.AF_UNIX) as listening:
            listening.bind(path.name)
    finally:
        os.chdir(before)


def a_link(path: Path) -> None:
    (path.parent / "elsewhere").write_text("mine")
    path.symlink_to("elsewhere")


def a_link_to_nowhere(path: Path) -> None:
    path.symlink_to("nowhere")


NODES: dict[str, tuple[Callable[[Path], None], str]] = {
    "pipe": (a_pipe, "is a pipe or a device, which would be replaced: name a file"),
    "socket": (a_socket, "is a pipe or a device"),
    "link": (a_link, "is a link to another file"),
    "link to nowhere": (a_link_to_nowhere, "is a link to another file"),
    "folder": (Path.mkdir, "is a folder"),
}


def unread(path: Path) -> tuple[int, ...]:
    """What a node is and when it changed; when it was looked at may change."""
    node = path.lstat()
    return node.st_mode, node.st_ino, node.st_dev, node.st_size, node.st_mtime_ns, node.st_ctime_ns


@pytest.mark.parametrize("option", ["--hourly", "--report"])
@pytest.mark.parametrize("name", NODES)
def test_what_is_no_file_is_not_replaced(name: str, option: str, tmp_path: Path) -> None:
    make, said = NODES[name]
    out = tmp_path / "out.csv"
    make(out)
    before = unread(out)
    run = freecool("value", DESERT, option, str(out))
    assert (run.code, run.output) == (2, "")
    assert f"{out} {said}" in run.errors
    assert unread(out) == before
    if name == "link":
        assert out.read_text() == "mine"


def test_what_is_no_file_is_not_replaced_by_a_function_either(tmp_path: Path) -> None:
    a_pipe(tmp_path / "out.csv")
    with pytest.raises(FreecoolError, match="a pipe or a device"), atomic_file(tmp_path / "out.csv"):
        pass


def test_the_meaning_of_the_columns_replaces_nothing_either(tmp_path: Path) -> None:
    a_pipe(tmp_path / "out.csv-metadata.json")
    run = freecool("value", DESERT, "--hourly", str(tmp_path / "out.csv"))
    assert run.code == 2
    assert "out.csv-metadata.json is a pipe" in run.errors


@pytest.mark.parametrize("spelled", ["{}/case.toml", "{}/../{name}/case.toml", "{}/other.toml"])
def test_an_input_is_not_replaced(spelled: str, tmp_path: Path) -> None:
    """By its own name, by a longer way, and where another name leads to it."""
    case = tmp_path / "case.toml"
    case.write_text('preset = "shop"\n')
    (tmp_path / "other.toml").symlink_to("case.toml")
    given = spelled.format(tmp_path, name=tmp_path.name)
    run = freecool("value", DESERT, "--case", given, "--report", str(case))
    assert run.code == 2
    assert f"{case} is read by this very run and would be replaced: name another output." in run.errors
    assert case.read_text() == 'preset = "shop"\n'


def test_neither_weather_nor_a_performance_map_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "year.csv").write_text("time\n")
    run = freecool("value", str(tmp_path / "year.csv"), "--hourly", str(tmp_path / "year.csv"))
    assert "is read by this very run" in run.errors
    assert (tmp_path / "year.csv").read_text() == "time\n"
    (tmp_path / "map.csv").write_text("x\n")
    (tmp_path / "case.toml").write_text('[unit]\nmap_file = "map.csv"\n')
    with pytest.raises(FreecoolError, match=r"map\.csv is read by this very run"):
        check_places(tmp_path / "map.csv", inputs=files_of_case(tmp_path / "case.toml"))


@pytest.mark.parametrize("command", ["save", "typical"])
def test_a_weather_file_is_not_saved_over_itself(command: str, tmp_path: Path) -> None:
    year = tmp_path / "year.csv"
    year.write_text("time\n")
    run = freecool("weather", command, str(year), str(year))
    assert (run.code, run.output) == (2, "")
    assert "is read by this very run" in run.errors
    assert year.read_text() == "time\n"


def test_two_outputs_have_two_places(tmp_path: Path) -> None:
    out = str(tmp_path / "out.csv")
    run = freecool("value", DESERT, "--hourly", out, "--report", out)
    assert run.code == 2
    assert "out.csv is named for two outputs: name two files." in run.errors
    assert not list(tmp_path.iterdir())


def test_a_place_that_is_fit_is_let_through(tmp_path: Path) -> None:
    (tmp_path / "there.csv").write_text("old")
    check_places(tmp_path / "there.csv", None, tmp_path / "new.html", inputs=[tmp_path / "case.toml"])


def test_a_batch_does_not_replace_its_list_or_its_weather(tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather", "A,year.csv")
    (tmp_path / "year.csv").write_text("time\n")
    for name in ("sites.csv", "year.csv"):
        run = freecool("batch", str(sites), "--out", str(tmp_path / name), "--overwrite")
        assert run.code == 2
        assert f"{name} is read by this very run" in run.errors


def test_a_ledger_in_use_is_not_removed(tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather", f"A,{DESERT}")
    out = tmp_path / "out.csv"
    with Ledger(ledger_folder(out), {"made": "elsewhere"}, 1):
        run = freecool("batch", str(sites), "--out", str(out), "--overwrite")
        assert run.code == 2
        assert "is in use by another batch that still runs: let it end first." in run.errors
        assert (ledger_folder(out) / "rows.sqlite").exists()


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    """A pipe into which nobody writes: whoever opens it waits."""
    path = tmp_path / "pipe.toml"
    a_pipe(path)
    return path


def test_a_pipe_is_no_case_file(pipe: Path) -> None:
    run = freecool("value", DESERT, "--case", str(pipe))
    assert run.code == 2
    assert f"{pipe}: cannot be read as a case file (it is a pipe or a device, expected a file)" in run.errors


def test_a_pipe_is_no_performance_map(pipe: Path, tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text('[unit]\nmap_file = "pipe.toml"\n')
    with pytest.raises(CaseError, match="it is a pipe or a device, expected a file"):
        read_case_file(tmp_path / "case.toml")


def test_a_pipe_is_no_list_and_no_weather(pipe: Path, tmp_path: Path) -> None:
    run = freecool("batch", str(pipe), "--out", str(tmp_path / "out.csv"))
    assert run.code == 2
    assert f"{pipe}: cannot be read (it is a pipe or a device, expected a file)" in run.errors
    assert digest_of(pipe) == ""
    run = freecool("value", str(pipe))
    assert run.code == 2
    assert "is a device or a pipe" in run.errors


def test_a_case_file_of_endless_size_is_not_read_to_its_end(tmp_path: Path) -> None:
    large = tmp_path / "large.toml"
    with large.open("wb") as file:
        file.truncate(50 * MOST_BYTES)
    with pytest.raises(CaseError, match=r"holds more than 1,000,000 bytes, expected at most that"):
        read_case_file(large)


def test_a_name_that_no_file_has_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="no file has such a name"):
        read_case_file("case\0.toml")
    with pytest.raises(FreecoolError, match="no file can have such a name"), atomic_file("out\0.csv"):
        pass


def test_a_list_that_grows_while_it_is_read_is_refused(tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather", f"A,{DESERT}", f"B,{DESERT}")
    listed = read_sites(sites)
    rows = iterate_sites(listed)
    assert next(rows).place == 0
    with sites.open("a") as file:
        file.write(f"C,{DESERT}\n" * 1000)
    assert next(rows).place == 1
    with pytest.raises(BatchError, match="changed while the batch ran"):
        next(rows)


@pytest.mark.parametrize("weather", ["year\0.csv", "demo:\0", "station:\0"])
def test_a_cell_with_a_null_character_is_refused_as_its_row(weather: str, tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather", f"A,{weather}", f"B,{DESERT}")
    run = freecool("batch", str(sites), "--out", str(tmp_path / "out.csv"), "--workers", "1")
    assert run.code in (0, 2), run.errors
    assert "Traceback" not in run.errors
    assert "unforeseen" not in run.errors + run.output
