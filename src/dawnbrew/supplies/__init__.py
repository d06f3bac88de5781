"""What must be there for the brews of a plan: what they take, what is on hand, what to get by when."""
