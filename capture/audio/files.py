"""Audio files in and out: the only module that uses soundfile.

`read_audio(path)` gives float64 samples (frames, channels), full scale 1, at the file's own rate and with its
own sign: nothing is resampled, mixed, scaled or inverted. A file that was cut short is read as far as it goes
and marked `truncated`; whatever cannot be used raises `UnreadableError`. `audio_blocks(path)` gives the same
samples block by block, for recordings too long to hold, and refuses one that was cut short.

`read_stretch(path)` gives some frames exactly as they are stored, and `wav_bytes(stretch)` a whole WAV file
of them: whole numbers of up to 24 bits become 24-bit WAV, of 32 bits 32-bit WAV, floats stay floats, and what
was compressed with loss is rounded to 24 bits. The same stretch always gives the same bytes (libsndfile would
write the time into float files), so that a stretch imported twice is known by its hash.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile as sf

from capture.audio.devices import quiet_stderr
from capture.audio.problems import HIGHEST_RATE, LOWEST_RATE, UnreadableError
from capture.disk.reading import open_plain

MOST_SAMPLES = 200_000_000  # all channels together, 1.6 GB as float64: half an hour of two at 48 kHz
_BLOCK = 4096  # frames: so much is lost at most where something compressed is damaged
_STREAM_BLOCK = 1 << 17  # frames
_HASH_BLOCK = 1 << 20
_PLACEHOLDER = 0x7FFFFFFF  # a length as large as this was never filled in by whoever streamed the file

_SHOULD_BE = re.compile(r"^\s*(?:data|Data Size|SSND|riff)\s*:\s*(\d+)\s*\(should be (\d+)\)", re.MULTILINE)
_UNLIKE_DS64 = re.compile(r"frame count (\d+) does not match value from 'ds64' chunk of (\d+)")
_NOT_CLOSED = "wasn't closed properly"
_CAF_DATA = re.compile(r"^data : (\d+)", re.MULTILINE)
_CAF_PACKET = re.compile(r"^\s*Bytes / packet\s*: (\d+)", re.MULTILINE)
_WHOLE_NUMBERS = ("PCM_", "ALAC_")
_FLOATS = {"FLOAT": "float32", "DOUBLE": "float64"}
_CAF_EDIT_COUNT = 4  # bytes that stand before the samples in a CAF data chunk


@dataclass(frozen=True)
class AudioHeader:
    """What the head of a file says; `frames` is what is there, so far as that shows without decoding."""

    rate: int
    channels: int
    frames: int
    format: str
    subtype: str
    truncated: bool


@dataclass(frozen=True)
class Part:
    """A part of a file that was read: seconds from its beginning, and how long the whole is."""

    start_s: float
    stop_s: float
    whole_s: float


@dataclass(frozen=True, eq=False)
class Audio:
    """What was read: `samples` float64 (frames, channels), `rate` in Hz; without `part` it is all of it."""

    samples: npt.NDArray[np.float64]
    rate: int
    format: str
    subtype: str
    truncated: bool
    part: Part | None = None

    @property
    def channels(self) -> int:
        """How many inputs were recorded."""
        return int(self.samples.shape[1])


@dataclass(frozen=True, eq=False)
class Stretch:
    """Some frames of a file, (frames, channels), as they are stored.

    int32 with the stored bits uppermost for whole numbers, float32 or float64 for floats, float64 for what is
    compressed with loss.
    """

    samples: npt.NDArray[np.int32] | npt.NDArray[np.float32] | npt.NDArray[np.float64]
    rate: int
    subtype: str


def probe(path: str | PathLike[str]) -> AudioHeader:
    """Read the head of an audio file, and of a compressed one also whether its end is there.

    Raises
    ------
    UnreadableError
        No such file, no audio, a rate out of range, or no sound in it.

    """
    with _open(path) as file:
        header = _header(file, path)
        if header.truncated or file.format not in ("FLAC", "OGG"):
            return header
        return AudioHeader(**{**vars(header), "truncated": not _end_can_be_read(file)})


def read_audio(path: str | PathLike[str]) -> Audio:
    """Read a whole audio file.

    Raises
    ------
    UnreadableError
        No such file, no audio, a rate out of range, no sound in it, too long, or NaN or infinity in it.

    """
    with _open(path) as file:
        header = _header(file, path)
        samples, whole = _decode(file, path)
    if not len(samples):
        raise UnreadableError(path, "no sound")
    _require_finite(samples, path)
    return Audio(
        samples=samples,
        rate=header.rate,
        format=header.format,
        subtype=header.subtype,
        truncated=header.truncated or not whole,
    )


def read_part(path: str | PathLike[str], *, start: int, frames: int) -> Audio:
    """Read at most `frames` frames from the frame `start` on.

    Raises
    ------
    UnreadableError
        No such file, no audio, a rate out of range, no sound there, or NaN or infinity in it.

    """
    with _open(path) as file:
        header = _header(file, path)
        try:
            file.seek(start)
            samples = file.read(frames, dtype="float64", always_2d=True)
        except (sf.SoundFileError, ValueError):
            samples = np.zeros((0, header.channels))
    if not len(samples):
        raise UnreadableError(path, "no sound")
    _require_finite(samples, path, before=start)
    part = Part(start / header.rate, (start + len(samples)) / header.rate, header.frames / header.rate)
    return Audio(samples, header.rate, header.format, header.subtype, header.truncated, part)


def audio_blocks(
    path: str | PathLike[str], *, frames: int = _STREAM_BLOCK
) -> Iterator[npt.NDArray[np.float32]]:
    """Read an audio file block by block, (frames, channels) each, as many channels as it has.

    Raises
    ------
    UnreadableError
        No such file, no audio, a rate out of range, no sound in it, cut short, or NaN or infinity in it.

    """
    head = probe(path)
    if head.truncated:
        raise UnreadableError(path, "cut short", f"{head.frames / head.rate:.1f}")
    with _open(path) as file:
        read = 0
        while read < head.frames:
            try:
                block = file.read(frames, dtype="float32", always_2d=True)
            except sf.SoundFileError:
                block = np.zeros((0, head.channels), dtype=np.float32)
            if not len(block):
                raise UnreadableError(path, "cut short", f"{read / head.rate:.1f}")
            _require_finite(block, path, before=read)
            read += len(block)
            yield block


def read_stretch(path: str | PathLike[str], *, start: int, stop: int) -> Stretch:
    """Read the frames from `start` to before `stop`, exactly as they are stored.

    Raises
    ------
    UnreadableError
        The file cannot be read, or holds fewer frames.

    """
    with _open(path) as file:
        header = _header(file, path)
        subtype = header.subtype
        kind = "int32" if subtype.startswith(_WHOLE_NUMBERS) else _FLOATS.get(subtype, "float64")
        try:
            file.seek(start)
            samples = file.read(stop - start, dtype=kind, always_2d=True)
        except (sf.SoundFileError, ValueError):
            samples = np.zeros((0, header.channels))
    if len(samples) < stop - start:
        raise UnreadableError(path, "cut short", f"{(start + len(samples)) / header.rate:.1f}")
    return Stretch(samples=samples, rate=header.rate, subtype=subtype)


def sha256_of(path: str | PathLike[str]) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits.

    Raises
    ------
    UnreadableError
        The file cannot be read.

    """
    digest = hashlib.sha256()
    try:
        with open_plain(Path(path), through_links=True) as stream:
            while block := stream.read(_HASH_BLOCK):
                digest.update(block)
    except (OSError, ValueError) as error:
        raise UnreadableError(path, "not readable", getattr(error, "strerror", None) or error) from None
    return digest.hexdigest()


