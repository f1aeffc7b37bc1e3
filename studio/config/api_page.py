"""The API's description as a page for people: drawn here from the schema, nothing loaded from elsewhere."""

from dataclasses import dataclass
from typing import Any

from django.views.generic import TemplateView
from drf_spectacular.generators import SchemaGenerator

METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing a client can ask: how, where, what for, with which parameters, and what comes back."""

    method: str
    path: str
    summary: str
    parameters: tuple[tuple[str, str, str], ...]  # name, where it stands, what it means
    answers: tuple[tuple[str, str], ...]  # status, meaning


def operations(schema: dict[str, Any]) -> list[Operation]:
    """The operations of an OpenAPI document, in the document's order."""
    return [
        Operation(
            method.upper(),
            path,
            asked.get("description") or asked.get("summary", ""),
            tuple((p["name"], p["in"], p.get("description", "")) for p in asked.get("parameters", ())),
            tuple((status, answer.get("description", "")) for status, answer in asked["responses"].items()),
        )
        for path, item in schema["paths"].items()
        for method, asked in item.items()
        if method in METHODS
    ]


class ApiPage(TemplateView):
    template_name = "studio/api.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        schema = SchemaGenerator().get_schema(request=None, public=True)
        return super().get_context_data(info=schema["info"], operations=operations(schema), **kwargs)
