"""`python3 buildtrack` sets up on first use and starts; `python -m buildtrack` starts at once."""

from __future__ import annotations

import sys
from pathlib import Path

if __package__:
    from buildtrack.cli import main

    sys.exit(main())
else:
    # Run as a folder by a bare Python: nothing but the standard library may be used until the set-up is done.
    here = Path(__file__).resolve().parent
    sys.path[0] = str(here.parent)
    from buildtrack.first_start import start

    start(here.parent, "", ["-m", "buildtrack", *sys.argv[1:]])
