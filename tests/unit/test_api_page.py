"""The API describes itself, for programs and for people, and nothing on its page comes from elsewhere."""

from __future__ import annotations

import re

from django.test import Client
from drf_spectacular.generators import SchemaGenerator

from studio.config.api_page import operations


def test_the_document_is_openapi_3_1_and_keeps_its_rules(client: Client) -> None:
    from drf_spectacular.validation import validate_schema  # loads grammars for a second

    answer = client.get("/api/schema/")
    assert answer.status_code == 200
    document = answer.json()
    assert document["openapi"].startswith("3.1")
    validate_schema(document)


def test_every_operation_is_on_the_page_with_what_it_is_for(client: Client) -> None:
    page = client.get("/api/").content.decode()
    listed = operations(SchemaGenerator().get_schema(request=None, public=True))
    assert {operation.path.split("/")[2] for operation in listed} >= {"takes", "horns"}
    for operation in listed:
        assert operation.meaning, f"{operation.method} {operation.path} does not say what it is for"
        assert operation.path in page


def test_the_page_loads_nothing_from_other_places(client: Client) -> None:
    page = client.get("/api/").content.decode()
    assert re.findall(r"(?:src|href|action)=[\"']?(?:https?:)?//", page) == []
