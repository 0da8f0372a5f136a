"""Names of job files: a folder gets the same name, on whatever system it lands."""

from __future__ import annotations

from facade.errors import FileError, shortened

# What Windows keeps for devices, whatever ending follows ("Naming Files, Paths, and Namespaces" in the Win32 documentation; from memory).
_DEVICES = {"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"}
_DEVICES |= {f"{port}{number}" for port in ("COM", "LPT") for number in "0123456789\u00b9\u00b2\u00b3"}
_EXAMPLE = "call it hall-cabinet.toml, for example"


def refuse_name(name: str) -> None:
    """Raise FileError for the name of a job file, without its ending, that not every system can hold for a folder."""
    if not name.isprintable() or any(0xD800 <= ord(letter) <= 0xDFFF for letter in name):
        raise FileError(f"the job file's name must be plain text: {_EXAMPLE}")
    if name.strip(". ") == "" or name.lower() == ".toml":
        raise FileError(f"the job file needs a name before its ending: {_EXAMPLE}")
    shown = shortened(name)
    if name.startswith("."):
        raise FileError(f"the job file's name must not begin with a dot, which hides it (got {shown!r}): {_EXAMPLE}")
    if name[-1] in ". ":
        last = "dot" if name.endswith(".") else "blank"
        raise FileError(
            f"the job file's name must not end in a {last}, which Windows leaves out (got {shown!r}): {_EXAMPLE}"
        )
    if name.split(".")[0].rstrip().upper() in _DEVICES:
        raise FileError(
            f"the job file's name must not be one that Windows keeps for a device (got {shown!r}): {_EXAMPLE}"
        )
