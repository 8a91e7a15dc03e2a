"""What `coilwise shortcut` says."""

from __future__ import annotations

from typing import Final

COMMENT: Final = "Tell which pickups are in phase by listening to them"
MADE: Final = (
    "coilwise is among your programs now: {path}. It opens the bench page, and works without a network. "
    "coilwise shortcut --remove takes it away."
)
REMOVED: Final = "The entry among your programs is gone. coilwise itself stays, and so does every job."
NONE_THERE: Final = "There is no such entry, so nothing was removed."
