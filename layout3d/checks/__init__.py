"""The rules, and what runs them."""
