"""The form for entering a study: what is typed (model) and what is shown (widgets)."""
