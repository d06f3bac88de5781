"""How a nudge reaches people: channels."""
