"""The bill of materials of a release: ``python -m tests.bill FILE``, as CycloneDX JSON.

Every package that Footing runs on, in the version and with the hashes of ``requirements.lock``. Status 1, and nothing
is written, when the lock pins something without a hash or the bill does not keep to CycloneDX's own schema.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packageurl import PackageURL

LOCK = Path(__file__).resolve().parents[1] / "requirements.lock"
PIN = re.compile(r"^(?P<name>[\w.-]+)==(?P<version>[\w.]+)(?P<more>.*)$")


def locked(text: str) -> dict[tuple[str, str], list[str]]:
    """The sha256 of every file that is allowed, by name and version of its package."""
    found: dict[tuple[str, str], list[str]] = {}
    for line in text.replace("\\\n", " ").splitlines():
        if pin := PIN.match(line):
            found[pin["name"], pin["version"]] = re.findall(r"--hash=sha256:([0-9a-f]{64})", pin["more"])
    return found


def bill(pins: dict[tuple[str, str], list[str]]) -> str:
    """Raises ValueError for a pin without a hash, and where the bill breaks the schema."""
    bom = Bom()
    bom.metadata.component = root = Component(name="footing", type=ComponentType.APPLICATION, bom_ref="footing")
    parts = [_component(name, version, hashes) for (name, version), hashes in sorted(pins.items())]
    bom.components.update(parts)
    bom.register_dependency(root, parts)
    text = JsonV1Dot6(bom).output_as_string(indent=2)
    if wrong := JsonStrictValidator(SchemaVersion.V1_6).validate_str(text):
        raise ValueError(f"the bill breaks CycloneDX's schema: {wrong}")
    return text


def _component(name: str, version: str, hashes: list[str]) -> Component:
    if not hashes:
        raise ValueError(f"{name} {version} has no hash in {LOCK.name}")
    where = PackageURL("pypi", name=name, version=version)
    sums = [HashType(alg=HashAlgorithm.SHA_256, content=one) for one in hashes]
    return Component(name=name, version=version, purl=where, bom_ref=str(where), hashes=sums)


def main() -> int:
    parser = argparse.ArgumentParser(description="Every package that Footing runs on, as CycloneDX JSON.")
    parser.add_argument("file", type=Path)
    file: Path = parser.parse_args().file
    pins = locked(LOCK.read_text())
    try:
        text = bill(pins)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return 1
    file.write_text(text)
    print(f"{len(pins)} packages, {sum(map(len, pins.values()))} files: {file}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
