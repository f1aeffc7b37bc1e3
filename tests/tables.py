"""Tables for the contributor guide: printed as Markdown, or laid between two marks in DEVELOPERS.md."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

GUIDE = Path(__file__).resolve().parents[1] / "DEVELOPERS.md"


def markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines) + "\n"


def lay_into_guide(name: str, table: str, guide: Path = GUIDE) -> None:
    """Replaces what stands between ``<!-- name: … -->`` and ``<!-- end of name -->``; ``ValueError`` without them."""
    text = guide.read_text(encoding="utf-8")
    first, end = text.find(f"<!-- {name}:"), text.find(f"<!-- end of {name} -->")
    if first < 0 or end < first:
        raise ValueError(f"{guide.name} has no lines <!-- {name}: … --> and <!-- end of {name} -->: write them first.")
    start = text.index("-->", first) + len("-->")
    guide.write_text(f"{text[:start]}\n\n{table}\n{text[end:]}", encoding="utf-8")
