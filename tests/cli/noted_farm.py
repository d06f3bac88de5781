"""The farm file that belongs to the small plan of the journal's tests, for the commands that take notes."""

from journal_cases import FARM

BEDS = ("Lower field", "Upper field", "Far field")
TEXT = f"""
[farm]
name = "{FARM}"
latitude = 54.0
longitude = 8.8
timezone = "Europe/Berlin"

[climate]
lows = [0, 0, 2, 4, 8, 11, 13, 13, 10, 7, 4, 1]
highs = [4, 5, 8, 13, 17, 20, 22, 22, 18, 13, 8, 5]

[[vessels]]
name = "drum"
volume = "180 L"
""" + "".join(
    f'\n[[beds]]\nname = "{bed}"\narea = "40 m2"\nprogram = "weekly"\nplanting = 2027-04-28\n' for bed in BEDS
)
