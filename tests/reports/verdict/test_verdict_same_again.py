"""The same job gives the same verdict, whatever order a process keeps its sets in."""

import os
import subprocess
import sys

from judging_jobs import LEADS, JobOnDisk

PROGRAM = "from reports.cli import main; main()"


def test_the_advice_does_not_change_from_run_to_run(tmp_path):
    """Several mistakes explain the doubt equally well here: always the same one is named."""
    job = JobOnDisk(tmp_path / "job", LEADS)
    job.log("meter", pickup="bridge", move="away", reading="rises", red="hot")
    job.log("meter", pickup="neck", move="away", reading="falls", red="hot")
    said = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM, "verdict", str(job.home)],
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
            capture_output=True,
            text=True,
            check=False,
        ).stdout
        for seed in range(1, 5)
    }
    assert len(said) == 1
    assert "likely" in next(iter(said))
