"""What nature does, as numbers in and numbers out."""
