"""One quiet look of our own: dark, light, high contrast. State never rests on colour alone."""

from __future__ import annotations

from textual.theme import Theme

DARK = Theme(
    name="bench-dark",
    dark=True,
    primary="#8fb6c9",
    secondary="#a9a396",
    accent="#e0b065",
    foreground="#d9d6ce",
    background="#17191c",
    surface="#1e2125",
    panel="#272b30",
    success="#8fc4ae",
    warning="#e3ae5e",
    error="#f09a83",
    variables={
        "block-cursor-foreground": "#17191c",
        "block-cursor-background": "#8fb6c9",
        "input-cursor-background": "#d8a657",
        "input-selection-background": "#8fb6c9 35%",
        "scrollbar": "#33383e",
        "scrollbar-background": "#1e2125",
        "border": "#3a4047",
    },
)
LIGHT = Theme(
    name="bench-light",
    dark=False,
    primary="#2c5a73",
    secondary="#6c675c",
    accent="#77460a",
    foreground="#25282b",
    background="#f5f3ee",
    surface="#fbfaf7",
    panel="#e9e6de",
    success="#1d5544",
    warning="#6e4200",
    error="#8d2a13",
    variables={
        "block-cursor-foreground": "#fbfaf7",
        "block-cursor-background": "#2c5a73",
        "input-cursor-background": "#77460a",
        "input-selection-background": "#2c5a73 25%",
        "scrollbar": "#cfcabd",
        "scrollbar-background": "#eeebe4",
        "border": "#c4beb0",
    },
)
CONTRAST = Theme(
    name="bench-contrast",
    dark=True,
    primary="#ffffff",
    secondary="#e0e0e0",
    accent="#ffd75f",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1c1c1c",
    success="#9fe8ff",
    warning="#ffd75f",
    error="#ffb59b",
    variables={
        "block-cursor-foreground": "#000000",
        "block-cursor-background": "#ffffff",
        "input-cursor-background": "#ffd75f",
        "input-selection-background": "#ffffff 40%",
        "scrollbar": "#8a8a8a",
        "scrollbar-background": "#000000",
        "border": "#ffffff",
        "text-muted": "#e0e0e0",
    },
)
THEMES = (DARK, LIGHT, CONTRAST)
WORDS = {"dark": DARK.name, "light": LIGHT.name, "contrast": CONTRAST.name}
"""What a person writes in keymap.toml, and the theme it means."""


def following(name: str) -> str:
    """The next of our looks after the one called `name`."""
    names = [t.name for t in THEMES]
    return names[(names.index(name) + 1) % len(names)] if name in names else names[0]
