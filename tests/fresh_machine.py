"""The two commands of the README on a machine with nothing but Python, git and apt. By hand, as root, not in the normal run:

    python3 -m tests.fresh_machine bookworm /var/tmp/fresh

makes a Debian of that name with debootstrap in that folder (left there for another run), copies a clone of this checkout
into it and runs `python3 buildtrack checklists` twice (the second time without set-up) and `python3 tests`.
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


def main(suite: str, root: Path) -> None:
    """Make the machine and run the two commands."""
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
