"""Hostile uploads and strangers: what is sent is counted, read by the hardened readers or refused in one sentence."""

from __future__ import annotations

import io
import select
import socket
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from web_serving import serving

from freecool import open_weather
from freecool.core.errors import WeatherError
from freecool.web import weather_store
from freecool.web.security import LARGEST_BODY_BYTES, LARGEST_UPLOAD_BYTES
from freecool.web.weather_store import NotHeld, WeatherStore

GIGABYTE = 1_000_000_000


@pytest.fixture(scope="module")
def server() -> Iterator[Any]:
    with serving() as running:
        yield running


def zip_bomb() -> bytes:
    """An archive of a few hundred kB that unpacks to 300 MB."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("weather.epw", "w") as inside:
        for _ in range(300):
            inside.write(b"\0" * 1_000_000)
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (zip_bomb, "is a zip archive"),
        (b"\x1f\x8b\x08" + bytes(1000), "is a gzip archive"),
        (bytes(range(256)) * 400, "binary data"),
        (b"\x7fELF" + bytes(5000), "binary data"),
        (b"", "is empty"),
        (b"LOCATION," * 50_000, "latitude is nan"),
        (b"time,dry_bulb_c\n" + b"x,1\n" * 10, "your-file"),
        (b"a," * 1_000_000, "no weather file that is known here"),
        (b"\n" * 400_000, "400,001 lines, expected at most 300,000"),
        (b"\xff\xfe" + "LOCATION,x\n".encode("utf-16-le"), "your-file"),
    ],
    ids=lambda value: value.replace(" ", "-") if isinstance(value, str) else None,
)
def test_what_is_no_weather_is_refused_in_one_sentence(server: Any, content: Any, words: str) -> None:
    answer = server.send_file(content() if callable(content) else content, "weather.epw")
    assert answer.status_code == 422
    sentence = server.refusal(answer)
    assert words in sentence
    assert len(sentence) < 3000


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "..\\..\\windows\\system.ini", "/etc/cron.d/x", "C:\\autoexec.bat", "\x00", "CON", "a" * 250,
     "%2e%2e%2fx.epw", "<script>alert(1)</script>.csv", "name\r\nX-Injected: 1.csv"],
)  # fmt: skip
def test_a_client_s_name_is_never_a_path(
    server: Any, pvlib_weather: Callable[[str], Path], name: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    written: list[Path] = []
    true_write = Path.write_bytes
    monkeypatch.setattr(Path, "write_bytes", lambda path, data: (written.append(path), true_write(path, data))[1])  # type: ignore[func-returns-value]
    # A distinct content, so that it is read anew.
    content = pvlib_weather("703165TY.csv").read_bytes() + b"\n" * (len(name) % 97)
    server.service.weather._held.clear()
    answer = server.send_file(content, name)
    assert answer.status_code == 200, answer.text[:300]
    assert [path.name for path in written] == ["your-file"]
    assert not written[0].exists()
    assert not written[0].parent.exists()
    assert list(tmp_path.iterdir()) == []
    assert "x-injected" not in answer.headers


def test_a_plain_csv_without_a_name_shows_its_file_s_cleaned() -> None:
    frame = open_weather("demo:mixed-inland").frame.tz_localize(None)
    head = "# latitude: 39.5\n# longitude: -90\n# elevation_m: 200\n# utc_offset_h: -6\n"
    content = (head + frame.to_csv(index_label="time", date_format="%Y-%m-%d %H:%M")).encode()
    store = WeatherStore()
    for name, shown in (
        ("../../<b>roof</b> log.csv", "b log"), ("Roof log 7.csv", "Roof log 7"), ("\x00\x01", "uploaded file"),
    ):  # fmt: skip
        store._held.clear()
        _, weather = store.add(content, name)
        assert weather.location.name == shown


@pytest.mark.parametrize("honest", [True, False], ids=["told", "chunked"])
def test_an_endless_stream_is_cut_at_the_limit(server: Any, honest: bool) -> None:
    host, port = server.address.removeprefix("http://").split(":")
    head = b'--edge\r\nContent-Disposition: form-data; name="file"; filename="x.epw"\r\n\r\n'
    length = f"Content-Length: {GIGABYTE}" if honest else "Transfer-Encoding: chunked"
    piece = b"x" * 65_536
    sent, answer = 0, b""
    with socket.create_connection((host, int(port)), timeout=60) as wire:
        wire.sendall(
            f"POST /api/weather HTTP/1.1\r\nHost: {host}:{port}\r\n{length}\r\n"
            "Content-Type: multipart/form-data; boundary=edge\r\n\r\n".encode()
        )
        try:
            while sent < GIGABYTE:
                body = head if not sent else piece
                wire.sendall(body if honest else b"%x\r\n%s\r\n" % (len(body), body))
                sent += len(body)
                if select.select([wire], [], [], 0)[0]:
                    break
        except OSError:
            # The server has hung up; what it said may still be read.
            pass
        try:
            while block := wire.recv(65_536):
                answer += block
        except OSError:
            pass
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"More than 20 MB were sent" in answer
    # What the sockets between buffer comes on top of the limit.
    assert LARGEST_UPLOAD_BYTES <= sent < 3 * LARGEST_UPLOAD_BYTES
    assert server.post("/api/value", {}).status_code == 200


def test_a_stream_leaves_nothing_behind(server: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    for _ in range(3):
        assert server.send_file(b"x" * (LARGEST_UPLOAD_BYTES + 1)).status_code == 413
    assert list(tmp_path.iterdir()) == []


def test_other_requests_are_smaller(server: Any) -> None:
    body, kind = b" " * (LARGEST_BODY_BYTES + 1), {"content-type": "application/json"}
    answer = server.client.post("/api/value", content=body, headers=kind)
    assert answer.status_code == 413
    assert "More than 0.256 MB" in server.refusal(answer)


def test_no_file_at_all(server: Any) -> None:
    for answer in (
        server.client.post("/api/weather"),
        server.client.post("/api/weather", data={"file": "text"}),
        server.client.post("/api/weather", content=b"--x", headers={"content-type": "multipart/form-data; boundary=x"}),
        server.client.post("/api/weather", content=b"", headers={"content-type": "multipart/form-data"}),
        server.send_file(b"time\n", "a" * 50_000),
        server.send_file(b"time\n", latitude="north"),
        server.send_file(b"time\n", elevation="high"),
    ):
        assert answer.status_code in (400, 422), answer.text[:300]
        assert server.refusal(answer)


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8642", "127.0.0.1.evil.example", "192.168.1.5", "", "[::", "localhost@evil.example"],
)
def test_a_name_that_was_turned_here_is_refused(server: Any, host: str) -> None:
    answer = server.client.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert server.refusal(answer)


@pytest.mark.parametrize("host", ["localhost:1", "127.0.0.1", "[::1]:80", "LOCALHOST"])
def test_the_machine_s_own_names_are_taken(server: Any, host: str) -> None:
    assert server.client.get("/static/icon.svg", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [{"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://localhost:1"},
     {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}],
)  # fmt: skip
def test_another_page_may_not_ask(server: Any, headers: Any) -> None:
    for answer in (
        server.client.post("/api/value", json={}, headers=headers),
        server.client.post("/api/weather", files={"file": ("x", b"x")}, headers=headers),
        server.client.post("/weather", files={"file": ("x", b"x")}, headers=headers),
    ):
        assert answer.status_code == 403
        assert server.refusal(answer)


def test_our_own_page_may_ask_and_a_link_may_lead_here(server: Any) -> None:
    own = {"origin": server.address, "sec-fetch-site": "same-origin", "sec-fetch-mode": "cors"}
    assert server.client.post("/api/value", json={}, headers=own).status_code == 200
    link = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert server.client.get("/pick", headers=link).status_code == 200


def test_an_upload_is_named_by_its_content_and_place(server: Any, pvlib_weather: Callable[[str], Path]) -> None:
    one = pvlib_weather("12839.tm2").read_bytes()
    names = {server.send_file(one, name).json()["weather"] for name in ("a.tm2", "b.txt")}
    assert len(names) == 1
    other = server.send_file(pvlib_weather("703165TY.csv").read_bytes()).json()["weather"]
    assert other not in names


def test_the_store_forgets_by_age_number_and_hours(
    pvlib_weather: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    store = WeatherStore(clock=lambda: now[0])
    content = pvlib_weather("12839.tm2").read_bytes()
    key, weather = store.add(content)
    assert store.open(key) is weather
    now[0] += weather_store.HELD_S - 1
    assert store.open(key) is weather
    now[0] += weather_store.HELD_S - 1
    assert store.open(key) is weather, "use keeps it young"
    now[0] += weather_store.HELD_S + 1
    with pytest.raises(NotHeld, match="choose the file again"):
        store.open(key)
    monkeypatch.setattr(weather_store, "MOST_HELD", 3)
    keys = [store.add(content + b"\n" * count)[0] for count in range(1, 6)]
    held = [key for key in keys if store._find(key) is not None]
    assert held == keys[-3:]
    monkeypatch.setattr(weather_store, "MOST_HOURS_HELD", 10_000)
    store.add(content + b"\n" * 7)
    assert len(store._held) == 1


def test_what_the_store_reads_is_what_the_reader_reads(pvlib_weather: Callable[[str], Path]) -> None:
    path = pvlib_weather("723170TYA.CSV")
    _, held = WeatherStore().add(path.read_bytes(), path.name)
    read = open_weather(path)
    assert held.frame.equals(read.frame)
    assert held.location == read.location
    with pytest.raises(WeatherError, match="states its own place"):
        WeatherStore().add(path.read_bytes(), path.name, latitude=1.0)
