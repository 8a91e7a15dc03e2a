"""The plain text face."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from reports.cautions import JUDGEMENT
from reports.text import WIDTH, as_text
from reports.verdict import PairVerdict

from . import samples

HEAVY = ("matplotlib", "librosa", "scipy", "numpy")


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("name", samples.ALL)
def test_every_job_fits_the_terminal_and_claims_no_certainty(name: str) -> None:
    text = as_text(samples.ALL[name]())
    assert max(map(len, text.splitlines())) <= WIDTH <= 88
    assert not re.search(r"(?<![\d.])(100|0)(\.0)? %", text)
    assert flat(text).endswith(JUDGEMENT)
    assert text.endswith("\n") and not text.endswith("\n\n")


def test_long_names_are_wrapped_not_lost() -> None:
    verdict = samples.out_of_phase()
    name = "n" * 200
    pair = PairVerdict(a=name, b="neck", phase=None, standing="unsettled")
    text = as_text(verdict.model_copy(update={"pairs": (pair,), "title": name}))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert text.count("n") > 400


def test_the_first_lines_say_the_verdict_and_the_work() -> None:
    top = flat("\n".join(as_text(samples.out_of_phase()).splitlines()[:8]))
    assert "work against each other" in top
    assert "TO DO: At neck, exchange hot and ground: grey becomes hot, violet becomes ground." in top
    assert "disagrees on bridge and neck" in top


def test_leads_are_listed_one_a_line() -> None:
    lines = [flat(line) for line in as_text(samples.three_pickups()).splitlines()]
    for line in ("grey becomes hot", "violet becomes ground", "pink is hot", "orange joins the link"):
        assert line in lines


def test_pairs_show_standing_and_each_method() -> None:
    text = flat(as_text(samples.out_of_phase()))
    assert "OUT OF PHASE settled: about 1 chance in 250" in text
    assert "paired pluck out of phase, 98 % (t002, t003)" in text
    assert "meter swing in phase, 94 % (m001, m002)" in text


def test_conflicts_faults_remarks_and_warnings_are_shown() -> None:
    verdict = samples.out_of_phase()
    text = flat(as_text(verdict))
    for said in (samples.CLIPPED, samples.LEADS_TURNED, samples.READ_AGAIN, samples.BRAID, *verdict.warnings):
        assert said in text
    assert verdict.takes[2].remarks[0] in text


def test_a_take_set_aside_without_fault_is_named() -> None:
    verdict = samples.out_of_phase()
    aside = verdict.takes[1].model_copy(update={"used": False})
    text = flat(as_text(verdict.model_copy(update={"takes": (aside,)})))
    assert "t002, pluck D2, bridge / neck set aside" in text


def test_an_unsettled_job_says_what_to_do_and_not_to_solder() -> None:
    top = flat(as_text(samples.unsettled()).split("WHAT TO EXCHANGE")[0])
    assert "Do not solder yet, not known: neck." in top
    assert "NEXT: Record two strings" in top


def test_typed_escapes_do_not_reach_the_terminal() -> None:
    text = as_text(samples.out_of_phase().model_copy(update={"title": "a\x1b[2Jb", "headline": "c\x07d"}))
    assert text.replace("\n", "").isprintable()


def test_printing_a_verdict_loads_nothing_heavy() -> None:
    code = (
        "import sys, reports.text, reports.cautions, reports.words;"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
