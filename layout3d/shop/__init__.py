"""Lists and templates for the build."""
