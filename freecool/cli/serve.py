"""``freecool serve``: the page and the JSON interface on this machine."""

from __future__ import annotations

import gc
import socket
from typing import Annotated

from freecool.cli.output import say
from freecool.cli.request import option
from freecool.core.errors import FreecoolError

LOOPBACK_HOST = "127.0.0.1"
EVERY_ADDRESS = ("0.0.0.0", "::")
# Documentation addresses, RFC 5737 and RFC 3849: which of its own addresses this machine would use to reach others.
ELSEWHERE = {socket.AF_INET: "192.0.2.1", socket.AF_INET6: "2001:db8::1"}
EXTRA = ("fastapi", "starlette", "uvicorn", "python_multipart")


def serve(
    host: Annotated[str, option("Address to answer at; other than loopback, others in your network may use it.")] = (
        LOOPBACK_HOST
    ),
    port: Annotated[int, option("Port to answer at; 0 takes any free one.", min=0, max=65535)] = 8642,
    demo: Annotated[bool, option("Start with an invented climate.", "--demo")] = False,
    no_browser: Annotated[bool, option("Do not open a browser.", "--no-browser")] = False,
) -> None:
    """The page: value, pick and compare in a browser on this machine, and a JSON interface."""
    # Answers leave garbage behind that a short command need not collect.
    gc.enable()
    try:
        import python_multipart  # noqa: F401
        import uvicorn  # noqa: F401

        from freecool.web.app import create_app
        from freecool.web.connections import server_of
        from freecool.web.security import LOOPBACK
        from freecool.web.services import AnswerService
    except ModuleNotFoundError as error:
        if error.name not in EXTRA:
            raise
        raise FreecoolError(
            f"freecool serve needs the package {error.name}, which is not installed: pip install 'freecool[web]', or "
            "pip install '.[web]' in a copy of the sources."
        ) from None
    import webbrowser

    try:
        if not host.strip():
            raise FreecoolError("--host is empty, which would be every address: name one, such as 127.0.0.1.")
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.create_server((host, port), family=family, backlog=1024)
    except (OSError, TypeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise FreecoolError(
            f"{host}:{port} cannot be listened at ({reason}): choose another --port, or --port 0."
        ) from None
    local = host in LOOPBACK
    _warm_up()
    # What is loaded by now stays for good: later collections need not look through it.
    gc.collect()
    gc.freeze()
    reached = _reached_at(family) if host in EVERY_ADDRESS else host
    name = f"[{reached}]" if ":" in reached else reached
    address = f"http://{name}:{listening.getsockname()[1]}/"
    say(f"Freecool answers at {address} until Ctrl-C.")
    if not local:
        say(
            f"It listens at {host}: whoever reaches this machine may use the page and see what is asked, without "
            "password or encryption. Leave --host out to keep it to this machine."
        )
    if not no_browser:
        webbrowser.open(address)
    service = AnswerService()
    app = create_app(service, hosts=LOOPBACK if local else None, demo=demo)
    try:
        server_of(app, service.stop).run(sockets=[listening])
    except KeyboardInterrupt:
        # The way it is stopped.
        say("Stopped.")


def _reached_at(family: socket.AddressFamily) -> str:
    """The address of this machine that other devices of its network open; no packet is sent to find it."""
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((ELSEWHERE[family], 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _warm_up() -> None:
    """Load and compile what the first answer needs, before anyone waits for it."""
    from pathlib import Path

    from freecool.answers.estimate import estimate
    from freecool.cases.model import make_case
    from freecool.core.compiled import cache_folder
    from freecool.show.html import report_page
    from freecool.weather import open_weather

    if not any(Path(cache_folder()).rglob("*run_year*.nbi")):
        say("First run: compiling the year loop, under a minute; later runs start at once.", err=True)
    report_page(estimate(make_case(), open_weather()), "ip")
