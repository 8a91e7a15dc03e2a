"""The job folders of the judging tests are written here too."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "judging"))
