"""Answers that say nothing: that there is none, not yet, or that nobody knows."""

from __future__ import annotations

from buildtrack.model.checklist import Column, Item

_NONE = frozenset(("none", "nothing", "nil", "no", "not", "nobody", "unknown", "n/a", "na", "n.a", "tbd", "tbc",
                   "todo", "later", "open"))
_BESIDE = frozenset(("yet", "any", "known", "written", "recorded", "measured", "stated", "given", "noted", "said",
                     "done", "available", "applicable", "to", "do", "so", "far", "there", "are", "is", "was", "it",
                     "the", "a", "of", "for", "knows"))
"""Words that add nothing to one of the first kind."""
_CHOICES = frozenset(("unknown", "not tried"))
"""Ids of options by which nothing is said; `none` of a fuse says something."""


def says_nothing(place: Item | Column, text: str) -> bool:
    """Whether an answer only says that there is none, alone or with words of its label: `none written yet`, `-`."""
    if place.kind == "choice":
        return text in _CHOICES
    if place.kind != "text":
        return False
    words = _words(text)
    label = set(_words(place.label))
    return not words or (bool(_NONE & set(words)) and all(w in _NONE or w in _BESIDE or w in label for w in words))


def _words(text: str) -> list[str]:
    found = (w.strip(".,;:!?()'\"-–—") for w in text.casefold().split())
    return [w for w in found if any(c.isalnum() for c in w)]
