"""The two commands of the README on a machine with nothing but Python, git and apt. By hand, as root, not in the normal run:

    python3 -m tests.fresh_machine bookworm FOLDER

makes a Debian of that name with debootstrap in that folder (left there for another run), copies a clone of this checkout
into it and runs `python3 buildtrack checklists` twice (the second time without set-up) and `python3 tests`.

    python3 -m tests.fresh_machine wheel FOLDER

needs no root: it builds a wheel of what is committed, installs it alone into an environment of its own, as pipx does, and
runs the command from an empty folder: checklists, samples, a check, a record. pip must reach a package index.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = "python3,git,ca-certificates"


def run(*command: str) -> None:
    """Run one command and show its output; anything but success ends the test."""
    print("+", *command, flush=True)
    subprocess.run(command, check=True)


def make_root(suite: str, root: Path) -> None:
    """A minimal Debian with Python, git and apt, able to reach what this machine reaches."""
    if not (root / "usr").exists():
        run("debootstrap", "--variant=minbase", f"--include={PACKAGES}", suite, str(root))
    for name in ("etc/resolv.conf", "etc/hosts", "etc/ssl/certs/ca-certificates.crt"):
        if Path("/", name).exists():
            shutil.copy(Path("/", name), root / name)


def inside(root: Path, script: str) -> None:
    """Run a line of shell in the new machine, with nothing of ours in its environment but the way to the network."""
    kept = [f"{k}={v}" for k, v in os.environ.items() if k.lower() in ("http_proxy", "https_proxy", "no_proxy")]
    run("chroot", str(root), "env", "-i", "HOME=/root", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "LANG=C.UTF-8",
        "PIP_CERT=/etc/ssl/certs/ca-certificates.crt", *kept, "sh", "-ec", script)


def installed(root: Path) -> None:
    """Build a wheel, install it into an environment of its own, and run the command from a folder that holds nothing."""
    source, wheels, alone, away = (root / name for name in ("source", "wheels", "alone", "away"))
    for folder in (source, wheels, alone, away):
        shutil.rmtree(folder, ignore_errors=True)
    away.mkdir(parents=True)
    run("git", "clone", "-q", str(ROOT), str(source))
    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(wheels), str(source))
    (wheel,) = wheels.glob("buildtrack-*.whl")
    run(sys.executable, "-m", "venv", str(alone))
    run(str(alone / "bin" / "python"), "-m", "pip", "install", "-q", str(wheel))
    shutil.rmtree(source)  # nothing of the checkout may be needed from here on
    command = alone / "bin" / "buildtrack"
    clean = {"PATH": os.environ["PATH"], "HOME": str(away), "LANG": "C.UTF-8"}

    def there(*words: str, ends: int = 0) -> str:
        print("+ buildtrack", *words, flush=True)
        done = subprocess.run([str(command), *words], cwd=away, env=clean, capture_output=True, text=True, check=False)
        assert done.returncode == ends, f"ended with {done.returncode}: {done.stderr or done.stdout}"
        return done.stdout

    listed = there("checklists")
    names = sorted(p.stem for p in (ROOT / "checklists").glob("*.toml"))
    assert names and all(name in listed for name in names), "a checklist did not travel in the wheel"
    samples = sorted(p.stem for p in (ROOT / "sample_builds").glob("*.toml"))
    assert samples and all(name in there("sample") for name in samples[:1]), "the samples did not travel in the wheel"
    for name in samples:
        there("sample", name, "-d", ".")
    there("check", "garden-screwdriver-cleared.toml")
    there("check", "drill-not-cleared.toml", ends=1)
    there("new", "mine.toml", "--checklist", names[0], "--title", "Mine")
    there("record", "garden-screwdriver-cleared.toml")
    made = list(away.glob("*.pdf"))
    assert len(made) == 1 and made[0].read_bytes()[:5] == b"%PDF-", "no record was made"
    assert "Traceback" not in there("show", "mine.toml")
    print(f"installed from {wheel.name}: {len(names)} checklists, {len(samples)} samples, {made[0].stat().st_size} bytes PDF")


def main(suite: str, root: Path) -> None:
    """Make the machine and run the two commands."""
    if suite == "wheel":
        installed(root.resolve())
        return
    make_root(suite, root)
    target = root / "srv" / "buildtrack"
    shutil.rmtree(target, ignore_errors=True)
    run("git", "clone", "-q", str(ROOT), str(target))
    mounts = [root / "proc", root / "dev"]
    for mount in mounts:
        run("mount", "--bind", f"/{mount.name}", str(mount))
    try:
        inside(root, "cd /srv/buildtrack && python3 buildtrack checklists && python3 buildtrack checklists")
        inside(root, "cd /srv/buildtrack && python3 tests")
    finally:
        for mount in mounts:
            run("umount", str(mount))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
