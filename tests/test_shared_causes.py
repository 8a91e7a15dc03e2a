"""The stories of tests/studies/shared_causes: complete, told apart, and generated as often as one likes."""

import json

import numpy as np
import pytest
from studies.shared_causes import run
from studies.shared_causes.record import ANSWERS, Pair, Truth, seed_of
from studies.shared_causes.stories import STORIES, chosen
from studies.shared_causes.unlike import UNLIKE, USUAL

QUICK = (
    "meter-clips-reversed-alternating",
    "compass-turned-over-after-the-first",
    "touches-written-down-as-lifts",
    "clip-up-reversed-paired",
    "transformer-between-the-pickups-by-level",
)


def named(name):
    (story,) = (one for one in STORIES if one.name == name)
    return story


def made(folder, story, *, twin, world=USUAL):
    """The truth of a story's first bench, its job and the entries of its log."""
    rng = np.random.default_rng(seed_of(story.name, 0))
    truth = story.bench(folder, rng, twin=twin, world=world)
    log = (folder / "bench.jsonl").read_text(encoding="utf-8").splitlines()
    return truth, (folder / "job.toml").read_text(encoding="utf-8"), [json.loads(line) for line in log]


def test_there_are_at_least_sixty_stories_and_five_that_no_list_would_name():
    assert len(STORIES) >= 60
    assert len({story.name for story in STORIES}) == len(STORIES)
    assert len({story.happened for story in STORIES}) == len(STORIES)
    assert sum(story.odd for story in STORIES) >= 5


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_a_story_says_what_happened_and_what_would_tell(story):
    for text in (story.happened, story.cause, story.truth, story.check, story.subject):
        assert text and text == text.strip()
    assert story.happened.endswith(".")
    assert set(story.asks) <= {"phase", "hum"} and story.asks


@pytest.mark.parametrize("name", QUICK)
def test_a_twin_has_the_same_guitar_and_the_same_takes(name, tmp_path):
    story = named(name)
    truth, job, entries = made(tmp_path / "story", story, twin=False)
    sound, same_job, same_entries = made(tmp_path / "twin", story, twin=True)
    assert job == same_job
    assert truth == sound
    assert set(truth.phase) == set(truth.hum) and set(truth.phase.values()) <= set(ANSWERS)
    said = ("kind", "at", "gesture", "inputs", "string", "tool", "pickup")
    assert [[one.get(key) for key in said] for one in entries] == [
        [one.get(key) for key in said] for one in same_entries
    ]
    heard = ("sha256", "reading", "facing")
    assert [[one.get(key) for key in heard] for one in entries] != [
        [one.get(key) for key in heard] for one in same_entries
    ]


def test_a_bench_is_the_same_each_time_and_another_in_the_unlike_world(tmp_path):
    story = named("touches-written-down-as-lifts")
    _, _, once = made(tmp_path / "once", story, twin=True)
    _, _, again = made(tmp_path / "again", story, twin=True)
    _, _, unlike = made(tmp_path / "unlike", story, twin=True, world=UNLIKE)
    assert once == again
    assert [one["sha256"] for one in once] != [one["sha256"] for one in unlike]


def test_seeds_are_those_that_the_readme_gives():
    assert seed_of("colours-misread", 0) == 11361628210437739834
    assert len({seed_of(story.name, k) for story in STORIES for k in range(30)}) == 30 * len(STORIES)


@pytest.mark.parametrize(
    ("answer", "p", "standing", "expected"),
    [
        ("yes", 0.999, "settled", "settled right"),
        ("no", 0.999, "settled", "settled wrong"),
        ("no", 0.05, "likely", "likely right"),
        ("neither", 0.001, "settled", "settled wrong"),
        ("yes", 0.7, "unsettled", "unsettled"),
        ("yes", None, "unsettled", "unsettled"),
        ("not asked", 0.999, "settled", None),
    ],
)
def test_an_answer_is_held_against_the_truth(answer, p, standing, expected):
    assert run.outcome(answer, p, standing) == expected


def test_a_bench_counts_by_its_worst_pair():
    ab, ac = Pair("a", "b"), Pair("a", "c")
    truth = Truth({ab: "yes", ac: "no"}, {ab: "yes", ac: "not asked"}, {"split": "no"})
    verdict = {
        "pairs": [
            {"a": "a", "b": "b", "p_in_phase": 0.999, "standing": "settled", "p_hum_cancels": 0.95},
            {"a": "a", "b": "c", "p_in_phase": 0.97, "standing": "likely", "p_hum_cancels": 0.999},
        ],
        "settings": [{"name": "split", "p_hum_cancels": 0.004}],
    }
    assert run.scored(truth, verdict) == {"phase": "likely wrong", "hum": "likely right"}


def test_none_of_thirty_still_allows_ten_percent():
    assert run.upper_bound(0, 30) == pytest.approx(1.0 - 0.05 ** (1 / 30))
    assert run.upper_bound(30, 30) == 1.0


def test_the_table_has_a_line_for_each_side_and_shows_wrong_answers_to_what_was_not_asked():
    story = chosen("colours-misread")[0]
    row = {
        "story": story.name,
        "series": 0,
        "world": USUAL.name,
        "said": "a | b",
        "phase": "settled wrong",
        "hum": "likely wrong",
    }
    rows = [{**row, "side": "story"}, {**row, "side": "twin", "phase": "likely right", "hum": "unsettled"}]
    lines = [line for line in run.table(rows, title="T").splitlines() if line.startswith("| colours")]
    assert [line.split(" | ")[1:3] for line in lines] == [
        ["story", "phase"],
        ["story", "hum"],
        ["twin", "phase"],
    ]
    assert "a / b" in lines[0]
