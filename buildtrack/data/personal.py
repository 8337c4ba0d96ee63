"""A person's own data files, beside those that come with the program: chemistries and their curves."""

from __future__ import annotations

import os
from pathlib import Path


def personal_folder() -> Path:
    """The person's configuration folder; the variable BUILDTRACK_CONFIG names another one."""
    if given := os.environ.get("BUILDTRACK_CONFIG"):
        return Path(given)
    from platformdirs import user_config_path

    return user_config_path("buildtrack")
