"""Sentences that every output shares."""

DISCLAIMER = (
    "This is information to compare routes, not permission and not an assurance of safety: "
    "local rules and qualified supervision decide."
)
