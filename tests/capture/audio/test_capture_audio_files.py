"""Audio files: the same samples whatever the container, and every way in which a file can be bad."""

from __future__ import annotations

import hashlib
import os
import shutil
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from capture_bench import RATE, noise, write_audio
from hypothesis import given, settings
from hypothesis import strategies as st

from capture import RecordingError
from capture.audio import files as audio_files
from capture.audio.files import probe, read_audio, sha256_of

CONTAINERS = {
    "WAV": "wav",
    "WAVEX": "wav",
    "RF64": "wav",
    "W64": "w64",
    "AIFF": "aiff",
    "FLAC": "flac",
    "CAF": "caf",
}
WHOLE_NUMBERS = [-32768, -32767, -1, 0, 1, 2, 16384, 32767]


def full_range(repeats: int = 600) -> np.ndarray:
    """Return int16 PCM with both extremes, the second channel the first one turned over and lowered."""
    left = np.array(WHOLE_NUMBERS * repeats, dtype=np.int16)
    return np.stack([left, (-(left.astype(np.int32) // 2)).astype(np.int16)], axis=1)


# sources F1: FLAC: RFC 9639; the rest from memory
@pytest.mark.parametrize("container", CONTAINERS)
def test_f1_the_same_pcm_through_every_container(tmp_path: Path, container):
    pcm = full_range()
    path = tmp_path / f"a.{CONTAINERS[container]}"
    sf.write(path, pcm, RATE, format=container, subtype="PCM_16")
    audio = read_audio(path)
    np.testing.assert_array_equal(audio.samples, pcm / 32768.0)
    assert audio.samples.dtype == np.float64
    assert (audio.rate, audio.channels, audio.format, audio.subtype) == (RATE, 2, container, "PCM_16")
    assert not audio.truncated
    head = probe(path)
    assert (head.rate, head.channels, head.frames, head.format, head.truncated) == (
        RATE,
        2,
        len(pcm),
        container,
        False,
    )


# sources F1: FLAC: RFC 9639; the rest from memory
def test_f1_eight_bit_wav_is_unsigned(tmp_path: Path):
    values = bytes([0, 127, 128, 129, 255])
    head = b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1, RATE, RATE, 1, 8)
    body = head + b"data" + struct.pack("<I", len(values)) + values + b"\x00"
    path = tmp_path / "a.wav"
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    audio = read_audio(path)
    np.testing.assert_array_equal(audio.samples[:, 0], np.array([-128, -1, 0, 1, 127]) / 128)
    assert (audio.subtype, audio.truncated) == ("PCM_U8", False)


@pytest.mark.parametrize(
    ("subtype", "step"),
    [("PCM_U8", 2**-7), ("PCM_16", 2**-15), ("PCM_24", 2**-23), ("PCM_32", 2**-31), ("FLOAT", 2**-24)],
)
def test_every_depth_of_wav_keeps_level_and_sign(tmp_path: Path, subtype, step):
    wave = noise()
    path = tmp_path / "a.wav"
    sf.write(path, wave, RATE, subtype=subtype)
    audio = read_audio(path)
    assert audio.subtype == subtype
    assert np.abs(audio.samples - wave).max() <= step


def test_a_float_file_keeps_what_is_over_full_scale(tmp_path: Path):
    sf.write(tmp_path / "a.wav", np.array([1.5, -2.0]), RATE, subtype="FLOAT")
    np.testing.assert_array_equal(read_audio(tmp_path / "a.wav").samples, [[1.5], [-2.0]])


@pytest.mark.parametrize("rate", [16_000, 44_100, 192_000])
def test_rates_that_do(tmp_path: Path, rate):
    sf.write(tmp_path / "a.wav", noise(), rate)
    assert read_audio(tmp_path / "a.wav").rate == rate


@pytest.mark.parametrize("rate", [8_000, 15_999, 192_001, 384_000])
def test_rates_that_do_not(tmp_path: Path, rate):
    sf.write(tmp_path / "a.wav", noise(), rate)
    for look in (read_audio, probe):
        with pytest.raises(
            RecordingError, match=f"a.wav: {rate} samples a second, and only 16000 to 192000 will do"
        ):
            look(tmp_path / "a.wav")


FRAMES = 48_000


@pytest.mark.parametrize("cut", ["half", "odd", "one byte"])
@pytest.mark.parametrize("container", CONTAINERS)
def test_cut_short(tmp_path: Path, container, cut):
    path = write_audio(
        tmp_path / f"a.{CONTAINERS[container]}", frames=FRAMES, format=container, subtype="PCM_16"
    )
    whole = read_audio(path).samples
    size = path.stat().st_size
    os.truncate(path, {"half": size // 2, "odd": size // 2 + 1, "one byte": size - 1}[cut])
    if container == "CAF" and cut != "one byte":
        with pytest.raises(RecordingError, match="is no audio that can be read, or its head is damaged"):
            read_audio(path)
        return
    audio = read_audio(path)
    assert audio.truncated
    assert probe(path).truncated
    assert FRAMES // 4 < len(audio.samples) < FRAMES
    np.testing.assert_array_equal(audio.samples, whole[: len(audio.samples)])


KILLED = """
import os, sys, numpy, soundfile
file = soundfile.SoundFile(sys.argv[1], "w", 48000, 2, format=sys.argv[2], subtype="PCM_16")
wave = numpy.random.default_rng(1).uniform(-0.9, 0.9, (48000, 2))
for _ in range(3):
    file.write(wave)
os._exit(9)
"""


@pytest.mark.parametrize("container", ["WAV", "WAVEX", "FLAC"])
def test_a_killed_recorder_leaves_what_can_be_read(tmp_path: Path, container):
    path = tmp_path / f"a.{CONTAINERS[container]}"
    subprocess.run([sys.executable, "-c", KILLED, path, container], check=False)
    audio = read_audio(path)
    assert audio.truncated
    assert probe(path).truncated
    assert 2 * FRAMES < len(audio.samples) <= 3 * FRAMES
    wave = np.random.default_rng(1).uniform(-0.9, 0.9, (48000, 2))
    np.testing.assert_allclose(audio.samples[:FRAMES], wave, atol=2**-15)


@pytest.mark.parametrize("container", ["RF64", "AIFF", "CAF"])
def test_a_killed_recorder_leaves_nothing_in_these(tmp_path: Path, container):
    path = tmp_path / f"a.{CONTAINERS[container]}"
    subprocess.run([sys.executable, "-c", KILLED, path, container], check=False)
    assert path.stat().st_size > 3 * FRAMES * 4
    for look in (read_audio, probe):
        with pytest.raises(
            RecordingError, match="there is no sound in it; the recorder was stopped too early"
        ):
            look(path)


def test_a_stream_that_never_knew_its_length_is_whole(tmp_path: Path):
    path = write_audio(tmp_path / "a.wav", subtype="PCM_16")
    raw = bytearray(path.read_bytes())
    raw[4:8] = raw[40:44] = b"\xff\xff\xff\xff"
    path.write_bytes(raw)
    audio = read_audio(path)
    assert (len(audio.samples), audio.truncated) == (4800, False)


def test_what_hangs_behind_the_samples_is_no_fault(tmp_path: Path):
    path = write_audio(tmp_path / "a.wav", subtype="PCM_16")
    path.write_bytes(path.read_bytes() + b"trailing junk!")
    assert not read_audio(path).truncated


def _folder(path: Path) -> None:
    path.mkdir()


def _pipe(path: Path) -> None:
    os.mkfifo(path)


BAD = {
    "empty": (lambda p: p.write_bytes(b""), "the file is empty; record again"),
    "text": (lambda p: p.write_text("pluck on the bridge\n" * 50), "is no audio that can be read"),
    "head alone": (lambda p: p.write_bytes(b"RIFF\x00\x00\x00\x00WAVE"), "is no audio that can be read"),
    "no frames": (lambda p: sf.write(p, np.zeros((0, 2)), RATE), "there is no sound in it"),
    "folder": (_folder, "is a folder, not an audio file"),
    "missing": (lambda p: None, "there is no such file; check the name"),
    "pipe": (_pipe, "cannot be read .it is no ordinary file"),
    "dangling link": (lambda p: p.symlink_to("nowhere"), "there is no such file; check the name"),
}


@pytest.mark.parametrize("case", BAD)
def test_what_is_no_recording(tmp_path: Path, case):
    make, words = BAD[case]
    path = tmp_path / "a.wav"
    make(path)
    for look in (read_audio, probe):
        with pytest.raises(RecordingError, match=f"a.wav: {words}") as caught:
            look(path)
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["a\x00b.wav", "x" * 5000 + ".wav"])
def test_a_name_that_cannot_be(tmp_path: Path, name):
    for look in (read_audio, probe, sha256_of):
        with pytest.raises(RecordingError):
            look(tmp_path / name)


def test_headerless_samples_are_refused(tmp_path: Path):
    (tmp_path / "a.raw").write_bytes(bytes(1000))
    with pytest.raises(RecordingError, match="is no audio that can be read"):
        read_audio(tmp_path / "a.raw")


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_not_finite_is_refused(tmp_path: Path, value):
    wave = noise()
    wave[77, 1] = value
    sf.write(tmp_path / "a.wav", wave, RATE, subtype="FLOAT")
    with pytest.raises(RecordingError, match=r"frame 77 is no finite number \(NaN or infinity\)"):
        read_audio(tmp_path / "a.wav")


def test_too_long_is_refused_before_it_fills_the_memory(tmp_path: Path, monkeypatch):
    path = write_audio(tmp_path / "a.wav", frames=50_000)
    monkeypatch.setattr(audio_files, "MOST_SAMPLES", 100_000)
    assert len(read_audio(path).samples) == 50_000
    monkeypatch.setattr(audio_files, "MOST_SAMPLES", 99_999)
    with pytest.raises(RecordingError, match="too long to work on; cut it"):
        read_audio(path)


def test_damage_in_the_middle_of_a_flac_is_no_traceback(tmp_path: Path):
    path = write_audio(tmp_path / "a.flac", frames=FRAMES)
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2 : len(raw) // 2 + 20_000] = bytes(20_000)
    path.write_bytes(raw)
    try:
        audio = read_audio(path)
    except RecordingError:
        return
    assert audio.truncated or len(audio.samples) == FRAMES


def test_sha256(tmp_path: Path):
    (tmp_path / "a").write_bytes(b"coil" * 600_000)
    assert sha256_of(tmp_path / "a") == hashlib.sha256(b"coil" * 600_000).hexdigest()
    with pytest.raises(RecordingError, match="cannot be read"):
        sha256_of(tmp_path / "b")


@pytest.fixture(scope="module")
def whole_files(tmp_path_factory) -> dict[str, bytes]:
    home = tmp_path_factory.mktemp("audio")
    return {
        suffix: write_audio(home / f"a.{suffix}", frames=500, format=name).read_bytes()
        for name, suffix in CONTAINERS.items()
    }


@given(st.data())
@settings(max_examples=120, deadline=None)
def test_a_mutated_file_is_read_or_refused(whole_files, tmp_path_factory, data):
    suffix = data.draw(st.sampled_from(sorted(whole_files)))
    raw = bytearray(whole_files[suffix])
    for _ in range(data.draw(st.integers(0, 4))):
        raw[data.draw(st.integers(0, min(len(raw), 120) - 1))] = data.draw(st.integers(0, 255))
    home = tmp_path_factory.mktemp("mutated")
    path = home / f"a.{suffix}"
    path.write_bytes(raw[: data.draw(st.integers(0, len(raw)))])
    try:
        audio = read_audio(path)
    except RecordingError as error:
        assert str(error).startswith(str(path))
    else:
        assert np.isfinite(audio.samples).all()
        assert len(audio.samples) > 0
    finally:
        shutil.rmtree(home)


@given(st.binary(max_size=200))
@settings(max_examples=60, deadline=None)
def test_any_bytes_are_refused(tmp_path_factory, raw):
    path = tmp_path_factory.mktemp("bytes") / "a.wav"
    path.write_bytes(raw)
    with pytest.raises(RecordingError):
        read_audio(path)
