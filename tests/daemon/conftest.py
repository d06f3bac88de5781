import sys
from pathlib import Path

# servers on loopback and small farms are written down once, beside the tests of channels, seasons and weather
sys.path.append(str(Path(__file__).parents[1] / "delivery"))
sys.path.append(str(Path(__file__).parents[1] / "season"))
sys.path.append(str(Path(__file__).parents[1] / "weather"))
sys.path.append(str(Path(__file__).parents[1] / "planning"))