_CHATTY = (".mp3", ".mp2", ".mpg")
"""What decodes these writes of its own about every frame that is damaged."""


def _open(path: str | PathLike[str]) -> sf.SoundFile:
    place = Path(path)
    try:
        if place.is_dir():
            raise UnreadableError(path, "is a folder")
        with open_plain(place, through_links=True) as stream:
            head = stream.read(1)
    except (FileNotFoundError, NotADirectoryError):
        raise UnreadableError(path, "no such file") from None
    except OSError as error:
        raise UnreadableError(path, "not readable", error.strerror) from None
    if not head:
        raise UnreadableError(path, "empty")
    try:
        with quiet_stderr() if place.suffix.lower() in _CHATTY else nullcontext():
            return sf.SoundFile(str(place))
    except (sf.SoundFileError, TypeError, ValueError):
        raise UnreadableError(path, "no audio") from None


def _header(file: sf.SoundFile, path: str | PathLike[str]) -> AudioHeader:
    if not LOWEST_RATE <= file.samplerate <= HIGHEST_RATE:
        raise UnreadableError(path, "rate out of range", file.samplerate)
    if file.frames <= 0:
        raise UnreadableError(path, "no sound")
    return AudioHeader(
        rate=int(file.samplerate),
        channels=int(file.channels),
        frames=int(file.frames),
        format=str(file.format),
        subtype=str(file.subtype),
        truncated=_is_cut_short(file),
    )


