"""`coilwise help`: topics, a page of the manual as plain text, and the keys of the files in it."""

import re

import pytest

from capture.job.model import Job, Member, Pickup, Setting
from capture.log.entries import KEYS_OF_CHECK, KINDS
from reports.messages.page import MANUAL_TOPICS, SCREENS
from reports.render.manual import WIDE, as_page, shown, source, topics

SPELLED_OTHERWISE = {"pickups", "settings", "courses", "scales_mm", "centres_mm"}
"""Fields that are no key: [[pickup]], [[setting]], and lists in strings, scale_mm and centre_mm."""


def test_help_lists_every_topic_and_shows_one(call):
    _, listed, _ = call("help")
    assert all(re.search(rf"^  {name} +{re.escape(says)}$", listed, re.M) for name, says in topics().items())
    assert max(map(len, listed.splitlines())) <= WIDE
    status, page, _ = call("help", "gestures")
    assert status == 0
    assert '"pluck", two inputs at once\n    how: one pickup on each input' in page
    assert not [mark for mark in ("`", "**", "|") if mark in page]


def test_help_of_a_command_is_its_own_and_an_unknown_topic_names_the_nearest(call):
    assert "Usage: coilwise take" in call("help", "take")[1]
    status, _, refused = call("help", "gesture")
    assert (status, refused.count("\n")) == (2, 1)
    assert 'did you mean "gestures"?' in refused


@pytest.mark.parametrize("topic", sorted(topics()))
def test_prose_is_wrapped_and_what_is_typed_stays_whole(topic):
    page = shown(topic)
    assert max(len(line) for line in page.splitlines() if not line.startswith("    ")) <= WIDE
    typed = "".join(re.findall(r"```\w*\n(.*?)```", source(topic), re.S)).splitlines()
    assert not [line for line in typed if line not in page]


@pytest.mark.parametrize("topic", sorted(topics()))
def test_a_page_in_the_browser_says_all_and_leads_only_to_other_topics(topic):
    page = as_page(topic)
    assert set(re.findall(r'(?:href|src)="([^"]*)"', page)) <= set(topics())
    words = " ".join(re.sub(r"<[^>]+>", " ", page.partition("<main>")[2]).split())
    assert all(part in words for part in re.findall(r"^# (.+)$", source(topic), re.M))


def test_every_screen_of_the_page_has_its_topic():
    assert set(MANUAL_TOPICS) == set(SCREENS)
    assert set(MANUAL_TOPICS.values()) <= set(topics())


def test_the_manual_names_every_key_of_the_files():
    """Of job.toml, of bench.jsonl, and of each check."""
    said = set(re.findall(r"[a-z_0-9]+", "".join(source(topic) for topic in topics() if topic != "changes")))
    job = {key for model in (Job, Pickup, Setting, Member) for key in model.model_fields}
    log = {key for kind in KINDS.values() for key in kind.model_fields}
    assert not (job | log) - SPELLED_OTHERWISE - said
    assert not {key for keys in KEYS_OF_CHECK.values() for part in keys for key in part} - said
