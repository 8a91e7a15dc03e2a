"""For every test: one thread for linear algebra, since pytest already runs on all cores."""

import os

for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
