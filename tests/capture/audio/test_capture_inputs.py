"""Which input is meant: by number, by name, or by what is most like a two-input box."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sound_parts import LAPTOP, device

from capture.audio.devices import DeviceError, InputDevice, device_label, pick_device
from capture.audio.streams import (
    choose_input,
    choose_output,
    list_inputs,
)


def test_the_list_has_inputs_alone(fake):
    assert [(d.number, d.channels) for d in list_inputs()] == [
        (0, 2),
        (1, 2),
        (2, 8),
        (3, 2),
        (4, 32),
        (5, 32),
    ]
    assert list_inputs()[1] == InputDevice(1, "Two In Box: USB Audio (hw:1,0)", 2, 44_100, "ALSA")
    assert device_label(list_inputs()[1]) == "1: Two In Box: USB Audio (hw:1,0) (2 channels, 44100 Hz, ALSA)"


def test_without_a_word_it_is_the_two_input_box(fake):
    assert choose_input().number == 1


@pytest.mark.parametrize(
    ("kept", "number"),
    [
        ([0, 2, 4, 5], 2),  # eight inputs rather than the laptop's own two
        ([0, 3, 4, 5], 0),  # hardware rather than what only looks like it
        ([3, 4, 5], 3),  # two channels among what is no hardware
        ([4, 5], 5),  # the system's own
    ],
)
def test_without_a_box_it_is_what_is_most_like_one(fake, kept, number):
    fake.devices = [d if i in kept else {**d, "max_input_channels": 0} for i, d in enumerate(LAPTOP)]
    assert choose_input().number == number


def test_of_two_boxes_one_must_be_named(fake):
    fake.devices[2] = device("Other Box: USB Audio (hw:2,0)")
    with pytest.raises(
        DeviceError, match=r"several inputs would do; .*1: Two In Box.*; 2: Other Box"
    ) as said:
        choose_input()
    assert "pulse" not in str(said.value)
    fake.hosts[0]["default_input_device"] = 2
    assert choose_input().number == 2


@pytest.mark.parametrize(
    ("word", "number"), [("0", 0), (" 2 ", 2), ("box", 1), ("EIGHT usb", 2), ("default", 5), ("hw:1", 1)]
)
def test_a_number_or_a_part_of_a_name(fake, word, number):
    assert choose_input(word).number == number


def test_a_whole_name_is_meant_though_it_is_part_of_another(fake):
    fake.devices += [device("Box"), device("Box two")]
    assert choose_input("box").number == 7


def test_an_ambiguous_name_lists_what_fits(fake):
    with pytest.raises(DeviceError, match=r'"usb" fits several inputs; say the number: 1: .*; 2: ') as said:
        choose_input("usb")
    assert "HDA" not in str(said.value)


@pytest.mark.parametrize("word", ["9", "6", "microphone", "", "-1", "²"])
def test_a_name_that_fits_nothing_lists_what_there_is(fake, word):
    with pytest.raises(DeviceError, match=r"no input is called .*there is 0: HDA.*5: default"):
        choose_input(word)


def test_no_input_at_all(fake):
    fake.devices, fake.hosts = [], []
    for word in (None, "box"):
        with pytest.raises(DeviceError, match="there is no audio input here; plug the interface in"):
            choose_input(word)


HOSTS = ["MME", "Windows DirectSound", "Windows WASAPI", "Windows WDM-KS"]


@pytest.mark.parametrize("word", [None, "line"])
def test_one_box_under_four_hosts_is_one(word):
    """One system lists each device once a host, and cuts the name under the oldest to 31 characters."""
    name = "Line (1-2) of a box with a very long name"
    listed = [
        InputDevice(0, "Sound Mapper - Input", 2, 44_100, "MME", True),
        *(InputDevice(n, name[: 31 if n == 1 else None], 2, 48_000, h) for n, h in enumerate(HOSTS, 1)),
        InputDevice(8, "Microphone (built-in)", 2, 48_000, "Windows WASAPI"),
    ]
    assert pick_device(listed, word).host == "Windows WASAPI"


@given(st.permutations(range(len(LAPTOP) - 1)))
def test_the_order_of_the_list_does_not_matter(order):
    listed = [
        InputDevice(n, d["name"], d["max_input_channels"], 48_000, "ALSA", n == 5)
        for n, d in enumerate(LAPTOP[:-1])
    ]
    assert pick_device([listed[n] for n in order], None).number == 1


def test_outputs(fake):
    assert choose_output().name == "speakers only"
    assert choose_output("box").channels == 2
    fake.hosts[0]["default_output_device"], fake.devices = -1, LAPTOP[:-1]
    assert choose_output().number == 1
