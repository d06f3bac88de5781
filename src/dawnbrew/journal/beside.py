"""Where the journal of a farm file lies."""

from pathlib import Path


def journal_path(farm_file: Path) -> Path:
    """Return where the journal of a farm file is: `farm.journal.db` beside `farm.toml`."""
    return farm_file.with_name(f"{farm_file.stem}.journal.db")
