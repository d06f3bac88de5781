"""One process that stays: the alarm clock of a season."""
