"""What is said of pickups whose sign goes with the string, and of a coil that hears none.

One word for all strings is said only where they agree (reports.verdict.by_string); these are the words for
where they do not, as cells of tables and headlines have them.
"""

from __future__ import annotations

from reports.model.build_notes import StringsDiffer
from reports.model.verdict import PairVerdict, SettingVerdict

BY_STRING = "OUT OF PHASE on {}, in phase on the others"
HUM_ALONE = "hum alone"
THIN_ON = "THIN on {}"


def differs(pair: PairVerdict) -> bool:
    """Whether one word cannot be said of a pair: its strings differ, or one of the two hears none."""
    return isinstance(pair.because, StringsDiffer) or pair.about == "hum"


def divided_label(pair: PairVerdict) -> str:
    """What is said of such a pair instead."""
    if isinstance(pair.because, StringsDiffer):
        return BY_STRING.format(", ".join(pair.because.oppose))
    return HUM_ALONE


def thin_on_some(setting: SettingVerdict) -> str:
    """On which strings a setting is thin, where it is full on others; nothing where all are alike."""
    thin = [row.string for row in setting.by_string if row.phase == "out of phase"]
    full = any(row.phase == "in phase" for row in setting.by_string)
    return THIN_ON.format(", ".join(thin)) if thin and full else ""
