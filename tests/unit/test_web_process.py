"""One web process: whom it shares its port with, and how many lines it holds open."""

from __future__ import annotations

import subprocess
import sys

import pytest

from studio.config import web
from tests.faults.serving import free_port

LOCALHOST = "127.0.0.1"
HOLDS = """
import resource
resource.setrlimit(resource.RLIMIT_NOFILE, ({soft}, {hard}))
from studio.config import web
print(web.room_for_lines(), resource.getrlimit(resource.RLIMIT_NOFILE)[0])
"""


def test_a_process_that_is_meant_to_be_alone_shares_its_port_with_none(settings):
    settings.WEB_PROCESSES = 1
    port = free_port()
    with web.open_door(LOCALHOST, port), pytest.raises(OSError, match="in use"):
        web.open_door(LOCALHOST, port)


def test_several_share_the_port(settings):
    settings.WEB_PROCESSES = 2
    port = free_port()
    with web.open_door(LOCALHOST, port), web.open_door(LOCALHOST, port):
        pass


@pytest.mark.parametrize(
    ("soft", "hard", "lines", "files"),
    [
        (1024, 4096, web.LINES, 2 * web.LINES + web.OTHER_FILES),
        (1024, 1024, (1024 - web.OTHER_FILES) // 2, 1024),
        (4096, 4096, web.LINES, 4096),
    ],
    ids=["raised", "not to be raised", "enough"],
)
def test_no_more_lines_are_open_than_there_are_files_for(soft: int, hard: int, lines: int, files: int):
    code = HOLDS.format(soft=soft, hard=hard)
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == [str(lines), str(files)]
