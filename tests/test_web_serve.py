"""``freecool serve``: what it prints, where it listens, and how it refuses."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys

import httpx
import pytest
from test_cli import freecool


def started(*arguments: str) -> tuple[subprocess.Popen[str], str]:
    """A server in a process of its own, and what it said until it answered."""
    command = [sys.executable, "-u", "-m", "freecool", "serve", "--no-browser", "--port", "0", *arguments]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    said = ""
    while "Freecool answers at" not in said:
        line = process.stdout.readline()  # type: ignore[union-attr]
        assert line, process.stderr.read()  # type: ignore[union-attr]
        said += line
    return process, said


def test_it_answers_where_it_says_until_it_is_stopped() -> None:
    process, said = started("--demo")
    try:
        address = re.search(r"http://127\.0\.0\.1:\d+/", said)[0]  # type: ignore[index]
        assert "INVENTED climate" in httpx.get(address, timeout=60).text
        assert httpx.get(address, headers={"host": "evil.example"}).status_code == 400
    finally:
        process.send_signal(signal.SIGINT)
        output, errors = process.communicate(timeout=60)
    assert "without password" not in said + output
    assert "Traceback" not in errors


@pytest.mark.long
def test_another_host_says_what_that_means() -> None:
    process, said = started("--host", "0.0.0.0")
    try:
        warning = process.stdout.readline()  # type: ignore[union-attr]
        port = int(re.search(r":(\d+)/", said)[1])  # type: ignore[index]
        assert httpx.get(f"http://127.0.0.1:{port}/static/icon.svg", headers={"host": "my-laptop"}).status_code == 200
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=60)
    assert "whoever reaches this machine may use the page" in warning
    assert "without password or encryption" in warning


def test_a_taken_port_and_an_impossible_host_are_one_sentence() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        run = freecool("serve", "--no-browser", "--port", str(port))
    assert run.code == 2
    assert run.errors.startswith(f"freecool: 127.0.0.1:{port} cannot be listened at")
    run = freecool("serve", "--no-browser", "--host", "no.such.host.invalid")
    assert run.code == 2
    assert run.errors.startswith("freecool: no.such.host.invalid:")


def test_for_every_device_it_names_an_address_that_others_can_open() -> None:
    process, said = started("--demo", "--host", "0.0.0.0")
    try:
        address = re.search(r"answers at (http://\S+/)", said)[1]  # type: ignore[index]
        assert "0.0.0.0" not in address
        assert httpx.get(address, timeout=60).status_code == 200
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=60)


@pytest.mark.parametrize("name", ["fastapi", "uvicorn", "python_multipart"])
def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    for loaded in [module for module in sys.modules if module.startswith(("freecool.web", name))]:
        monkeypatch.delitem(sys.modules, loaded)
    monkeypatch.setitem(sys.modules, name, None)
    run = freecool("serve", "--no-browser")
    assert run.code == 2
    assert run.errors == (
        f"freecool: freecool serve needs the package {name}, which is not installed: pip install 'freecool[web]', or "
        "pip install '.[web]' in a copy of the sources.\n"
    )
