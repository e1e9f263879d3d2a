"""The verbs: one function for each thing a user does."""
