"""What the grower declares: the models of a farm and the reading of farm.toml."""
