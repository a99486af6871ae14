"""The set-up builder's tools beyond one complaint: compare, package, carry over, start, the small ones.
Pure."""
