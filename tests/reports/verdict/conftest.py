"""One BLAS thread a worker; the simulated recordings are made once."""

import pytest
from judging_jobs import Recordings, recorded
from threadpoolctl import threadpool_limits


@pytest.fixture(autouse=True, scope="session")
def one_thread_each():
    with threadpool_limits(limits=1, user_api="blas"):
        yield


@pytest.fixture(scope="session")
def opposed() -> Recordings:
    """A bench whose two pickups are out of phase, by construction."""
    return recorded(in_phase=False)


@pytest.fixture(scope="session")
def agreeing() -> Recordings:
    """A bench whose two pickups are in phase, by construction."""
    return recorded(in_phase=True)


@pytest.fixture(params=["in phase", "out of phase"], scope="session")
def sounds(request) -> Recordings:
    """Both benches, one after the other."""
    return recorded(in_phase=request.param == "in phase")
