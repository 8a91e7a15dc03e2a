"""What the page's first screen asks and answers, in the bench's words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

FOLDER: Final = "{day:%Y-%m-%d}-{number}"
JOB_TITLE: Final = "{day:%Y-%m-%d}, job {number}"

WHAT_IS_THERE: Final = "What is on the bench?"
BENCHES: Final = {
    "closed": ("A closed guitar", "one cable, from its jack"),
    "beside": ("A loose pickup beside a guitar", "two cables: the guitar's jack, and clips on the pickup"),
    "loose": ("Two loose pickups", "two cables, clips on both"),
    "recordings": ("Recordings that exist", "files from another program or recorder"),
}
"""Of each bench: what it is, and what is plugged in."""
WHICH_LAYOUT: Final = {
    "closed": "How is it laid out?",
    "recordings": "Which guitar are they of?",
    "beside": "Where will the loose one sit?",
}
LAYOUTS: Final = {
    "two": ("Two pickups, three-way selector", "bridge, both, neck"),
    "five": (
        "Three pickups, five-way selector",
        "bridge, bridge and middle, middle, middle and neck, neck",
    ),
    "three": ("Three pickups, three-way selector", "each alone"),
    "volumes": ("Two pickups, a volume each", "no selector"),
    "two-neck": ("At the neck", "of a guitar with two pickups"),
    "two-bridge": ("At the bridge", "of a guitar with two pickups"),
    "five-neck": ("At the neck", "of a guitar with three pickups"),
    "five-middle": ("In the middle", "of a guitar with three pickups"),
    "five-bridge": ("At the bridge", "of a guitar with three pickups"),
}
HOW_MANY_COILS: Final = "How many coils has each?"
COILS: Final = {1: "one coil", 2: "two coils"}
ALL_ALIKE: Final = {1: "One coil each", 2: "Two coils each"}
BACK: Final = "Back"
OTHERWISE: Final = "Something else, or more about this guitar"
GO_ON_WITH: Final = "Or go on with a job that is there"
STARTED: Final = (
    "This job is called {title} for now. Its name, lengths and lead colours can be filled in later, on the "
    "screen Job."
)
STOP_FIRST: Final = "a session listens just now; press Pause on the screen Play first, then begin another job"


def coils_text(names: Sequence[str], coils: Sequence[int]) -> tuple[str, str]:
    """How many coils each pickup has: in large letters, and the rest."""
    if len(set(coils)) == 1:
        return ALL_ALIKE[coils[0]], ""
    odd = min(set(coils), key=lambda n: (list(coils).count(n), -n))
    those = " and ".join(name for name, n in zip(names, coils, strict=True) if n == odd)
    return f"{those.capitalize()} {COILS[odd]}", f"{_other(names)} {COILS[3 - odd]}"


def _other(names: Sequence[str]) -> str:
    return "the other" if len(names) == 2 else "the rest"
