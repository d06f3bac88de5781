import sys
from pathlib import Path

for folder in ("season", "calendar_out"):
    sys.path.append(str(Path(__file__).parents[1] / folder))
