"""One running farm: load its file and plan it."""
