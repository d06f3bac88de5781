"""Which message calls whom to a task, when, and in which words."""
