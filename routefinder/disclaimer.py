"""The sentence that every output bears: one constant, used by text, files, pictures and data."""

DISCLAIMER = (
    "This is information to compare routes, not permission and not an assurance of safety: "
    "local rules and qualified supervision decide."
)
