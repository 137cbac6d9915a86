"""Commands that share options: a dataclass names them once."""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from typing import Any, get_type_hints


def with_fields(kind: type[Any]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Makes commands that take the fields of a dataclass, handed on as one, and then their own options."""
    hints = get_type_hints(kind, include_extras=True)
    fields = dataclasses.fields(kind)
    shared = [
        inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=inspect.Parameter.empty if field.default is dataclasses.MISSING else field.default,
            annotation=hints[field.name],
        )
        for field in fields
    ]

    def made(function: Callable[..., None]) -> Callable[..., None]:
        def command(**given: Any) -> None:
            request = kind(**{field.name: given.pop(field.name) for field in fields})
            function(request, **given)

        own = list(inspect.signature(function, eval_str=True).parameters.values())[1:]
        parameters = [*shared, *(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY) for parameter in own)]
        command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
        command.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
        command.__doc__, command.__name__ = function.__doc__, function.__name__
        return command

    return made
