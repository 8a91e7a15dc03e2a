"""Which input is recorded from, as a choice on the page.

Task: from the inputs that the audio system lists to what a person chooses from, and back to the word that
`choose_input` understands. Units: Hz. Signs: none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from capture.inputs import chosen
from capture.sound import InputDevice, NoSuchInputError, SoundMissingError, list_inputs, shown
from reports.page import page_words as words
from reports.words import plain

BY_ITSELF = ""


@dataclass(frozen=True)
class InputsThere:
    """What can be chosen, by the word that means it, and one sentence about it."""

    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    says: str = ""
    any: bool = False
    devices: tuple[InputDevice, ...] = ()

    def word_of(self, source: str | None) -> str:
        """Return which of the options ``source`` means; itself where it means none of them."""
        if source is None:
            return BY_ITSELF
        try:
            return str(chosen(self.devices, source).number)
        except NoSuchInputError:
            return source

    def with_word(self, word: str) -> dict[str, str]:
        """Return the options, and ``word`` among them though nothing is called so."""
        return dict(self.options) | (
            {} if word in self.options else {word: words.INPUT_NOT_THERE.format(word=plain(word))}
        )


def look_at_inputs() -> InputsThere:
    """Ask the audio system; slow the first time. Nothing is refused: what is wrong is said."""
    try:
        devices = list_inputs()
    except SoundMissingError as error:
        return InputsThere({BY_ITSELF: words.NO_INPUT}, words.NO_SOUND.format(why=plain(str(error))))
    return inputs_among(devices)


def inputs_among(devices: tuple[InputDevice, ...]) -> InputsThere:
    """Return what can be chosen from these."""
    if not devices:
        return InputsThere({BY_ITSELF: words.NO_INPUT}, words.NO_INPUTS)
    try:
        taken = words.INPUT_TAKEN.format(input=plain(shown(chosen(devices, None))))
    except NoSuchInputError:
        taken = words.INPUT_NONE_TAKEN
    listed = {str(device.number): plain(shown(device)) for device in devices}
    says = words.INPUTS_THERE.format(count=len(devices))
    return InputsThere(MappingProxyType({BY_ITSELF: taken, **listed}), says, True, devices)
