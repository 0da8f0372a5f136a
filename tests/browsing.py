"""A browser on the live page: Debian's Chromium, or whatever Chromium is installed, drawing without a graphics card."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
ARGUMENTS = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox"]


class Served:
    """The program itself, serving a folder's page; it can be killed and started again at the same port."""

    def __init__(self, job: Path, port: int = 0) -> None:
        self.job = job
        self.process = self._start(port)
        line = self.process.stdout.readline()  # type: ignore[union-attr]
        found = re.search(r"http://127\.0\.0\.1:(\d+)/[\w-]+/", line)
        assert found, line
        self.url, self.port = found[0], int(found[1])

    def _start(self, port: int) -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "facade", "open", str(self.job), "--no-browser", "--port", str(port)]
        own = {**os.environ, "XDG_CONFIG_HOME": f"{self.job.parent}-settings"}
        return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=own)

    def stop(self) -> None:
        """Kill it at once."""
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()  # type: ignore[union-attr]

    def again(self) -> None:
        """Start it again where it was."""
        self.process = self._start(self.port)
        self.process.stdout.readline()  # type: ignore[union-attr]
