"""Build the image, start the site of compose.yaml on it, let a take be measured, and say how it went.

python -m tests.image                      on the official images
python -m tests.image --base debootstrap   on Debian's packages, where no registry can be asked (kept in var/)
python -m tests.image --base FILE.tar      the same on a Debian 12 with Python and pip that is there already

Podman does it, with a store of its own; it needs root. Status 0: all of it worked. 75 (EX_TEMPFAIL): something that
it needs cannot be had here; then nothing is known, and what is missing is said.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.audit import NOT_KNOWN
from tests.image import images
from tests.image.podman import NEEDED, NotHereError, Podman, look_for
from tests.image.site import Site, services
from tests.image.visitor import recording

USER_ID = "10001"
LONG = 80  # tones in the take during which the worker is stopped: nine minutes


def say(words: str) -> None:
    print(words, flush=True)


def try_out(site: Site, folder: Path) -> None:
    say(f"ready in every part after {site.start():.0f} s")
    assert site.inside("web", "id", "-u") == USER_ID
    assert site.inside("web", "sh", "-c", "cat /etc/pip.conf 2>&- || true") == ""
    site.wait_until_healthy("web")
    people = site.inside("web", "python", "manage.py", "demo_studio")
    name, password = next(line.split()[:2] for line in people.splitlines() if "student, alto" in line)
    player = site.visitor()
    player.sign_in(name, password)
    work = player.work()
    one, rest = work["tones"][:1], work["tones"][1:]
    heard = player.heard(player.send(work, one, recording(one, folder)))
    say(f"signed in, a take sent, measured and settled: {', '.join(heard)}")
    take = player.send(work, rest, recording(rest, folder, LONG))
    with site.worker_stopped_in_mid_take() as took_s:
        say(f"the worker, told to stop in mid-take, finished it and ended after {took_s:.1f} s")
        waiting = player.send(work, one, recording(one, folder))
        assert site.told("footing_queue_length") == 1
    player.heard(take)
    player.heard(waiting)
    claims, lost = site.told("footing_claims"), site.told("footing_claims_lost")
    assert (claims, lost) == (3, 0)
    say("started again, it took the take that had come meanwhile: 3 takes, each taken in hand once")
    made = site.inside("backup", "python", "manage.py", "backup", "/backups").splitlines()[0]
    assert " 3 recordings" in made
    say(f"a backup: {made}")
    for service in ("sweeper", "web", "worker"):
        say(f"{service} stopped after {site.stop(service):.1f} s")


def main() -> int:
    parser = argparse.ArgumentParser(description="Builds the image and tries the site of compose.yaml on it.")
    parser.add_argument("--base", default=images.REGISTRY, metavar=f"{images.REGISTRY}|{images.DEBOOTSTRAP}|FILE.tar")
    base: str = parser.parse_args().base
    try:
        look_for(NEEDED)
        with tempfile.TemporaryDirectory(prefix="footing-image-") as name:
            folder = Path(name)
            podman = Podman(folder)
            with podman.answering():
                site = Site(podman)
                images.fetch(podman, base, services())
                say(f"built after {images.build(podman, services()['web'], folder):.0f} s, on {base}")
                try_out(site, folder)
    except NotHereError as missing:
        say(f"Not tried: {missing}")
        return NOT_KNOWN
    say("the image is built and works")
    return 0


if __name__ == "__main__":
    sys.exit(main())
