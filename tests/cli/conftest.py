import sys
from pathlib import Path

# journals with records are written down once, beside the tests of seasons
sys.path.append(str(Path(__file__).parents[1] / "season"))

# weather as departures from the usual, beside the tests of planning
sys.path.append(str(Path(__file__).parents[1] / "planning"))
