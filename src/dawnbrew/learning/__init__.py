"""What noted batches teach about ripening and vessels; pure."""
