"""The plain text face."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest
import verdict_samples as samples

from dsp.signal.codes import Fault
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say
from reports.model.notes import LostHeadline
from reports.model.take_notes import SoundNote
from reports.model.verdict import PairVerdict, TakeRow
from reports.render.layout import TEXT_WIDTH as WIDTH
from reports.render.layout import print_table
from reports.render.text import SHORT_LINES, as_short_text, as_text

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


def test_a_table_of_long_names_fits_and_breaks_the_long_ones_alone(capsys, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    print_table(
        ("name", "what it is on", "aim"), [("n" * 150, "bridge + neck", "in phase")], title="Settings"
    )
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80
    assert printed.count("n") > 150
    assert all(word in printed for word in ("bridge", "neck", "phase"))


def test_the_first_lines_say_the_verdict_and_the_work() -> None:
    top = flat("\n".join(as_text(samples.out_of_phase()).splitlines()[:8]))
    assert "Out of phase: bridge and neck." in top
    assert "TO DO: At neck, exchange hot and ground: grey becomes hot, violet becomes ground." in top
    assert "disagrees on bridge and neck" in top


def test_leads_are_listed_one_a_line() -> None:
    lines = [flat(line) for line in as_text(samples.three_pickups()).splitlines()]
    for line in ("grey becomes hot", "violet becomes ground", "pink is hot", "orange joins the link"):
        assert line in lines


def test_pairs_show_standing_and_each_method() -> None:
    text = flat(as_text(samples.out_of_phase()))
    assert "OUT OF PHASE settled: about 1 chance in 250" in text
    assert "paired pluck out of phase, 98 % t002, t003" in text
    assert "meter swing in phase, 94 % m001, m002" in text


def test_conflicts_faults_remarks_and_warnings_are_shown() -> None:
    verdict = samples.out_of_phase()
    text = flat(as_text(verdict))
    for said in (
        say(samples.CLIPPED),
        samples.LEADS_TURNED,
        samples.READ_AGAIN,
        say(samples.BRAID),
        *verdict.warnings,
    ):
        assert said in text
    assert say(verdict.takes[2].remarks[0]) in text


def test_a_take_set_aside_without_fault_is_named() -> None:
    verdict = samples.out_of_phase()
    aside = verdict.takes[1].model_copy(update={"used": False})
    text = flat(as_text(verdict.model_copy(update={"takes": (aside,)})))
    assert "t002, pluck D2, bridge / neck set aside" in text


def test_an_unsettled_job_says_what_to_do_and_not_to_solder() -> None:
    top = flat(as_text(samples.unsettled()).split("WHAT TO EXCHANGE")[0])
    assert "Do not solder yet, not known: neck." in top
    assert "NEXT: Record two more takes of bridge and neck" in top


def test_typed_escapes_do_not_reach_the_terminal() -> None:
    text = as_text(
        samples.out_of_phase().model_copy(
            update={"title": "a\x1b[2Jb", "headline": LostHeadline(("c\x07d",))}
        )
    )
    assert text.replace("\n", "").isprintable()


def test_printing_a_verdict_loads_nothing_heavy() -> None:
    code = (
        "import sys, reports.render.text, reports.messages.cautions, reports.messages.wording;"
        f"print(sorted(set({HEAVY!r}) & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", samples.ALL)
def test_the_short_answer_has_twelve_lines_with_what_to_do_and_how_sure(name: str) -> None:
    verdict = samples.ALL[name]()
    lines = as_short_text(verdict, more="The rest: coilwise verdict sunday --all").splitlines()
    assert len(lines) <= SHORT_LINES == 12
    assert max(map(len, lines)) <= 80
    assert max(map(len, lines)) <= WIDTH
    assert lines[-1].startswith("The rest")
    said = flat(" ".join(lines))
    assert "TO DO: " in said
    shown = [pair for pair in verdict.pairs if label(pair) in said]
    left_out = len(verdict.pairs) - len(shown)
    assert not left_out or (shown and f"and {left_out} more" in said)


def label(pair: PairVerdict) -> str:
    """What is said of a pair, without its chance of error."""
    return f"{words.pair_name(pair)}: {words.phase_label(pair)}"


@pytest.mark.parametrize("name", samples.ALL)
def test_no_number_is_parted_from_its_unit(name: str) -> None:
    text = as_text(samples.ALL[name]())
    assert not re.search(r"(?m)(^|  )\s*(%|dB|Hz)(?!\w)", text)
    assert "\N{NO-BREAK SPACE}" not in text


def test_a_sentence_keeps_number_and_unit_in_one_line_wherever_it_breaks() -> None:
    for letters in range(60, 90):
        said = f"{'x' * letters} lost 11.2 dB ± 1.5 dB, sure to 99 % and no more."
        text = as_text(samples.empty().model_copy(update={"warnings": (said,)}))
        assert all(said in text for said in ("11.2 dB", "± 1.5 dB", "99 %"))


def test_what_came_of_the_work_stands_right_after_the_answer() -> None:
    text = as_text(samples.whole_guitar())
    assert text.index("RESULT: The harness did NOT come out as planned") < text.index("WHAT TO EXCHANGE")
    lines = [flat(line) for line in text.splitlines()]
    assert "bridge + middle THIN, hums full, hum cancels full, 99.5 %, hum cancels yes" in lines
    assert "middle + neck not known full THIN, more than 99.9 % NO" in lines


def test_settings_show_what_is_lost_and_hum_against_what_is_wanted() -> None:
    text = as_text(samples.whole_guitar())
    table = text[text.index("WHAT EACH SETTING") : text.index("PICKUPS IN PAIRS")]
    row = next(line for line in table.splitlines() if "−11.2 dB" in line)
    assert "THIN" in row and "in phase: NO" in row
    assert "± 1.5 dB" in table
    assert "not measured" in flat(table)
    assert re.search(r"HUMS, 98 %", table)
    assert samples.NOTE in flat(table)


def test_signs_findings_and_hum_by_method_are_shown() -> None:
    text = flat(as_text(samples.whole_guitar()))
    assert "middle same as bridge, 99.2 % opposite, 99.6 % not known" in text
    assert f"{say(samples.OPEN_COIL.what)} {say(samples.OPEN_COIL.next)}" in text
    assert "hum levels cancels, 98 % t020, t021" in text


def test_sections_appear_only_with_content() -> None:
    full, bare = as_text(samples.whole_guitar()), as_text(samples.three_pickups())
    for key in ("stages", "findings", "signs"):
        assert words.SECTIONS[key].upper() in full
        assert words.SECTIONS[key].upper() not in bare


def test_words_of_a_table_stay_whole_and_rows_low() -> None:
    text = as_text(samples.whole_guitar())
    table = text[text.index("WHAT EACH SETTING") : text.index("  Fundamental:")].splitlines()[2:]
    assert len(table) <= 2 + 2 * len(samples.whole_guitar().settings)
    seen = flat(" ".join(table)).split()
    assert {"fundamental", "parallel", "series", "likely"} <= set(seen)
    assert seen.count("measured") == 2


def test_names_that_fit_no_column_are_wrapped_in_every_table() -> None:
    name = "n" * 120
    verdict = samples.whole_guitar()
    changed = verdict.model_copy(
        update={
            "settings": tuple(
                s.model_copy(update={"name": name, "on": (name, name)}) for s in verdict.settings
            ),
            "signs": tuple(s.model_copy(update={"pickup": name}) for s in verdict.signs),
            "stages": tuple(s.model_copy(update={"setting": name}) for s in verdict.stages),
            "findings": tuple(f.model_copy(update={"pickup_or_setting": name}) for f in verdict.findings),
        }
    )
    text = as_text(changed)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert text.count("n") > 120 * (3 * len(verdict.settings) + 7)


def test_what_finds_no_room_in_the_short_answer_is_said_in_brief_and_never_cut() -> None:
    verdict = samples.out_of_phase()
    takes = [
        TakeRow(
            id=f"t{k:03d}", used=False, faults=(SoundNote(Fault(code), gesture="pluck"),), gesture="pluck"
        )
        for k, code in ((31, "clipped"), (32, "clipped"), (33, "no onset"))
    ]
    long = as_short_text(verdict.model_copy(update={"takes": (*verdict.takes, *takes)}), more="The rest")
    assert "t031, t032 (clipped), t033 (no onset)." in flat(long)
