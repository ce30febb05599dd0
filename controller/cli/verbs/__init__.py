"""The verbs: what a person types, arranged by job."""