def _require_finite(samples: npt.NDArray[np.floating], path: str | PathLike[str], *, before: int = 0) -> None:
    if not np.isfinite(samples).all():
        frame = before + int(np.argmin(np.isfinite(samples).all(axis=1)))
        raise UnreadableError(path, "no numbers", frame)


def _is_cut_short(file: sf.SoundFile) -> bool:
    """Whether the head speaks of more than the file holds, or was never finished."""
    info = file.extra_info
    for promised, there in (map(int, pair) for pair in _SHOULD_BE.findall(info)):
        if there < promised < _PLACEHOLDER:
            return True
    for there, promised in (map(int, pair) for pair in _UNLIKE_DS64.findall(info)):
        if there < promised:
            return True
    if file.format == "CAF":
        data, packet = _CAF_DATA.search(info), _CAF_PACKET.search(info)
        if data and packet and file.frames * int(packet.group(1)) + _CAF_EDIT_COUNT < int(data.group(1)):
            return True
    return _NOT_CLOSED in info


def _end_can_be_read(file: sf.SoundFile) -> bool:
    try:
        file.seek(file.frames - 1)
        return len(file.read(1, dtype="float64")) == 1
    except (sf.SoundFileError, ValueError):
        return False


def _decode(file: sf.SoundFile, path: str | PathLike[str]) -> tuple[npt.NDArray[np.float64], bool]:
    """Return what can be decoded, and whether that is all that the head promises."""
    blocks: list[npt.NDArray[np.float64]] = []
    frames, whole = 0, True
    as_it_stands = file.format != "FLAC" and file.subtype.startswith(("PCM_", *_FLOATS))
    size = _STREAM_BLOCK if as_it_stands else _BLOCK
    while whole:
        try:
            block = file.read(size, dtype="float64", always_2d=True)
        except sf.SoundFileError:
            whole = False
            break
        if not len(block):
            break
        blocks.append(block)
        frames += len(block)
        if frames * file.channels > MOST_SAMPLES:
            raise UnreadableError(path, "too long")
    whole = whole and frames >= file.frames
    return (np.concatenate(blocks) if blocks else np.zeros((0, file.channels))), whole


_WHOLE, _FLOAT = 1, 3  # format tags of the fmt chunk
_BITS_24 = 24
_BITS_32 = 32


def wav_bytes(stretch: Stretch) -> bytes:
    """Return the WAV file that holds `stretch`."""
    samples = stretch.samples
    frames, channels = samples.shape
    if samples.dtype.kind == "i":
        tag, bits = _WHOLE, _BITS_32 if stretch.subtype.endswith("_32") else _BITS_24
        data = _pcm_bytes(samples.astype(np.int32), bits)
    elif stretch.subtype in ("FLOAT", "DOUBLE"):
        tag, bits = _FLOAT, 8 * samples.dtype.itemsize
        data = samples.astype(samples.dtype.newbyteorder("<")).tobytes()
    else:
        tag, bits = _WHOLE, _BITS_24
        full = 1 << 23
        rounded = np.clip(np.round(samples.astype(np.float64) * full), -full, full - 1)
        data = _pcm_bytes(rounded.astype(np.int32) << 8, bits)
    frame_bytes = channels * bits // 8
    head = struct.pack("<HHIIHH", tag, channels, stretch.rate, stretch.rate * frame_bytes, frame_bytes, bits)
    chunks = _chunk(b"fmt ", head if tag == _WHOLE else head + struct.pack("<H", 0))
    if tag == _FLOAT:
        chunks += _chunk(b"fact", struct.pack("<I", frames))
    return _chunk(b"RIFF", b"WAVE" + chunks + _chunk(b"data", data))


def _pcm_bytes(samples: npt.NDArray[np.int32], bits: int) -> bytes:
    """Little-endian whole numbers; the stored bits stand uppermost in `samples`."""
    if bits == _BITS_32:
        return samples.astype("<i4").tobytes()
    each = (samples >> 8).astype("<i4").reshape(-1, 1).view(np.uint8)
    return each[:, :3].tobytes()


def _chunk(name: bytes, held: bytes) -> bytes:
    return name + struct.pack("<I", len(held)) + held + b"\0" * (len(held) % 2)
