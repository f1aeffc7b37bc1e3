"""The API's description as a page for people: drawn here from the schema, nothing loaded from elsewhere."""

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from django.views.generic import TemplateView
from drf_spectacular.generators import SchemaGenerator

METHODS = ("get", "post", "put", "patch", "delete")
Schema = dict[str, Any]  # a part of an OpenAPI document


@dataclass(frozen=True, slots=True)
class Field:
    """One named value that is sent or answered, and what it holds."""

    name: str
    kind: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing a client can ask: how, where and what for; what it sends, and what comes back."""

    method: str
    path: str
    meaning: str
    in_address: tuple[Field, ...]
    in_body: tuple[Field, ...]
    answered: tuple[Field, ...]  # of the first answer that is a success
    answers: tuple[str, ...]  # "200 OK"


def operations(document: Schema) -> list[Operation]:
    """The operations of an OpenAPI document, in the document's order."""
    return [
        _operation(document, method, path, asked)
        for path, item in document["paths"].items()
        for method, asked in item.items()
        if method in METHODS
    ]


def _operation(document: Schema, method: str, path: str, asked: Schema) -> Operation:
    answers = asked["responses"]
    success: Schema = next((answer for status, answer in answers.items() if status.startswith("2")), {})
    return Operation(
        method=method.upper(),
        path=path,
        meaning=asked.get("description", ""),
        in_address=tuple(
            Field(one["name"], _kind(document, one["schema"]), one.get("description", ""))
            for one in asked.get("parameters", ())
        ),
        in_body=_fields(document, asked.get("requestBody", {})),
        answered=_fields(document, success),
        answers=tuple(f"{status} {HTTPStatus(int(status)).phrase}" for status in answers),
    )


def _fields(document: Schema, body: Schema) -> tuple[Field, ...]:
    """The values inside a body, of its first media type; of a list, those of one entry."""
    media: Schema = next(iter(body.get("content", {}).values()), {})
    schema: Schema = media.get("schema", {})
    schema = _resolved(document, _resolved(document, schema).get("items", schema))
    return tuple(
        Field(name, _kind(document, value), value.get("description", ""))
        for name, value in schema.get("properties", {}).items()
    )


def _resolved(document: Schema, schema: Schema) -> Schema:
    """What ``schema`` names, if it only names it."""
    name = schema.get("$ref", "").rpartition("/")[2]
    return document["components"]["schemas"][name] if name else schema


def _kind(document: Schema, schema: Schema) -> str:
    schema = _resolved(document, schema)
    kind = schema.get("format") or schema.get("type", "")
    words = " or ".join(kind) if isinstance(kind, list) else str(kind)
    return f"list of {_kind(document, schema['items'])}" if "items" in schema else words


class ApiPage(TemplateView):
    template_name = "studio/api.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        document = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
        return super().get_context_data(info=document["info"], operations=operations(document), **kwargs)
