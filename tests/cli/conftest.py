import sys
from pathlib import Path

# journals with records are written down once, beside the tests of seasons
sys.path.append(str(Path(__file__).parents[1] / "season"))
