"""Where recordings are kept on this machine: a file that was confirmed is on the disk, whole, or not there at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from django.core.files import File
from django.core.files.storage import FileSystemStorage
from django.utils.deconstruct import deconstructible


@deconstructible(path="analysis.storage.DurableStorage")
class DurableStorage(FileSystemStorage):
    """Writes under a temporary name, flushes file and folder to the disk, then gives it its name in one step.

    Django's own storage flushes nothing, and leaves half a file behind on a full disk.
    """

    def _save(self, name: str, content: File[bytes]) -> str:
        """
        :raises OSError: the disk is full or failing; nothing is left behind.
        """
        folder = Path(self.path(name)).parent
        folder.mkdir(mode=self.directory_permissions_mode or 0o700, parents=True, exist_ok=True)
        descriptor, draft = tempfile.mkstemp(prefix=".draft-", dir=folder)  # mode 0600
        try:
            with os.fdopen(descriptor, "wb") as file:
                for chunk in content.chunks():
                    file.write(chunk)
                file.flush()
                os.fsync(file.fileno())
            name = self._link(draft, name)
        finally:
            os.unlink(draft)
        flush(folder)
        return name

    def _link(self, draft: str, name: str) -> str:
        """Give the draft its name, or a free one beside it: a file that is there is never replaced."""
        while True:
            try:
                os.link(draft, self.path(name))
                return name
            except FileExistsError:
                name = self.get_available_name(name)

    def url(self, name: str | None) -> str:
        raise NotImplementedError("Recordings have no address of their own: a view serves them to those who may hear.")


def flush(path: Path) -> None:
    """Put a file or a folder's list of names on the disk: a power cut leaves it as it is now."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
