"""A recording as phones send it: a form of several parts."""

from __future__ import annotations

import uuid
from collections.abc import Mapping


def form(fields: Mapping[str, object], audio: bytes) -> tuple[bytes, str]:
    """The body, and its content type."""
    mark = uuid.uuid4().hex
    parts = [
        f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in fields.items()
    ]
    head = (
        f'--{mark}\r\nContent-Disposition: form-data; name="audio"; filename="take"\r\nContent-Type: audio/webm\r\n\r\n'
    )
    body = "".join([*parts, head]).encode() + audio + f"\r\n--{mark}--\r\n".encode()
    return body, f"multipart/form-data; boundary={mark}"
