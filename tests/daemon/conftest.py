import sys
from pathlib import Path

# servers on loopback and a small farm are written down once, beside the tests of channels and seasons
sys.path.append(str(Path(__file__).parents[1] / "delivery"))
sys.path.append(str(Path(__file__).parents[1] / "season"))
