"""All stories, in the order in which they are told.

Task: one list out of the modules by subject. Shapes, units, signs: none here.
"""

from __future__ import annotations

from studies.shared_causes.record import Story
from studies.shared_causes.story_hands import HANDS, TOOLS
from studies.shared_causes.story_hum import HUM, PICKUPS
from studies.shared_causes.story_inputs import INPUTS, PATHS
from studies.shared_causes.story_leads import LEADS
from studies.shared_causes.story_selector import SELECTOR

STORIES: tuple[Story, ...] = tuple(
    story for group in (LEADS, HANDS, TOOLS, SELECTOR, PATHS, INPUTS, HUM, PICKUPS) for story in group.told
)


def chosen(text: str) -> tuple[Story, ...]:
    """The stories whose name or subject holds ``text``; all of them where it is empty."""
    return tuple(story for story in STORIES if text in story.name or text in story.subject)
