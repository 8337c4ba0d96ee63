"""Set-up of a checkout on a machine with nothing but Python: system packages, .venv, libraries."""

from __future__ import annotations

import ctypes
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

OLDEST = (3, 11)
SHARED_LIBRARIES = {
    "libgobject-2.0.so.0": "libpango-1.0-0",
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libharfbuzz.so.0": "libpango-1.0-0",
    "libfontconfig.so.1": "libpangoft2-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
}
"""What weasyprint loads, and the Debian package that brings it (a test compares this with weasyprint itself)."""
HELPFUL = frozenset({"libharfbuzz-subset0"})
"""Not needed for a PDF, only for a quicker and smaller one; older systems do not have it."""
FONT_PACKAGE = "fonts-dejavu-core"
STAMP = ".buildtrack-set-up"


def say(text: str) -> None:
    """One line to the person, on standard error so that a command's own output stays clean."""
    print(f"buildtrack: {text}", file=sys.stderr, flush=True)


def missing_packages() -> list[str]:
    """Debian packages without which something would not work here."""
    wanted: dict[str, None] = {}
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        wanted["python3-venv"] = None
    for library, package in SHARED_LIBRARIES.items():
        try:
            ctypes.CDLL(library)
        except OSError:
            wanted[package] = None
    if not _has_font():
        wanted[FONT_PACKAGE] = None
    return list(wanted)


def _has_font() -> bool:
    folders = (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), Path.home() / ".fonts", Path("/Library/Fonts"),
               Path.home() / ".local/share/fonts")
    there = [folder for folder in folders if folder.is_dir()]
    return any(next(folder.rglob(f"*.{kind}"), None) for folder in there for kind in ("ttf", "otf"))


def _apt() -> list[str] | None:
    """How apt-get can be run here without asking anybody; None where it cannot."""
    if shutil.which("apt-get") is None:
        return None
    if os.geteuid() == 0:
        return ["apt-get"]
    sudo = shutil.which("sudo")
    if sudo and subprocess.run([sudo, "-n", "true"], capture_output=True, check=False).returncode == 0:
        return [sudo, "-n", "apt-get"]
    return None


def install_packages(packages: Sequence[str]) -> list[str]:
    """Install what is missing with apt where it may; returns what is still missing."""
    apt = _apt()
    if apt is None:
        return list(packages)
    say(f"installing {' '.join(packages)}")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for package_set in ([p for p in packages if p not in HELPFUL], [p for p in packages if p in HELPFUL]):
        if not package_set:
            continue
        command = [*apt, "install", "-y", "--no-install-recommends", *package_set]
        if subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                          check=False).returncode != 0:
            subprocess.run([*apt, "update"], env=environment, stdout=subprocess.DEVNULL, check=False)
            subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=False)
    importlib.invalidate_caches()
    return missing_packages()


def requirements(root: Path, extra: str) -> list[str]:
    """The libraries named in pyproject.toml, with those of an extra."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [*project["dependencies"], *(project["optional-dependencies"][extra] if extra else [])]


def _stamp_text(root: Path, extra: str) -> str:
    wanted = "\n".join(requirements(root, extra)) + f"\npython {sys.version_info[:2]}"
    return hashlib.sha256(wanted.encode()).hexdigest()


def is_set_up(root: Path, extra: str) -> bool:
    """Whether .venv holds what this checkout asks for."""
    python = venv_python(root)
    try:
        stamped = (root / ".venv" / f"{STAMP}{extra and '-' + extra}").read_text(encoding="utf-8")
    except OSError:
        return False
    return python.exists() and stamped == _stamp_text(root, extra)


def venv_python(root: Path) -> Path:
    """The Python of the checkout's own environment."""
    return root / ".venv" / "bin" / "python"


def _fail(text: str) -> NoReturn:
    say(text)
    sys.exit(1)


def _run(command: Sequence[str], what: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        lines = [line for line in (done.stderr or done.stdout).splitlines() if line.strip()]
        _fail(f"{what} did not work: {lines[-1] if lines else 'no reason given'}")


def set_up(root: Path, extra: str) -> None:
    """Bring the checkout to where it can start; says each thing it does."""
    if sys.version_info < OLDEST:
        _fail(f"needs Python {OLDEST[0]}.{OLDEST[1]} or newer; this is {sys.version.split()[0]}")
    missing = missing_packages()
    if missing:
        missing = install_packages(missing)
    needed = [p for p in missing if p not in HELPFUL]
    if needed:
        command = f"apt-get install -y {' '.join(needed)}"
        if "python3-venv" in needed:
            _fail(f"the system lacks {', '.join(needed)}. As administrator: {command}")
        say(f"the PDF record will not work until somebody runs, as administrator: {command}")
    if not (root / ".venv" / STAMP).exists():  # none yet, or one whose making was broken off
        say("making .venv")
        _run([sys.executable, "-m", "venv", "--clear", str(root / ".venv")], "making .venv")
    say("installing the libraries named in pyproject.toml (once; about a minute)")
    _run([str(venv_python(root)), "-m", "pip", "install", "-q", "--disable-pip-version-check",
          *requirements(root, extra)], "installing the libraries")
    for name in {"", extra}:
        stamp = root / ".venv" / f"{STAMP}{name and '-' + name}"
        stamp.write_text(_stamp_text(root, name), encoding="utf-8")


def start(root: Path, extra: str, arguments: Sequence[str]) -> NoReturn:
    """Set up where needed, then become the checkout's own Python with these arguments."""
    if not is_set_up(root, extra):
        set_up(root, extra)
    python = str(venv_python(root))
    path = os.environ.get("PYTHONPATH")
    environment = {**os.environ, "PYTHONPATH": f"{root}{os.pathsep}{path}" if path else str(root)}
    # -P: a folder called like one of our packages in the current folder must not be imported instead of it.
    os.execve(python, [python, "-P", *arguments], environment)
