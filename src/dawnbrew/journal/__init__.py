"""What really happened on a farm and the plans that were made for it, in one SQLite file."""
