import sys
from pathlib import Path

# small farms are written down once, beside the tests of the planner
sys.path.append(str(Path(__file__).parents[1] / "planning"))
