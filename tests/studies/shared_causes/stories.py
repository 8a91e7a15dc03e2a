"""All stories, in the order in which they are told.

Task: one list out of the modules by subject. Shapes, units, signs: none here.
"""

from __future__ import annotations

from studies.shared_causes.record import Story
from studies.shared_causes.story_hands import HANDS, TOOLS
from studies.shared_causes.story_hum import HUM, PICKUPS
from studies.shared_causes.story_inputs import INPUTS, PATHS
from studies.shared_causes.story_leads import LEADS
from studies.shared_causes.story_more_guitars import MORE_AT_ONCE, MORE_GUITARS
from studies.shared_causes.story_more_paths import MORE_ENTRIES, MORE_PATHS
from studies.shared_causes.story_selector import SELECTOR

FIRST: tuple[Story, ...] = tuple(
    story for group in (LEADS, HANDS, TOOLS, SELECTOR, PATHS, INPUTS, HUM, PICKUPS) for story in group.told
)
"""Written before the model knew of shared causes; RESULTS.md and UNLIKE.md count these."""
MORE: tuple[Story, ...] = tuple(
    story for group in (MORE_GUITARS, MORE_AT_ONCE, MORE_PATHS, MORE_ENTRIES) for story in group.told
)
"""Written after it, by somebody who had not read it; MORE.md counts these."""
STORIES = FIRST + MORE
SETS: dict[str, tuple[Story, ...]] = {"first": FIRST, "more": MORE, "all": STORIES}


def chosen(text: str, *, among: str = "all") -> tuple[Story, ...]:
    """The stories of a set whose name or subject holds ``text``; all of the set where it is empty."""
    return tuple(story for story in SETS[among] if text in story.name or text in story.subject)
