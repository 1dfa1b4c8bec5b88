"""One server on one data folder.

The hold is a lock of the operating system on a file in the folder: it ends with the process
however that ends, so a kill leaves nothing behind that stops the next start.
"""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from server.settings import Refusal

LOCK_FILE = "midlimit.lock"


class FolderHeld(Refusal):
    """Another process serves, restores or imports on this data folder."""


class Hold:
    """Held from the moment it is made until it is let go or the process ends.

    Raises FolderHeld where another process holds the folder, or it can't be written.
    """

    def __init__(self, data_dir: Path) -> None:
        try:
            data_dir.mkdir(parents=True, exist_ok=True)
            self._file = (data_dir / LOCK_FILE).open("a+")
        except OSError as error:
            raise FolderHeld(
                f"The data folder can't be written ({error.strerror}). Choose another with "
                "--data-dir."
            ) from error
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            self._file.seek(0)
            process = self._file.read(20).strip()
            self._file.close()
            who = f"process {process}" if process.isdigit() else "another process"
            raise FolderHeld(
                f"Midlimit is running on {data_dir} already ({who}). Stop that one first, or "
                "choose another folder with --data-dir."
            ) from error
        self._file.truncate(0)
        self._file.write(str(os.getpid()))
        self._file.flush()

    def let_go(self) -> None:
        self._file.close()

    def __enter__(self) -> Hold:
        return self

    def __exit__(self, *_: object) -> None:
        self.let_go()
