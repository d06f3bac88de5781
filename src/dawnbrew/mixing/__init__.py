"""How each treatment is mixed with the gear at hand, step by step; pure."""
