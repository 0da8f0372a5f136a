"""One lock for each place that is written: a file beside it, made where none stands, that says who writes there and since when."""

from __future__ import annotations

import json
import os
import platform
import random
import secrets
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path

from facade.errors import FileError
from facade.processes import undisturbed

# How long one who builds waits for another, s: a wall with all its paper takes a few minutes.
PATIENCE = 300.0
# A lock that cannot be read is one that is being written at this moment, unless it is older than this, s.
_UNREAD = 10.0
_TRIES = 100
# What stands in place of a holder whose lock may not be read: another user's.
_CLOSED = "closed"
Told = Callable[[str], None]


@dataclass(frozen=True)
class Holder:
    """Who holds a lock: its process, when that was started as the system tells it, the machine, and since when, s of the clock."""

    pid: int
    born: str
    host: str
    system: str
    since: float = field(default_factory=time.time)
    token: str = field(default_factory=lambda: secrets.token_hex(4))

    @property
    def age(self) -> str:
        """For how long it has held the lock, in words."""
        seconds = max(0, round(time.time() - self.since))
        return f"{seconds} s" if seconds < 120 else f"{seconds // 60} min"

    @property
    def words(self) -> str:
        """Who it is, and for how long."""
        who = f"process {self.pid}" if self.pid else "another user's process"
        return f"{who}{'' if self.host == platform.node() else f' on {self.host}'}, for {self.age} by now"

    @property
    def gone(self) -> bool:
        """Whether it has ended without giving the lock back; of another machine that cannot be known."""
        if not self.system:
            return time.time() - self.since > _UNREAD
        if self.system != system_of_processes():
            return False
        if self.pid == os.getpid():
            return self.token not in _held
        born = process_born(self.pid)
        return born is None or bool(born and self.born and born != self.born)


_held: set[str] = set()


@contextmanager
def held(lock: Path, place: Path, *, patience: float = PATIENCE, waiting: Told | None = None) -> Iterator[None]:
    """Hold the lock file of a place; `waiting` is told who is waited for.

    A lock whose process has ended is taken over. Raises FileError when it is still held after `patience` seconds, OSError where no
    file can be made.
    """
    mine = Holder(os.getpid(), process_born(os.getpid()) or "", platform.node(), system_of_processes())
    _held.add(mine.token)
    try:
        _wait(lock, place, mine, patience, waiting)
        yield
    finally:
        with undisturbed():
            _give_back(lock, mine)
        _held.discard(mine.token)


def _wait(lock: Path, place: Path, mine: Holder, patience: float, waiting: Told | None) -> None:
    end, told, pause = time.monotonic() + patience, "", 0.02
    while (other := _tried(lock, mine)) is not None:
        said = f"{place} is being written by {other.words}"
        if time.monotonic() >= end:
            raise FileError(f"{said}: wait until it has ended; if nothing builds there any more, delete {lock}")
        if waiting and told != other.token:
            waiting(f"{said}: waiting until it is done, {patience / 60:.0f} min at most")
            told = other.token
        time.sleep(pause * random.uniform(0.5, 1.0))
        pause = min(2 * pause, 0.25)


def _tried(lock: Path, mine: Holder) -> Holder | None:
    with undisturbed():
        return _taken(lock, mine)


def _taken(lock: Path, mine: Holder) -> Holder | None:
    """Take a lock and return None, or return who holds it."""
    other = _written_or_other(lock, mine)
    if other is None or not other.gone:
        return other
    # Who may take the place of one that is gone is settled by a lock of its own, named after that one, which then becomes the lock:
    # else two who find it at the same time could each take away what the other has just put there.
    claim = lock.with_name(f"{lock.name}-{other.token}")
    rival = _taken(claim, mine)
    if rival is not None:
        return rival
    now = _read(lock)
    if now is not None and now.token == other.token:
        with suppress(PermissionError):
            os.replace(claim, lock)
            return None
    claim.unlink(missing_ok=True)
    return now or other


def _written_or_other(lock: Path, mine: Holder) -> Holder | None:
    for _ in range(_TRIES):
        try:
            _write_new(lock, mine)
            return None
        except FileExistsError:
            other = _read(lock)
            if other is not None:
                return other
        except FileNotFoundError:
            # Whoever made the folder above, and had nothing to put there, has just taken it away.
            lock.parent.mkdir(parents=True, exist_ok=True)
        except PermissionError:
            # Windows says so of a file that is just going away.
            if os.name != "nt":
                raise
            time.sleep(0.02)
    raise FileError(f"{lock} can neither be read nor made: move it away")


