"""The description of the JSON interface holds: generated requests, right and wrong, get what it promises."""

from __future__ import annotations

from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import CHECKS, load_all_checks
from stress import LONG, amount

from freecool.web.app import create_app
from freecool.web.services import AnswerService

load_all_checks()


APP = create_app(AnswerService(), hosts=None)
schema = schemathesis.openapi.from_asgi("/api/openapi.json", APP)
# Some three thousand requests, made as tests are listed.
schema.config.phases.coverage.enabled = LONG
# A number where a text is described is read as that text, on purpose: `units` says what it means.
EXACT = [
    check for name in (
        "not_a_server_error", "status_code_conformance", "content_type_conformance", "response_schema_conformance",
        "response_headers_conformance", "unsupported_method", "missing_required_header",
    ) for check in CHECKS.get_by_names([name])
]  # fmt: skip


@schema.parametrize()
@settings(
    max_examples=amount(3, 15),
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],
)
def test_every_request_gets_what_is_described(case: Any, station_server: Any) -> None:
    # The station list comes from the loopback server.
    # Few errors are drawn: the interface is tested here, not the numbers.
    draws = case.body.get("draws", 100) if isinstance(case.body, dict) else None
    if case.path in ("/api/pick", "/api/compare") and type(draws) is int and 0 <= draws <= 500:
        case.body["draws"] = draws % 2
    case.call_and_validate(checks=EXACT, timeout=300)


def test_every_operation_is_described() -> None:
    paths = APP._app.openapi()["paths"]  # type: ignore[attr-defined]
    assert {path: sorted(told) for path, told in paths.items()} == {
        "/api/value": ["post"],
        "/api/pick": ["post"],
        "/api/compare": ["post"],
        "/api/weather": ["post"],
        "/api/stations": ["get"],
        "/api/places": ["get"],
        "/api/sheet-check": ["post"],
    }
    for told in paths.values():
        for operation in told.values():
            refused = [code for code in operation["responses"] if code.startswith(("4", "5"))]
            assert {"400", "403", "413", "422", "429"} <= set(refused)
            for code in refused:
                content = operation["responses"][code]["content"]["application/json"]
                assert content["schema"] == {"$ref": "#/components/schemas/Refusal"}
