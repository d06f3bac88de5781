"""How the planner's question is answered: laws, model, cuts, splitting and search."""
