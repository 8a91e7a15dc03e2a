"""Recordings that many tests of reports judge are heard once, by whichever worker comes first."""

import pytest


@pytest.fixture(scope="session")
def heard_before(tmp_path_factory):
    """A cache of takes for this run alone; the workers of one run share it."""
    base = tmp_path_factory.getbasetemp()
    place = (base.parent if base.name.startswith("popen-") else base) / "heard"
    place.mkdir(exist_ok=True)
    return place


@pytest.fixture(autouse=True)
def each_take_is_heard_once(heard_before, monkeypatch):
    monkeypatch.setenv("COILWISE_CACHE", str(heard_before))
