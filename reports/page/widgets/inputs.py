"""Level bars for every screen that listens, and the choice of the input on the page.

Some twenty times a second only widths and figures of the bars change (page.js); nothing is built anew.
`InputChoices` maps the word of each option to its label; the word is what `choose_input` understands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from types import MappingProxyType

from nicegui import ui

from capture.audio.devices import DeviceError, InputDevice, SoundMissingError, device_label, pick_device
from capture.audio.streams import list_inputs
from reports.messages import page as words
from reports.messages.wording import plain
from reports.page.widgets.view import View

LOWEST_DB = -80.0


class LevelBars:
    """The bars, where it is built."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._names: list[str] = []
        self._bars = ui.html(sanitize=False).classes("levels")

    def show(self, names: Sequence[str], levels: Sequence[float]) -> None:
        """Show the level of each input beside its name; no bars where there are no levels."""
        if list(names) != self._names:
            self._names = list(names)
            self._bars.set_content(bars_html(names))
        if levels:
            figures = ",".join(f"{max(LOWEST_DB, db):.1f}" for db in levels)
            self._view.client.run_javascript(f"coilwiseLevels([{figures}])")


def bars_html(names: Sequence[str]) -> str:
    """Return one empty bar a name."""
    return "".join(
        f'<div class="level" role="meter" aria-label="{escape(plain(n))}" aria-valuemin="{LOWEST_DB:.0f}" '
        f'aria-valuemax="0" aria-valuenow="{LOWEST_DB:.0f}"><span class="name">{escape(plain(n))}</span>'
        '<span class="track"><span class="fill"></span></span><span class="figure"></span></div>'
        for n in names
    )


AUTOMATIC = ""


@dataclass(frozen=True)
class InputChoices:
    """What can be chosen, by the word that means it, and one sentence about it."""

    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    sentence: str = ""
    any: bool = False
    devices: tuple[InputDevice, ...] = ()

    def option_for(self, source: str | None) -> str:
        """Return which of the options ``source`` means; itself where it means none of them."""
        if source is None:
            return AUTOMATIC
        try:
            return str(pick_device(self.devices, source).number)
        except DeviceError:
            return source

    def options_with(self, word: str) -> dict[str, str]:
        """Return the options, and ``word`` among them though nothing is called so."""
        return dict(self.options) | (
            {} if word in self.options else {word: words.INPUT_NOT_THERE.format(word=plain(word))}
        )


def list_choices() -> InputChoices:
    """Ask the audio system; slow the first time. Nothing is refused: what is wrong is said."""
    try:
        devices = list_inputs()
    except SoundMissingError as error:
        return InputChoices({AUTOMATIC: words.NO_INPUT}, words.NO_SOUND.format(why=plain(str(error))))
    return input_choices(devices)


def input_choices(devices: tuple[InputDevice, ...]) -> InputChoices:
    """Return what can be chosen from these."""
    if not devices:
        return InputChoices({AUTOMATIC: words.NO_INPUT}, words.NO_INPUTS)
    try:
        taken = words.INPUT_TAKEN.format(input=plain(device_label(pick_device(devices, None))))
    except DeviceError:
        taken = words.INPUT_NONE_TAKEN
    listed = {str(device.number): plain(device_label(device)) for device in devices}
    says = words.INPUTS_THERE.format(count=len(devices))
    return InputChoices(MappingProxyType({AUTOMATIC: taken, **listed}), says, True, devices)