def _write_new(lock: Path, mine: Holder) -> None:
    """Make a lock file; raises FileExistsError where one stands, and leaves none when it cannot be filled."""
    descriptor = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666)
    try:
        os.write(descriptor, json.dumps(asdict(mine)).encode("utf-8"))
    except OSError:
        os.close(descriptor)
        lock.unlink(missing_ok=True)
        raise
    os.close(descriptor)


def _read(lock: Path) -> Holder | None:
    """Return who holds a lock, None where there is none; what cannot be read holds it for a while."""
    try:
        stat = lock.stat()
        return Holder(**json.loads(lock.read_text("utf-8")))
    except FileNotFoundError:
        return None
    except PermissionError:
        return Holder(0, "", platform.node(), _CLOSED, token=_CLOSED)
    except (OSError, ValueError, TypeError):
        return Holder(0, "", platform.node(), "", stat.st_mtime, f"unread{stat.st_mtime_ns}")


def _give_back(lock: Path, mine: Holder) -> None:
    for _ in range(20):
        now = _read(lock)
        if now is None or now.token not in (mine.token, _CLOSED):
            return
        # Windows takes no file away while another looks at it.
        with suppress(PermissionError):
            if now.token == mine.token:
                lock.unlink(missing_ok=True)
                return
        time.sleep(0.05)


@cache
def system_of_processes() -> str:
    """Return what tells this machine, and the numbers of its processes, from another: containers count their own."""
    with suppress(OSError):
        return f"{platform.node()} {os.readlink('/proc/self/ns/pid')}"
    return platform.node()


def process_born(pid: int) -> str | None:
    """Return when a process was started, as its system tells it: "" where it does not, None where there is no such process."""
    if sys.platform == "win32":
        return _born_on_windows(pid)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return None
    except (PermissionError, OverflowError):
        pass
    try:
        state, *fields = Path(f"/proc/{pid}/stat").read_text("utf-8", "replace").rpartition(")")[2].split()
        boot = Path("/proc/sys/kernel/random/boot_id").read_text("utf-8")[:8]
    except (OSError, ValueError):
        return _born_by_ps(pid)
    # Field 22 of proc(5); one that has ended and is not yet waited for writes nothing any more.
    return None if state in "ZX" else f"{boot} {fields[18]}"


def _born_by_ps(pid: int) -> str:
    with suppress(OSError, subprocess.SubprocessError):
        asked = ["ps", "-o", "lstart=", "-p", str(pid)]
        return subprocess.run(
            asked, capture_output=True, text=True, timeout=5, check=False, env={"LC_ALL": "C"}
        ).stdout.strip()
    return ""


def _born_on_windows(pid: int) -> str | None:
    """Return the moment of creation that GetProcessTimes tells, None for a process that has ended or is not there."""
    if sys.platform != "win32":
        raise OSError("Windows alone can tell")
    import ctypes

    kernel = ctypes.WinDLL("kernel32", use_last_error=True)
    kernel.OpenProcess.restype = ctypes.c_void_p
    kernel.GetProcessTimes.argtypes = [ctypes.c_void_p, *[ctypes.POINTER(ctypes.c_uint64)] * 4]
    kernel.GetExitCodeProcess.argtypes = [ctypes.c_void_p, ctypes.POINTER(ctypes.c_uint32)]
    kernel.CloseHandle.argtypes = [ctypes.c_void_p]
    limited_information, access_denied, still_active = 0x1000, 5, 259
    process = kernel.OpenProcess(limited_information, False, pid)
    if not process:
        return "" if ctypes.get_last_error() == access_denied else None
    times, code = [ctypes.c_uint64() for _ in range(4)], ctypes.c_uint32(still_active)
    told = kernel.GetProcessTimes(process, *map(ctypes.byref, times))
    kernel.GetExitCodeProcess(process, ctypes.byref(code))
    kernel.CloseHandle(process)
    if code.value != still_active:
        return None
    return str(times[0].value) if told else ""
