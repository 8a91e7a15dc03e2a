"""One BLAS thread a worker: many short fits on two cores are ten times slower with threads that spin."""

import pytest
from hypothesis import settings
from threadpoolctl import threadpool_limits

settings.register_profile("dsp", derandomize=True, deadline=None, max_examples=12)


@pytest.fixture(autouse=True, scope="session")
def one_thread_each():
    with threadpool_limits(limits=1, user_api="blas"):
        yield
