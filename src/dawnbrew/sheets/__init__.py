"""The plan and the log on paper, black on white; pure."""
