"""The images: the official ones or what stands in for them, and ours, built from Containerfile."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from tests.__main__ import ROOT
from tests.image.podman import NotHereError, Podman, look_for

HERE = Path(__file__).parent
REGISTRY, DEBOOTSTRAP = "registry", "debootstrap"
KEPT = ROOT / "var" / "debian.tar"  # what debootstrap made
SUITE = "bookworm"
PACKAGES = ("python3", "python3-pip", "python-is-python3", "ca-certificates")


def official(services: dict[str, Any]) -> dict[str, str]:
    """The images that come from elsewhere, by what they are."""
    (python,) = re.findall(r"^FROM (\S+)", (ROOT / "Containerfile").read_text(), re.MULTILINE)
    return {"python": python, **{name: services[name]["image"] for name in ("database", "broker")}}


def fetch(podman: Podman, base: str, services: dict[str, Any]) -> None:
    """Have them all in the store, under the names by which Containerfile and compose.yaml ask for them."""
    if base != REGISTRY:
        stand_in(podman, made_by_debootstrap() if base == DEBOOTSTRAP else Path(base), official(services))
        return
    for name in official(services).values():
        pulled = podman.try_to("pull", "--quiet", name)
        if pulled.returncode:
            reason = (pulled.stderr.strip().splitlines() or [""])[-1]
            raise NotHereError(f"{name} cannot be had. --base {DEBOOTSTRAP} makes one of Debian's packages. {reason}")


def made_by_debootstrap() -> Path:
    if KEPT.exists():
        return KEPT
    look_for({"debootstrap": "makes the base image"})
    KEPT.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="footing-debian-") as name:
        folder = f"{name}/debian"  # which everybody may pass, as not the one around it
        made = ["debootstrap", "--variant=minbase", f"--include={','.join(PACKAGES)}", SUITE, folder]
        done = subprocess.run(made, capture_output=True, text=True, check=False)
        if done.returncode:
            raise NotHereError(f"debootstrap made no base image: {done.stdout[-500:]}{done.stderr[-500:]}")
        part = KEPT.with_suffix(".part")
        subprocess.run(["tar", "--create", f"--file={part}", f"--directory={folder}", "."], check=True)
        part.rename(KEPT)
    return KEPT


def stand_in(podman: Podman, debian: Path, names: dict[str, str]) -> None:
    if not debian.exists():
        raise NotHereError(f"{debian} is not there")
    podman.do("import", str(debian), "localhost/debian")
    for target, name in names.items():
        command = ("build", "--network=host", f"--target={target}", f"--tag={name}", f"--file={HERE / 'standins'}")
        podman.do(*command, str(HERE))


def build(podman: Podman, service: dict[str, Any], folder: Path) -> float:
    """Our own, with the network and pip's settings of this machine, of which nothing stays in it. Seconds."""
    begun = time.monotonic()
    of_pip = folder / "pip.conf"
    settings = pip_settings()
    of_pip.write_text("[global]\n" + "".join(f"{name} = {value}\n" for name, value in settings.items()))
    volumes = [f"--volume={of_pip}:/etc/pip.conf:ro", *(f"--volume={one}:{one}:ro" for one in named_in(settings))]
    where = service["build"]
    command = ("build", "--network=host", "--pull=never", *volumes, f"--file={where['dockerfile']}")
    podman.do(*command, f"--tag={service['image']}", where["context"])
    return time.monotonic() - begun


def pip_settings() -> dict[str, str]:
    """As pip has them here, from its files and the environment, which goes before the files."""
    listed = subprocess.run([sys.executable, "-m", "pip", "config", "list"], capture_output=True, text=True, check=True)
    found = [line.partition("=") for line in listed.stdout.splitlines()]
    found.sort(key=lambda one: one[0].startswith(":env:"))
    return {name.rpartition(".")[2]: " ".join(ast.literal_eval(value).split()) for name, _is, value in found}


def named_in(settings: dict[str, str]) -> list[Path]:
    """Files and folders of this machine that they speak of."""
    words = [word for value in settings.values() for word in value.split()]
    indexes = {Path(urlsplit(word).path).parent for word in words if word.startswith("file:///")}  # files lie beside
    paths = indexes | {Path(word) for word in words if word.startswith("/")}
    return sorted(path for path in paths if path.exists() and path != Path("/"))
